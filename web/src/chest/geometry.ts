// From places on the body (proportions, as in data/sites.toml) to places on the drawing (cm) and back.
// The drawing's proportions are ours; the coordinates' meaning is that of src/exam/types.h.

import { type Aspect, aspectLabel as aspectName, aspects, type Sex } from '../generated/bedside';
export { type Aspect, aspectName, aspects };

export interface Place {
  aspect: Aspect;
  u: number;
  v: number;
}
export interface Point {
  x: number;
  y: number;
}

export interface Body {
  ageYears: number;
  sex: Sex;
  heightCm: number;
  weightKg: number;
  muscle: number; // 0 slight .. 1 very muscular
  halfBreadthCm: number;
  depthCm: number;
  lungHeightCm: number;
}

export const grownWoman: Body = {
  ageYears: 40,
  sex: 'female',
  heightCm: 165,
  weightKg: 65,
  muscle: 0.3,
  halfBreadthCm: 14,
  depthCm: 21,
  lungHeightCm: 24,
};

// 0 for a lean build, 1 for a very heavy one; an infant's body-mass index runs lower.
export function stoutness(body: Body): number {
  const metres = body.heightCm / 100;
  const index = body.weightKg / (metres * metres);
  const lean = body.ageYears < 12 ? 16 : 22;
  return Math.min(1, Math.max(0, (index - lean) / 18));
}
export const leanness = (body: Body): number => {
  const metres = body.heightCm / 100;
  return Math.min(1, Math.max(0, (21 - body.weightKg / (metres * metres)) / 5));
};
// 1 at birth, 0 from about eight years on: short neck, round chest, full belly.
export const babyness = (body: Body): number => Math.min(1, Math.max(0, 1 - body.ageYears / 8));

// Suprasternal notch to nipple line, and C7 to T12.
export const frontUnit = (body: Body): number => body.lungHeightCm * 0.72;
export const backUnit = (body: Body): number => body.lungHeightCm * 1.28;

export function toPoint(body: Body, place: Place): Point {
  const b = body.halfBreadthCm;
  switch (place.aspect) {
    case 'front':
    case 'neck':
      return { x: place.u * b, y: place.v * frontUnit(body) };
    case 'back':
      return { x: -place.u * b, y: place.v * backUnit(body) };
    case 'right_side':
      return { x: -place.u * body.depthCm / 2, y: place.v * frontUnit(body) };
    case 'left_side':
      return { x: place.u * body.depthCm / 2, y: place.v * frontUnit(body) };
  }
}

export function toPlace(body: Body, aspect: Aspect, point: Point): Place {
  const b = body.halfBreadthCm;
  switch (aspect) {
    case 'front':
    case 'neck':
      return { aspect, u: point.x / b, v: point.y / frontUnit(body) };
    case 'back':
      return { aspect, u: -point.x / b, v: point.y / backUnit(body) };
    case 'right_side':
      return { aspect, u: -point.x / (body.depthCm / 2), v: point.y / frontUnit(body) };
    case 'left_side':
      return { aspect, u: point.x / (body.depthCm / 2), v: point.y / frontUnit(body) };
  }
}

interface Limits {
  u: [number, number];
  v: [number, number];
}
const limits: Record<Aspect, Limits> = {
  front: { u: [-1.05, 1.05], v: [-0.22, 1.7] },
  back: { u: [-1.05, 1.05], v: [-0.08, 1.12] },
  right_side: { u: [-0.95, 0.95], v: [0.4, 1.7] },
  left_side: { u: [-0.95, 0.95], v: [0.4, 1.7] },
  neck: { u: [-0.4, 0.4], v: [-0.62, 0.1] },
};
const within = (value: number, [low, high]: [number, number]) => Math.min(high, Math.max(low, value));

// The nearest place that is still on the skin of this aspect.
export function onSkin(place: Place): Place {
  const limit = limits[place.aspect];
  return { aspect: place.aspect, u: within(place.u, limit.u), v: within(place.v, limit.v) };
}

// The same place on the other side: compare left with right by one key.
export function mirrored(place: Place): Place {
  if (place.aspect === 'right_side') return { ...place, aspect: 'left_side' };
  if (place.aspect === 'left_side') return { ...place, aspect: 'right_side' };
  return { ...place, u: -place.u };
}

// What the server gives for the projector (docs/openapi.json, Show).
import type { Site } from '../chest/landmarks';
import type { Manoeuvre, Sex, Side } from '../generated/bedside';
import { getJson } from '../lib/api';

export interface ShowSound {
  id: string;
  name: string;
  mechanism: string;
  listen: string;
  source: string;
  status: string;
  sound: string; // the truth that it must hold; empty where silence is the point
  site_id: string;
  manoeuvre: Manoeuvre;
  is_tapped: boolean;
  seconds: number;
  age_years: number;
  where: string;
  means: string;
  look_alike: string;
  apart: string;
  words_source: string;
  words_status: string;
  treatment: { id: string; side: Side; minutes: number } | null;
}
export interface Shown {
  sounds: ShowSound[];
  builds: { id: string; label: string; weight_factor: number; muscle: number | null; is_compared: boolean }[];
  sizes: ({ age_years: number } & Record<Sex, { height_cm: number; weight_kg: number }>)[];
  usual_muscle: number;
  seed: number; // of every body on the projector, as of the specimens elsewhere
  lessons: { id: string; text: string }[];
  sites: Site[];
  treatments: { id: string; label: string; protocol: string }[];
}

let loading: Promise<Shown> | null = null;
export function loadShow(): Promise<Shown> {
  loading ??= Promise.all([
    getJson<Omit<Shown, 'sites' | 'treatments'>>('show'),
    getJson<{ sites: Site[] }>('sites'),
    getJson<Pick<Shown, 'treatments'>>('treatments'),
  ]).then(([show, { sites }, { treatments }]) => ({ ...show, sites, treatments })).catch((error: Error) => {
    loading = null;
    throw error;
  });
  return loading;
}

export const soundOf = (shown: Shown, id: string): ShowSound => {
  const found = shown.sounds.find((one) => one.id === id);
  if (!found) throw new Error(`There is no sound “${id}”. The page of all sounds lists what there is.`);
  return found;
};
// How sure the words are: what is from memory or our own choice is never shown as published.
export const sourceWords = (source: string, status: string): string =>
  status === 'verified'
    ? source
    : status === 'engineering'
    ? `${source}; in part our choice`
    : source.includes('from memory')
    ? source
    : `${source}, from memory`;

// Bodies to show where no patient is given: ages and builds that differ.
import { type Body, grownWoman } from './geometry';

export const builds: { name: string; body: Body }[] = [
  { name: 'Woman of 40', body: grownWoman },
  { name: 'Infant',
    body: { ageYears: 0.5, sex: 'male', heightCm: 67, weightKg: 8, muscle: 0.2, halfBreadthCm: 6.2, depthCm: 11,
      lungHeightCm: 9.5 } },
  { name: 'Child of 6',
    body: { ageYears: 6, sex: 'female', heightCm: 117, weightKg: 21, muscle: 0.2, halfBreadthCm: 9, depthCm: 14,
      lungHeightCm: 15 } },
  { name: 'Muscular man',
    body: { ageYears: 28, sex: 'male', heightCm: 182, weightKg: 88, muscle: 0.95, halfBreadthCm: 16.5, depthCm: 24,
      lungHeightCm: 27 } },
  { name: 'Heavy man',
    body: { ageYears: 52, sex: 'male', heightCm: 174, weightKg: 122, muscle: 0.3, halfBreadthCm: 17, depthCm: 30,
      lungHeightCm: 25 } },
  { name: 'Thin elder',
    body: { ageYears: 83, sex: 'male', heightCm: 168, weightKg: 52, muscle: 0.1, halfBreadthCm: 14, depthCm: 22,
      lungHeightCm: 25 } },
];

// The nearest of them, for a person of whom only age and sex are known.
export function bodyLike(ageYears: number, sex: 'female' | 'male'): Body {
  const [woman, infant, child, man] = [builds[0]!, builds[1]!, builds[2]!, builds[5]!];
  const nearest = ageYears < 2 ? infant : ageYears < 13 ? child : sex === 'female' ? woman : man;
  return { ...nearest.body, ageYears, sex };
}

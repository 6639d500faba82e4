// The next half hour of a patient, unheard: the monitor every few minutes.
import { BedsideModule } from '../engine/module';
import type { Vitals } from '../generated/bedside';

export interface ToCourse {
  wasm: ArrayBuffer;
  packet: ArrayBuffer;
  turn: number;
}
export type FromCourse = { turn: number; minutes: number[]; vitals: Vitals[] } | { turn: number; trouble: string };
const kMinutes = [0, 5, 10, 15, 20, 25, 30];
const kSeed = 1, kRate_hz = 8000;

const scope = self as unknown as { onmessage: (event: MessageEvent<ToCourse>) => void;
  postMessage(message: FromCourse): void };
scope.onmessage = ({ data: { wasm, packet, turn } }) => {
  try {
    const bedside = BedsideModule.start(wasm);
    bedside.make({ wasm, packet, seed: kSeed, sites: [], history: [], untilS: 0 }, kRate_hz);
    const vitals = kMinutes.map((minute) => {
      bedside.runTo(60 * minute);
      return bedside.now().vitals;
    });
    scope.postMessage({ turn, minutes: kMinutes, vitals });
  } catch (error) {
    scope.postMessage({ turn, trouble: (error as Error).message });
  }
};

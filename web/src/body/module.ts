// The figure as the page sees it: C++ (src/app/figure) makes and moves the body; here its numbers are
// only fetched. Loaded once, after the first sound or when nothing else is waiting.
import type { Body, Place } from '../chest/geometry';
import { aspects as aspectsInOrder, type BodyPart, bodyParts } from '../generated/bedside';

interface Exports {
  memory: WebAssembly.Memory;
  _initialize(): void;
  figure_data_space(bytes: number): number;
  figure_load(): number;
  figure_error(): number;
  figure_make(ageYears: number, isMale: number, heightCm: number, weightKg: number, muscle: number): number;
  figure_vertex_count(): number;
  figure_index_count(): number;
  figure_indices(): number;
  figure_places(): number;
  figure_normals(): number;
  figure_rest(): number;
  figure_about(): number;
  figure_paint(): number;
  figure_seen(): number;
  figure_move(isKnown: number, armsForward: number, lying: number, plain: number): void;
  figure_looks(lying: number): number;
  figure_pick(x: number, y: number, z: number, dx: number, dy: number, dz: number): number;
  figure_part(x: number, y: number, z: number, dx: number, dy: number, dz: number): number;
  figure_skin(aspect: number, u: number, v: number): number;
  figure_watch(aspect: number, u: number, v: number): number;
  figure_forget(): void;
  figure_spots(): number;
  figure_frame(): number;
  figure_inside_make(): number;
  figure_inside_index_count(): number;
  figure_inside_indices(): number;
  figure_inside_places(): number;
  figure_inside_normals(): number;
  figure_inside_about(): number;
  figure_inside_pleura(): number;
}

export type Three = [number, number, number];
export interface OnSkin {
  place: Place;
  at: Three;
  normal: Three;
}
// As figure_frame() lists them, cm.
export interface Frame {
  crown: number;
  eyes: number;
  notch: number;
  nipples: number;
  xiphoid: number;
  navel: number;
  halfBreadth: number;
  halfDepth: number;
  ribsShow: number;
  eyeX: number;
  mouth: number;
  veinFrom: Three;
  veinTo: Three;
  hair: number;
  breast: number;
  grey: number;
}
export interface Looks {
  cyanosis: number;
  pallor: number;
  sweat: number;
  weals: number;
  swelling: number;
  veinTop: number;
  lids: number;
  pull: number;
  air: number;
  drool: number;
}
export interface Moved {
  seen: ArrayLike<number> | null; // what the engine tells the figure, or null: at rest
  armsForward: number;
  lying: number;
  plain: number;
}

export class Figure {
  constructor(private readonly wasm: Exports) {}

  make(body: Body): void {
    const { wasm } = this;
    if (wasm.figure_make(body.ageYears, body.sex === 'male' ? 1 : 0, body.heightCm, body.weightKg, body.muscle) !== 0) {
      throw new Error('The body could not be made: ' + this.text(wasm.figure_error()));
    }
  }

  get count(): number {
    return this.wasm.figure_vertex_count();
  }
  get indices(): Uint32Array {
    return new Uint32Array(this.wasm.memory.buffer, this.wasm.figure_indices(), this.wasm.figure_index_count()).slice();
  }
  get rest(): Float32Array {
    return this.floats(this.wasm.figure_rest(), 3 * this.count).slice();
  }
  get about(): Float32Array {
    return this.floats(this.wasm.figure_about(), 4 * this.count).slice();
  }
  get paint(): Uint8Array {
    return new Uint8Array(this.wasm.memory.buffer, this.wasm.figure_paint(), 8 * this.count).slice();
  }
  // Live views: good until the next move().
  get places(): Float32Array {
    return this.floats(this.wasm.figure_places(), 3 * this.count);
  }
  get normals(): Float32Array {
    return this.floats(this.wasm.figure_normals(), 3 * this.count);
  }

  move(to: Moved): void {
    const { wasm } = this;
    if (to.seen) this.doubles(wasm.figure_seen(), to.seen.length).set(to.seen);
    wasm.figure_move(to.seen ? 1 : 0, to.armsForward, to.lying, to.plain);
  }

  looks(lying: number): Looks {
    const n = this.doubles(this.wasm.figure_looks(lying), 10);
    return { cyanosis: n[0]!, pallor: n[1]!, sweat: n[2]!, weals: n[3]!, swelling: n[4]!, veinTop: n[5]!, lids: n[6]!,
      pull: n[7]!, air: n[8]!, drool: n[9]! };
  }

  get frame(): Frame {
    const n = this.doubles(this.wasm.figure_frame(), 20);
    return { crown: n[0]!, eyes: n[1]!, notch: n[2]!, nipples: n[3]!, xiphoid: n[4]!, navel: n[5]!, halfBreadth: n[6]!,
      halfDepth: n[7]!, ribsShow: n[8]!, eyeX: n[9]!, mouth: n[10]!, veinFrom: [n[11]!, n[12]!, n[13]!],
      veinTo: [n[14]!, n[15]!, n[16]!], hair: n[17]!, breast: n[18]!, grey: n[19]! };
  }

  // What a ray meets: null where that is neither chest nor neck.
  pick(from: Three, along: Three): OnSkin | null {
    return this.answer(this.wasm.figure_pick(...from, ...along));
  }
  // Which part of the person it meets: null beside the body.
  part(from: Three, along: Three): BodyPart | null {
    return bodyParts[this.wasm.figure_part(...from, ...along)] ?? null;
  }
  skin(place: Place): OnSkin | null {
    return this.answer(this.wasm.figure_skin(aspectsInOrder.indexOf(place.aspect), place.u, place.v));
  }

  // Places to be found at spots() after every move, in this order.
  watch(places: readonly Place[]): boolean[] {
    this.wasm.figure_forget();
    return places.map((one) => this.wasm.figure_watch(aspectsInOrder.indexOf(one.aspect), one.u, one.v) >= 0);
  }
  spots(count: number): Float32Array {
    return this.floats(this.wasm.figure_spots(), 6 * count);
  }

  // What lies under the skin; from the first call on it moves with the body.
  private insideCount = 0;
  makeInside(): { indices: Uint32Array; about: Float32Array } {
    const { wasm } = this;
    this.insideCount = wasm.figure_inside_make();
    return {
      indices: new Uint32Array(wasm.memory.buffer, wasm.figure_inside_indices(), wasm.figure_inside_index_count())
        .slice(),
      about: this.floats(wasm.figure_inside_about(), 3 * this.insideCount).slice(),
    };
  }
  get insidePlaces(): Float32Array {
    return this.floats(this.wasm.figure_inside_places(), 3 * this.insideCount);
  }
  get insideNormals(): Float32Array {
    return this.floats(this.wasm.figure_inside_normals(), 3 * this.insideCount);
  }
  // Fluid's height right and left, share of each pleural space without lung.
  get pleura(): Float64Array {
    return this.doubles(this.wasm.figure_inside_pleura(), 4);
  }

  private answer(at: number): OnSkin | null {
    if (at === 0) return null;
    const n = this.doubles(at, 9);
    return { place: { aspect: aspectsInOrder[n[0]!]!, u: n[1]!, v: n[2]! }, at: [n[3]!, n[4]!, n[5]!],
      normal: [n[6]!, n[7]!, n[8]!] };
  }
  private floats(at: number, length: number): Float32Array {
    return new Float32Array(this.wasm.memory.buffer, at, length);
  }
  private doubles(at: number, length: number): Float64Array {
    return new Float64Array(this.wasm.memory.buffer, at, length);
  }
  private text(at: number): string {
    const bytes = new Uint8Array(this.wasm.memory.buffer);
    return new TextDecoder().decode(bytes.subarray(at, bytes.indexOf(0, at)));
  }
}

async function bytesOf(path: string): Promise<ArrayBuffer> {
  const response = await fetch(path);
  if (!response.ok) throw new Error(`The body could not be loaded (${response.status}).`);
  return response.arrayBuffer();
}

// One instance per drawing: a figure is one person.
let fetching: Promise<[WebAssembly.Module, ArrayBuffer]> | null = null;
export async function loadFigure(): Promise<Figure> {
  fetching ??= Promise.all([bytesOf('/figure.wasm').then((bytes) => WebAssembly.compile(bytes)), bytesOf('/body.bin')])
    .catch((error: Error) => {
      fetching = null;
      throw error;
    });
  const [module, data] = await fetching;
  const imports: Record<string, Record<string, () => number>> = {};
  for (const { module: name, name: call } of WebAssembly.Module.imports(module)) {
    (imports[name] ??= {})[call] = () => 52;
  }
  const wasm = (await WebAssembly.instantiate(module, imports)).exports as unknown as Exports;
  wasm._initialize();
  const at = wasm.figure_data_space(data.byteLength);
  new Uint8Array(wasm.memory.buffer, at, data.byteLength).set(new Uint8Array(data));
  if (wasm.figure_load() !== 0) throw new Error('The body could not be read.');
  return new Figure(wasm);
}

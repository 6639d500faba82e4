// Draws a figure with WebGL: camera, skin, sites and chestpiece. Everything it shows was worked out by
// figure.wasm; here are only picture and view.
import { Camera, Geometry, Mesh, type OGLRenderingContext, Program, Renderer, Transform, Vec3 } from 'ogl';
import type { Place } from '../chest/geometry';
import type { BodyPart } from '../generated/bedside';
import type { Figure, Frame, Looks, OnSkin, Three } from './module';
import { discVertex, insideFragment, insideVertex, pieceFragment, siteFragment, skinFragment,
  skinVertex } from './shaders';
import { hairTone, skinTone } from './tones';

export type Layer = 'skin' | 'ribs' | 'lungs'; // what is looked at: the skin, or through it

export interface View {
  yaw: number; // radians; 0 from the front, +pi/2 the patient's left side
  pitch: number; // radians; from above positive
  zoom: number; // 1: head to hips
  up: number; // where a closer view looks: 0 the chest, 1 the face
}
export interface SiteRing extends Place {
  kind: 'plain' | 'heard' | 'marked';
}
export interface Drawn {
  view: View;
  isNight: boolean;
  tone: number; // of ten, light to dark
  layer: Layer;
  isClothed: boolean;
  looks: Looks;
  sites: readonly SiteRing[];
  piece: { isPressed: boolean; isBell: boolean; breath: number } | null; // the first watched place
  accent: Three;
}

const kLens_deg = 20;
const kCoarsest = 0.5; // pixels drawn a pixel of the page
const linear = (value: number) => Math.pow(value, 2.2);

function disc(gl: OGLRenderingContext): Geometry {
  return new Geometry(gl, { position: { size: 3, data: new Float32Array([-1, -1, 0, 1, -1, 0, 1, 1, 0, -1, 1, 0]) },
    index: { data: new Uint16Array([0, 1, 2, 0, 2, 3]) } });
}

export class Stage {
  private readonly renderer: Renderer;
  private readonly gl: OGLRenderingContext;
  private readonly camera: Camera;
  private readonly skin: Program;
  private readonly discShape: Geometry;
  private readonly siteProgram: Program;
  private readonly pieceProgram: Program;
  private readonly scene = new Transform();
  private body: Mesh | null = null;
  private inside: Mesh[] = []; // solid parts, then what is looked through
  private sites: Mesh[] = [];
  private piece: Mesh;
  private frame: Frame | null = null;
  private figure: Figure | null = null;

  // Throws when there is no WebGL 2.
  constructor(private readonly canvas: HTMLCanvasElement) {
    const probe = canvas.getContext('webgl2', { alpha: true, antialias: true, premultipliedAlpha: true });
    if (!probe) throw new Error('This browser draws no WebGL 2.');
    this.renderer = new Renderer({ canvas, alpha: true, premultipliedAlpha: true, antialias: true, webgl: 2,
      dpr: this.sharpness(probe) });
    this.gl = this.renderer.gl;
    canvas.style.width = canvas.style.height = ''; // the page's style says how large
    this.gl.clearColor(0, 0, 0, 0);
    this.camera = new Camera(this.gl, { fov: kLens_deg, near: 20, far: 900 });
    const value = <T>(it: T) => ({ value: it });
    this.skin = new Program(this.gl, { vertex: skinVertex, fragment: skinFragment, transparent: true,
      cullFace: this.gl.BACK,
      uniforms: { skinTone: value([0, 0, 0]), hairTone: value([0, 0, 0]), lineTone: value([0, 0, 0]),
        gaze: value([0, 0, 1]), size: value(1), ribsShow: value(0), night: value(0), glass: value(0), cloth: value(0),
        signsA: value([0, 0, 0, 0]), signsB: value([-99, 0, 1, 0]), veinFrom: value([0, 0, 0]),
        veinTo: value([0, 1, 0]), spit: value([0, 0, 0]) } });
    this.skin.setBlendFunc(this.gl.ONE, this.gl.ONE_MINUS_SRC_ALPHA);
    this.discShape = disc(this.gl);
    const flat = { vertex: discVertex, transparent: true, cullFace: this.gl.BACK as number, depthWrite: false };
    this.siteProgram = new Program(this.gl, { ...flat, fragment: siteFragment,
      uniforms: { ring: value([0, 0, 0]), filled: value(0) } });
    this.pieceProgram = new Program(this.gl, { ...flat, fragment: pieceFragment,
      uniforms: { accent: value([0, 0, 0]), bell: value(0), lifted: value(0), breath: value(0), night: value(0) } });
    for (const one of [this.siteProgram, this.pieceProgram]) {
      one.setBlendFunc(this.gl.ONE, this.gl.ONE_MINUS_SRC_ALPHA);
    }
    this.piece = new Mesh(this.gl, { geometry: this.discShape, program: this.pieceProgram });
    this.piece.renderOrder = 4;
    this.piece.setParent(this.scene);
  }

  // Drawing in software is slow: fewer pixels there.
  private sharpness(gl: WebGL2RenderingContext): number {
    const info = gl.getExtension('WEBGL_debug_renderer_info');
    const name = info ? String(gl.getParameter(info.UNMASKED_RENDERER_WEBGL)) : '';
    return /swiftshader|llvmpipe|software/i.test(name) ? Math.min(1, devicePixelRatio) : Math.min(2, devicePixelRatio);
  }

  show(figure: Figure): void {
    this.figure = figure;
    this.frame = figure.frame;
    const paint = figure.paint, count = figure.count;
    const a = new Uint8Array(4 * count), b = new Uint8Array(4 * count);
    for (let i = 0; i < count; i++) {
      a.set(paint.subarray(8 * i, 8 * i + 4), 4 * i);
      b.set(paint.subarray(8 * i + 4, 8 * i + 8), 4 * i);
    }
    const geometry = new Geometry(this.gl, {
      position: { size: 3, data: figure.places.slice(), usage: this.gl.DYNAMIC_DRAW },
      normal: { size: 3, data: figure.normals.slice(), usage: this.gl.DYNAMIC_DRAW },
      rest: { size: 3, data: figure.rest },
      about: { size: 4, data: figure.about },
      paintA: { size: 4, data: a, type: this.gl.UNSIGNED_BYTE, normalized: true },
      paintB: { size: 4, data: b, type: this.gl.UNSIGNED_BYTE, normalized: true },
      index: { data: figure.indices },
    });
    if (this.body) {
      this.body.geometry.remove();
      this.body.setParent(null);
    }
    for (const mesh of this.inside) mesh.setParent(null);
    this.inside = [];
    this.body = new Mesh(this.gl, { geometry, program: this.skin, frustumCulled: false });
    this.body.renderOrder = 2;
    this.body.setParent(this.scene);
  }

  resize(): void {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    if (width === 0 || height === 0) return;
    this.renderer.setSize(width, height);
    this.canvas.style.width = this.canvas.style.height = '';
  }

  // Fewer pixels from now on; false when there are few already.
  coarsen(): boolean {
    if (this.renderer.dpr <= kCoarsest) return false;
    this.renderer.dpr = Math.max(kCoarsest, 0.8 * this.renderer.dpr);
    this.resize();
    return true;
  }

  private aim(view: View): void {
    const frame = this.frame!;
    const { clientWidth: width, clientHeight: height } = this.canvas;
    const aspect = width / Math.max(1, height);
    this.camera.perspective({ aspect });
    const top = frame.crown + 0.05 * (frame.crown - frame.navel);
    const bottom = frame.navel - 0.20 * (frame.notch - frame.navel);
    const tall = (top - bottom) / view.zoom;
    const wide = 5.0 * frame.halfBreadth / view.zoom;
    const tan = Math.tan(kLens_deg * Math.PI / 360);
    const far = Math.max(tall / 2 / tan, wide / 2 / tan / aspect);
    // Zooming in goes to the chest.
    const whole = (top + bottom) / 2, chest = frame.nipples + 0.35 * (frame.notch - frame.nipples);
    const middle = chest + (0.55 * frame.eyes + 0.45 * frame.mouth - chest) * view.up;
    const y = whole + (middle - whole) * Math.min(1, Math.max(0, (view.zoom - 1) / 0.6));
    const target = new Vec3(0, y, 0);
    this.camera.position.set(far * Math.sin(view.yaw) * Math.cos(view.pitch), y + far * Math.sin(view.pitch),
      far * Math.cos(view.yaw) * Math.cos(view.pitch));
    this.camera.lookAt(target);
    this.camera.near = far * 0.5;
    this.camera.far = far * 1.6;
    this.camera.perspective({ aspect });
  }

  draw(what: Drawn): void {
    if (!this.body || !this.figure) return;
    const { figure, frame } = this;
    const { position, normal } = this.body.geometry.attributes;
    (position!.data as Float32Array).set(figure.places);
    (normal!.data as Float32Array).set(figure.normals);
    position!.needsUpdate = normal!.needsUpdate = true;
    this.aim(what.view);
    const u = this.skin.uniforms;
    const night = what.isNight ? 1 : 0;
    u['skinTone'].value = skinTone(what.tone).map(linear);
    const grey = frame!.grey;
    u['hairTone'].value = hairTone(what.tone).map((c, i) => linear(c + ([0.66, 0.65, 0.63][i]! - c) * 0.9 * grey));
    u['lineTone'].value = (what.isNight ? [0.55, 0.50, 0.46] : [0.16, 0.11, 0.10]).map(linear);
    u['night'].value = night;
    u['glass'].value = what.layer === 'skin' ? 0 : 1;
    this.drawInside(what);
    u['cloth'].value = what.isClothed && what.layer === 'skin' ? 1 : 0;
    u['ribsShow'].value = frame!.ribsShow;
    u['size'].value = frame!.halfBreadth / 16;
    u['veinFrom'].value = frame!.veinFrom;
    u['veinTo'].value = frame!.veinTo;
    u['signsA'].value = [what.looks.cyanosis, what.looks.pallor, what.looks.sweat, what.looks.weals];
    u['signsB'].value = [what.looks.veinTop, what.looks.lids, frame!.hair, frame!.breast];
    u['spit'].value = [frame!.eyeX, frame!.mouth, what.looks.drool];
    this.place(what);
    this.renderer.render({ scene: this.scene, camera: this.camera, sort: true, frustumCull: false });
  }

  private drawInside(what: Drawn): void {
    const figure = this.figure!;
    const isSeen = what.layer !== 'skin';
    if (isSeen && this.inside.length === 0) this.makeInside();
    for (const mesh of this.inside) mesh.visible = isSeen;
    if (!isSeen) return;
    const { position, normal } = this.inside[0]!.geometry.attributes;
    (position!.data as Float32Array).set(figure.insidePlaces);
    (normal!.data as Float32Array).set(figure.insideNormals);
    position!.needsUpdate = normal!.needsUpdate = true;
    for (const mesh of this.inside) {
      const u = mesh.program.uniforms;
      u['night'].value = what.isNight ? 1 : 0;
      u['depth'].value = what.layer === 'ribs' ? 1 : 2;
      u['pleura'].value = [...figure.pleura];
    }
  }
  private makeInside(): void {
    const figure = this.figure!;
    const { indices, about } = figure.makeInside();
    const geometry = new Geometry(this.gl, {
      position: { size: 3, data: figure.insidePlaces.slice(), usage: this.gl.DYNAMIC_DRAW },
      normal: { size: 3, data: figure.insideNormals.slice(), usage: this.gl.DYNAMIC_DRAW },
      about: { size: 3, data: about },
      index: { data: indices },
    });
    this.inside = [0, 1].map((pass) => {
      const program = new Program(this.gl, { vertex: insideVertex, fragment: insideFragment, cullFace: false,
        transparent: true, depthWrite: pass === 0,
        uniforms: { pass: { value: pass }, night: { value: 0 }, depth: { value: 1 },
          pleura: { value: [0, 0, 0, 0] } } });
      program.setBlendFunc(this.gl.ONE, this.gl.ONE_MINUS_SRC_ALPHA);
      const mesh = new Mesh(this.gl, { geometry, program, frustumCulled: false });
      mesh.renderOrder = pass;
      mesh.setParent(this.scene);
      return mesh;
    });
  }

  // Lays a disc on the skin.
  private lay(mesh: Mesh, spot: ArrayLike<number>, from: number, radius: number): void {
    const at = new Vec3(spot[from]!, spot[from + 1]!, spot[from + 2]!);
    const n = new Vec3(spot[from + 3]!, spot[from + 4]!, spot[from + 5]!);
    mesh.position.set(at.x + 0.12 * n.x, at.y + 0.12 * n.y, at.z + 0.12 * n.z);
    mesh.up.set(0, 1, 0);
    mesh.lookAt(new Vec3(mesh.position.x + n.x, mesh.position.y + n.y, mesh.position.z + n.z), false);
    mesh.scale.set(radius);
  }

  private place(what: Drawn): void {
    const { figure, frame } = this;
    const scale = Math.min(1, Math.max(0.42, frame!.halfBreadth / 15));
    const first = what.piece ? 1 : 0;
    const spots = figure!.spots(first + what.sites.length);
    this.piece.visible = what.piece !== null;
    if (what.piece) {
      this.lay(this.piece, spots, 0, (what.piece.isBell ? 2.6 : 3.3) * scale);
      const u = this.pieceProgram.uniforms;
      u['accent'].value = what.accent;
      u['bell'].value = what.piece.isBell ? 1 : 0;
      u['lifted'].value = what.piece.isPressed ? 0 : 1;
      u['breath'].value = what.piece.breath;
      u['night'].value = what.isNight ? 1 : 0;
    }
    while (this.sites.length < what.sites.length) {
      const mesh = new Mesh(this.gl, { geometry: this.discShape, program: this.siteProgram });
      mesh.renderOrder = 3;
      mesh.setParent(this.scene);
      mesh.onBeforeRender(() => {
        const kind = (mesh as Mesh & { kind?: SiteRing['kind'] }).kind;
        this.siteProgram.uniforms['ring'].value = kind === 'marked' ? what.accent : this.ring;
        this.siteProgram.uniforms['filled'].value = kind === 'plain' ? 0 : 1;
      });
      this.sites.push(mesh);
    }
    this.ring = what.isNight ? [0.93, 0.90, 0.84] : [0.18, 0.16, 0.16];
    this.sites.forEach((mesh, i) => {
      const site = what.sites[i];
      mesh.visible = site !== undefined;
      if (!site) return;
      (mesh as Mesh & { kind?: SiteRing['kind'] }).kind = site.kind;
      this.lay(mesh, spots, 6 * (first + i), 0.72 * scale);
    });
  }
  private ring: Three = [0, 0, 0];

  // The ray through a point of the canvas, 0..1 from its upper left.
  ray(x: number, y: number): { from: Three; along: Three } {
    const near = new Vec3(2 * x - 1, 1 - 2 * y, -1), far = new Vec3(2 * x - 1, 1 - 2 * y, 1);
    this.camera.updateMatrixWorld();
    this.camera.unproject(near);
    this.camera.unproject(far);
    const d = far.clone().sub(near).normalize();
    return { from: [near.x, near.y, near.z], along: [d.x, d.y, d.z] };
  }

  partAt(x: number, y: number): BodyPart | null {
    const { from, along } = this.ray(x, y);
    return this.figure?.part(from, along) ?? null;
  }
  pick(x: number, y: number): OnSkin | null {
    const { from, along } = this.ray(x, y);
    return this.figure?.pick(from, along) ?? null;
  }

  close(): void {
    this.gl.getExtension('WEBGL_lose_context')?.loseContext();
  }
}

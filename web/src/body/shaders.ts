// How the figure is drawn: one pass, light per pixel, no shadows; the mesh carries how much sky each place
// sees. Colours are worked out in linear light and given back for the screen, alpha already multiplied in.

export const skinVertex = `#version 300 es
in vec3 position;
in vec3 normal;
in vec3 rest;
in vec4 about;
in vec4 paintA;
in vec4 paintB;
uniform mat4 modelViewMatrix;
uniform mat4 projectionMatrix;
out vec3 vRest;
out vec3 vView;
out vec3 vNormal;
out vec3 vBodyNormal;
out vec4 vAbout;
out vec4 vPaintA;
out vec4 vPaintB;
uniform float cloth;
uniform float size;
void main() {
  float clad = cloth * max(about.z, paintB.w) * smoothstep(2.0, 0.0, rest.y / size - 2.5);
  vec4 view = modelViewMatrix * vec4(position + 0.7 * size * clad * normal, 1.0);
  vView = view.xyz;
  vNormal = mat3(modelViewMatrix) * normal;
  vBodyNormal = normal;
  vRest = rest;
  vAbout = about;
  vPaintA = paintA;
  vPaintB = paintB;
  gl_Position = projectionMatrix * view;
}`;

export const skinFragment = `#version 300 es
precision highp float;
in vec3 vRest;
in vec3 vView;
in vec3 vNormal;
in vec3 vBodyNormal;
in vec4 vAbout;   // rib number, angle, trunk, shown
in vec4 vPaintA;  // hair, brow, lip, areola
in vec4 vPaintB;  // eye, mouth, light, arm
uniform vec3 skinTone;   // linear
uniform vec3 hairTone;
uniform vec3 lineTone;
uniform vec3 gaze;
uniform float size;      // of this person against an adult
uniform float ribsShow;
uniform float night;
uniform float glass;     // 0 skin .. 1 looked through
uniform float cloth;     // 1: a work shirt over the chest
uniform vec4 signsA;     // cyanosis, pallor, sweat, weals
uniform vec4 signsB;     // top of the neck veins cm, lids shut, hair shown, breast
uniform vec3 veinFrom;
uniform vec3 veinTo;
uniform vec3 spit;       // x of an eye, y of the mouth, how much
out vec4 colour;

float hash(vec3 p) { return fract(sin(dot(p, vec3(127.1, 311.7, 74.7))) * 43758.5453); }
float layer(vec3 i, vec2 f) {
  return mix(mix(hash(i), hash(i + vec3(1, 0, 0)), f.x), mix(hash(i + vec3(0, 1, 0)), hash(i + vec3(1, 1, 0)), f.x),
    f.y);
}
float noise(vec3 p) {
  vec3 i = floor(p), f = fract(p);
  f = f * f * (3.0 - 2.0 * f);
  return mix(layer(i, f.xy), layer(i + vec3(0, 0, 1), f.xy), f.z);
}
// A height drawn on the skin turns its normal (Mikkelsen 2010, from memory).
vec3 raised(vec3 n, float h) {
  vec3 sx = dFdx(vView), sy = dFdy(vView);
  vec3 r1 = cross(sy, n), r2 = cross(n, sx);
  float d = dot(sx, r1);
  vec3 grad = sign(d) * (dFdx(h) * r1 + dFdy(h) * r2);
  return normalize(abs(d) * n - grad);
}
float nearLine(vec3 p, vec3 a, vec3 b) {
  vec3 d = b - a, q = p - a;
  return length(q - clamp(dot(q, d) / dot(d, d), 0.0, 1.0) * d);
}

void main() {
  vec3 n = normalize(vNormal), toEye = normalize(-vView);
  float trunk = vAbout.z, away = abs(vAbout.y);
  float eye = smoothstep(0.5, 0.51, vPaintB.x);

  // Ribs as faint relief: not over breast, breast bone, shoulder blade or the small of the back.
  float rib = vAbout.x;
  float overRibs = trunk * smoothstep(1.4, 2.4, rib) * (1.0 - smoothstep(9.3, 10.8, rib)) *
    smoothstep(0.22, 0.5, away) * (1.0 - smoothstep(2.5, 2.85, away)) * (1.0 - vPaintB.w);
  overRibs *= 1.0 - 0.9 * smoothstep(1.75, 2.1, away) * (1.0 - smoothstep(7.0, 7.8, rib));
  overRibs *= 1.0 - signsB.w * smoothstep(1.35, 0.9, away) * smoothstep(2.2, 3.2, rib) *
    (1.0 - smoothstep(6.2, 7.2, rib));
  float relief = 0.075 * size * ribsShow * overRibs * cos(6.2831853 * rib);
  // Neck veins, filled up to their column's top.
  vec3 side = vec3(abs(vRest.x), vRest.yz);
  float vein = exp(-pow(nearLine(side, veinFrom, veinTo) / (0.34 * size), 2.0)) *
    smoothstep(signsB.x + 0.5, signsB.x - 0.8, vRest.y) *
    smoothstep(-1.5, 0.5, vRest.y) * (1.0 - vPaintB.w) * step(0.0, vRest.z + 6.0 * size);
  vein *= smoothstep(0.5, 2.5, signsB.x);
  relief += 0.22 * size * vein;
  float patchy = 0.66 * noise(vRest * 0.34 / size + 3.7) + 0.34 * noise(vRest.zxy * 0.9 / size + 1.3);
  float weal = signsA.w * smoothstep(0.64 - 0.12 * signsA.w, 0.70 - 0.10 * signsA.w, patchy);
  weal *= (1.0 - eye) * (1.0 - vPaintA.x);
  relief += 0.16 * weal;
  float drop = noise(vRest * 7.0 / size);
  float sweaty = signsA.z * (1.0 - vPaintA.x) * (1.0 - eye);
  relief += 0.05 * sweaty * smoothstep(0.62, 0.8, drop);
  // Spit runs from the corner of the mouth over the chin, a little crooked, and hangs in a drop.
  vec2 run = vec2(vRest.x - 0.60 * spit.x - 0.05 * spit.x * sin(5.0 * vRest.y / spit.x), spit.y - vRest.y) / spit.x;
  float spitty = spit.z * step(0.0, vBodyNormal.z) *
    smoothstep(0.17, 0.10, abs(run.x) - 0.09 * smoothstep(1.3, 1.65, run.y)) *
    smoothstep(0.85, 0.95, run.y) * smoothstep(1.95, 1.8, run.y);
  relief += 0.03 * size * spitty;
  // A shirt: round neck, a placket down the front, folds that hang from the shoulders.
  float neckline = 2.6 * size - 0.3 * exp(-pow(vRest.x / (5.0 * size), 2.0)) * 14.0 * size * step(0.0, vBodyNormal.z);
  float shirt = cloth * (1.0 - eye) * smoothstep(0.35, 0.55, max(vAbout.z, vPaintB.w)) *
    (1.0 - smoothstep(-0.15, 0.15, (vRest.y - neckline) / size));
  if (shirt > 0.5) {
    vec3 hanging = vec3(vRest.x * 0.5, vRest.y * 0.12, vRest.z * 0.5) / size;
    relief = 0.30 * size * (noise(hanging) + 0.4 * noise(vRest * 0.6 / size));
    relief += 0.12 * size * smoothstep(0.9 * size, 0.8 * size, abs(vRest.x)) * step(0.0, vBodyNormal.z);
  }
  n = raised(n, relief);

  // What colour the place is.
  float dark = 1.0 - smoothstep(0.03, 0.35, skinTone.g);
  vec3 skin = skinTone;
  float warm = noise(vRest * 0.16) - 0.5;
  skin *= 1.0 + vec3(0.05, 0.0, -0.03) * warm;
  float luma = dot(skin, vec3(0.3, 0.59, 0.11));
  skin = mix(skin, mix(vec3(luma) * vec3(1.10, 1.06, 0.94), vec3(luma) * vec3(1.0, 0.98, 0.94), dark), 0.75 * signsA.y);
  vec3 lip = mix(skin * vec3(0.80, 0.50, 0.50), vec3(0.34, 0.10, 0.10), 0.35 - 0.15 * dark);
  lip = mix(lip, vec3(dot(lip, vec3(0.33))) * vec3(1.12, 1.0, 0.96) * 1.25, 0.55 * signsA.y);
  lip = mix(lip, mix(vec3(0.16, 0.15, 0.27), vec3(0.055, 0.055, 0.10), dark), 0.92 * signsA.x);
  skin = mix(skin, skin * mix(vec3(0.74, 0.83, 1.02), vec3(0.80, 0.88, 0.98), dark), 0.62 * signsA.x);
  vec3 base = mix(skin, lip, vPaintA.z * mix(0.5, 0.85, signsB.z));
  base = mix(base, skin * vec3(0.62, 0.43, 0.40), 0.75 * vPaintA.w);
  base = mix(base, mix(skin * vec3(0.92, 0.52, 0.46), skin * vec3(0.70, 0.42, 0.46), dark), 0.8 * weal);
  base = mix(base, skin * vec3(0.66, 0.70, 0.82), 0.55 * vein);
  base = mix(base, vec3(0.10, 0.025, 0.025), 0.8 * vPaintB.y);
  base = mix(base, mix(base, vec3(0.86, 0.87, 0.86), 0.55), spitty);
  float strand = 0.86 + 0.28 * noise(vec3(vRest.x * 7.0, vRest.y * 1.6, vRest.z * 7.0) / size);
  base = mix(base, hairTone * strand, 0.94 * vPaintA.x * signsB.z);
  base = mix(base, mix(hairTone, skin, 0.25), 0.72 * vPaintA.y * min(1.0, 0.35 + signsB.z));
  if (eye > 0.5) {
    vec3 look = normalize(vBodyNormal);
    float off = acos(clamp(dot(look, gaze), -1.0, 1.0));
    vec3 ball = mix(vec3(0.72, 0.69, 0.66), vec3(0.80, 0.62, 0.58), 0.25);
    vec3 iris = mix(vec3(0.13, 0.075, 0.035), vec3(0.05, 0.028, 0.016), dark);
    ball = mix(iris, ball, smoothstep(0.44, 0.50, off));
    ball = mix(vec3(0.008), ball, smoothstep(0.17, 0.21, off));
    ball *= 0.55 + 0.45 * smoothstep(0.55, -0.1, look.y);   // the upper lid's shade
    float lid = mix(0.50, -0.62, signsB.y);                 // where the upper lid's edge lies
    float shut = smoothstep(lid - 0.03, lid + 0.03, look.y);
    vec3 lidTone = mix(skin * 0.9, skin * 0.28, smoothstep(0.09, 0.02, abs(look.y - lid)));
    base = mix(ball, lidTone, shut);
  }

  base = mix(base, vec3(0.13, 0.19, 0.23), step(0.5, shirt));

  // Light: a raking window from above left, sky, a cool return from the right.
  vec3 key = normalize(vec3(-0.62, 0.55, 0.56)), back = normalize(vec3(0.86, 0.10, -0.25));
  float sky = 0.5 + 0.5 * n.y;
  float ao = mix(0.42, 1.0, smoothstep(0.1, 0.95, vPaintB.z));
  float lit = smoothstep(-0.22, 1.0, dot(n, key));
  float fill = max(0.0, dot(n, back));
  vec3 shade = mix(vec3(0.36, 0.30, 0.34), vec3(0.20, 0.20, 0.27), night);
  vec3 light = shade * (0.55 + 0.45 * sky) + mix(vec3(1.06, 0.99, 0.90), vec3(0.98, 0.90, 0.80), night) * lit * 0.95 +
    mix(vec3(0.10, 0.12, 0.15), vec3(0.16, 0.19, 0.30), night) * fill;
  vec3 shaded = base * light * ao;
  vec3 halfway = normalize(key + toEye);
  float wet = 0.30 * sweaty * (0.35 + 0.65 * smoothstep(0.66, 0.84, drop));
  float gloss = mix(0.05, 0.10, dark) + wet + 0.55 * spitty + 0.10 * vPaintA.z + 0.6 * eye;
  float sharp = mix(22.0, 70.0, max(max(eye, spitty), sweaty));
  shaded += gloss * pow(max(0.0, dot(n, halfway)), sharp) * vec3(1.0, 0.97, 0.92);
  // The outline, as a brush would set it: thin, and only where the form turns away.
  float turn = 1.0 - abs(dot(normalize(vNormal), toEye));
  float line = smoothstep(0.70, 0.98, turn);
  shaded = mix(shaded, lineTone, line * mix(0.62, 0.35, night));
  shaded = pow(clamp(shaded, 0.0, 1.0), vec3(1.0 / 2.2));
  float alpha = smoothstep(0.0, 1.0, vAbout.w);
  if (glass > 0.0) {
    float through = mix(1.0, 0.10 + 0.75 * pow(turn, 2.2), glass * max(trunk, vPaintB.w));
    alpha *= through;
  }
  if (alpha < 0.004) discard;
  colour = vec4(shaded * alpha, alpha);
}`;

// Rings on the skin for sites, and the chestpiece: flat discs that lie on the body.
export const discVertex = `#version 300 es
in vec3 position;
uniform mat4 modelViewMatrix;
uniform mat4 projectionMatrix;
out vec2 vAt;
void main() {
  vAt = position.xy;
  vec4 view = modelViewMatrix * vec4(position, 1.0);
  view.xyz *= 0.985;  // a little nearer than the skin, so that it never sinks in
  gl_Position = projectionMatrix * view;
}`;

export const siteFragment = `#version 300 es
precision highp float;
in vec2 vAt;
uniform vec3 ring;
uniform float filled;
out vec4 colour;
void main() {
  float r = length(vAt), e = fwidth(r);
  float outer = 1.0 - smoothstep(0.92 - e, 0.92, r);
  float inner = smoothstep(0.66 - e, 0.66, r);
  float a = outer * mix(inner * 0.85, 0.9, filled);
  if (a < 0.01) discard;
  colour = vec4(ring * a, a);
}`;

export const pieceFragment = `#version 300 es
precision highp float;
in vec2 vAt;
uniform vec3 accent;
uniform float bell;
uniform float lifted;
uniform float breath;   // how full the lungs are, 0..1
uniform float night;
out vec4 colour;
void main() {
  float r = length(vAt), e = fwidth(r) * 1.2;
  // Disc 0..0.62, rim to 0.70, breath ring 0.80..0.96.
  float body = 1.0 - smoothstep(0.70 - e, 0.70, r);
  float rim = smoothstep(0.58 - e, 0.60, r) * body;
  vec2 up = normalize(vec2(-0.6, 0.75));
  float sheen = 0.5 + 0.5 * dot(vAt / max(r, 0.001), up) * smoothstep(0.0, 0.7, r);
  vec3 metal = mix(vec3(0.30, 0.31, 0.34), vec3(0.86, 0.87, 0.89), sheen);
  vec3 face = mix(vec3(0.90, 0.89, 0.86), vec3(0.98), sheen);
  float cup = 1.0 - smoothstep(0.34 - e, 0.34, r);
  face = mix(face, mix(face, vec3(0.32, 0.33, 0.36), 0.85 * cup), bell);
  vec3 c = mix(face, metal, rim);
  float ringBand = smoothstep(0.79 - e, 0.79, r) * (1.0 - smoothstep(0.95 - e, 0.95, r));
  float turn = fract(atan(vAt.x, vAt.y) / 6.2831853 + 1.0);
  float done = 1.0 - smoothstep(breath - 0.004, breath + 0.004, turn);
  vec3 track = mix(vec3(1.0), vec3(0.1), night);
  vec3 band = mix(track, accent, done);
  float bandAlpha = ringBand * mix(0.55, 1.0, done);
  float alpha = max(body * mix(1.0, 0.45, lifted), bandAlpha);
  if (alpha < 0.01) discard;
  vec3 all = mix(c, band, bandAlpha * (1.0 - body));
  colour = vec4(all * alpha, alpha);
}`;

// Under the skin: bones, lungs by lobe, heart, airways, diaphragm, and what stands around the lungs.
export const insideVertex = `#version 300 es
in vec3 position;
in vec3 normal;
in vec3 about;   // organ, above the oblique fissure, above the horizontal one
uniform mat4 modelViewMatrix;
uniform mat4 projectionMatrix;
out vec3 vAt;
out vec3 vView;
out vec3 vNormal;
out vec3 vAbout;
void main() {
  vec4 view = modelViewMatrix * vec4(position, 1.0);
  vAt = position;
  vView = view.xyz;
  vNormal = mat3(modelViewMatrix) * normal;
  vAbout = about;
  gl_Position = projectionMatrix * view;
}`;

export const insideFragment = `#version 300 es
precision highp float;
in vec3 vAt;
in vec3 vView;
in vec3 vNormal;
in vec3 vAbout;
uniform float pass;      // 0 solid parts, 1 what is looked through
uniform float night;
uniform float depth;     // 1 ribs shown .. 2 ribs faint
uniform vec4 pleura;     // fluid's height right, left; share without lung right, left
out vec4 colour;
vec3 lobe(float side, float oblique, float horizontal) {
  if (oblique < 0.0) return side < 0.0 ? vec3(0.56, 0.27, 0.33) : vec3(0.50, 0.25, 0.36);
  if (side < 0.0 && horizontal < 0.0) return vec3(0.80, 0.47, 0.36);
  return side < 0.0 ? vec3(0.74, 0.37, 0.37) : vec3(0.70, 0.35, 0.42);
}
void main() {
  float organ = floor(vAbout.x + 0.5), side = vAt.x < 0.0 ? -1.0 : 1.0;
  bool isPleura = organ == 6.0, isBone = organ < 1.5;
  bool isThrough = isPleura || organ == 5.0 || (isBone && depth > 1.5);
  if ((pass > 0.5) != isThrough) discard;
  vec3 n = normalize(vNormal), toEye = normalize(-vView);
  if (dot(n, toEye) < 0.0) n = -n;
  float turn = 1.0 - dot(n, toEye);
  vec3 base = vec3(0.86, 0.82, 0.70);
  float alpha = 1.0;
  if (organ == 1.0) base = vec3(0.70, 0.74, 0.70);
  if (organ == 2.0) {
    base = lobe(side, vAbout.y, vAbout.z);
    float seam = abs(vAbout.y) / max(fwidth(vAbout.y), 0.02);
    if (side < 0.0 && vAbout.y > 0.0) seam = min(seam, abs(vAbout.z) / max(fwidth(vAbout.z), 0.02));
    base = mix(vec3(0.18, 0.07, 0.09), base, smoothstep(0.8, 2.2, seam));
  }
  if (organ == 3.0) base = vec3(0.50, 0.13, 0.13);
  if (organ == 4.0) base = vec3(0.88, 0.85, 0.78);
  if (organ == 5.0) { base = vec3(0.45, 0.20, 0.17); alpha = 0.16 + 0.5 * pow(turn, 2.0); }
  if (isBone && depth > 1.5) alpha = 0.16 + 0.34 * turn;
  if (isPleura) {
    float level = side < 0.0 ? pleura.x : pleura.y, gap = side < 0.0 ? pleura.z : pleura.w;
    if (gap < 0.015) discard;
    bool isFluid = vAt.y < level;
    base = isFluid ? vec3(0.62, 0.48, 0.22) : mix(vec3(0.55, 0.62, 0.66), vec3(0.30, 0.36, 0.42), night);
    float line = 1.0 - smoothstep(0.0, 0.25, abs(vAt.y - level));
    alpha = isFluid ? 0.62 : 0.10 + 0.55 * pow(turn, 1.6);
    base = mix(base, vec3(0.95, 0.88, 0.65), line);
    alpha = max(alpha, 0.9 * line);
  }
  vec3 key = normalize(vec3(-0.55, 0.6, 0.6));
  float lit = smoothstep(-0.35, 1.0, dot(n, key));
  vec3 shaded = base * (mix(vec3(0.34, 0.31, 0.34), vec3(0.24, 0.24, 0.30), night) + vec3(0.86, 0.81, 0.74) * lit);
  shaded += 0.14 * pow(max(0.0, dot(n, normalize(key + toEye))), 26.0);
  shaded = mix(shaded, base * 0.28, 0.55 * smoothstep(0.62, 0.95, turn));
  shaded = pow(clamp(shaded, 0.0, 1.0), vec3(1.0 / 1.7));
  colour = vec4(shaded * alpha, alpha);
}`;

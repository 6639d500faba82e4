#!/usr/bin/env python3
"""Packs the CC0 body (MakeHuman's base mesh and shape targets) into data/figure/body.bin.

Usage: scripts/pack_body.py FOLDER [OUT]     (numpy; FOLDER holds base.obj, targets/ and rigs/)

What is kept: head, neck, trunk to the hips and upper arms of the left half with the midline (the mesh is
exactly symmetric), without what can never be seen, and the left eyeball. Per shape: where every vertex lies,
in steps of 0.25 mm. Per vertex: what is painted there, how much light reaches it, which bones move it.
The format is read by src/acoustics/figure/mould.cc; all numbers are little-endian.
"""
import json
import pathlib
import struct
import sys

import numpy as np

ROOT = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else ".")
OUT = pathlib.Path(sys.argv[2] if len(sys.argv) > 2 else "data/figure/body.bin")
SKIN = 13380          # vertices below are skin; above are helpers and joints
STEP = 0.0025         # dm: 0.25 mm
AGES = ("baby", "child", "young", "old")
MUSCLE = ("minmuscle", "averagemuscle", "maxmuscle")
WEIGHT = ("minweight", "averageweight", "maxweight")

# Vertex of base.obj on the left half; two ids: their middle. In the order of Landmark in mould.h.
LANDMARKS = ((1524,), (1400,), (1893,), (4088,), (4121,), (857,), (1539,), (3843,), (3932, 3946), (3974,), (4030,),
             (8161,), (10419,), (8139,), (8456,), (8123,), (8303,), (10452,), (8229,), (8258, 8246))
JOINTS = ("l-shoulder", "l-clavicle", "neck", "head", "mouth", "l-eye")


def load_obj(path):
    vertices, faces, group = [], {}, ""
    for line in open(path):
        p = line.split()
        if not p:
            continue
        if p[0] == "v":
            vertices.append([float(x) for x in p[1:4]])
        elif p[0] == "g":
            group = p[1]
        elif p[0] == "f":
            faces.setdefault(group, []).append([int(x.split("/")[0]) - 1 for x in p[1:5]])
    return np.array(vertices), {g: np.array(f) for g, f in faces.items()}


BASE, FACES = load_obj(ROOT / "base.obj")
QUADS = FACES["body"]


def target(name):
    d = np.zeros_like(BASE)
    for line in open(ROOT / "targets" / (name + ".target")):
        p = line.split()
        if len(p) >= 4 and not line.startswith("#"):
            d[int(p[0])] = [float(x) for x in p[1:4]]
    return d


def joint(name):
    return BASE[np.unique(FACES["joint-" + name])].mean(0)


def kept_quads():
    """Head to hips and to above the elbow, cut by the neutral body."""
    keep = BASE[:SKIN, 1] > joint("l-upper-leg")[1] - 0.15
    for side in "lr":
        shoulder, elbow = joint(side + "-shoulder"), joint(side + "-elbow")
        d = elbow - shoulder
        t = ((BASE[:SKIN] - shoulder) @ d) / (d @ d)
        keep &= ~((t > 0.93) & (BASE[:SKIN, 0] * np.sign(shoulder[0]) > 2.05))
    return QUADS[keep[QUADS].all(1)]


def normals(v, quads):
    n = np.zeros_like(v)
    k = np.cross(v[quads[:, 2]] - v[quads[:, 0]], v[quads[:, 3]] - v[quads[:, 1]])
    for j in range(4):
        np.add.at(n, quads[:, j], k)
    return n / np.maximum(np.linalg.norm(n, axis=1, keepdims=True), 1e-9)


def light(v, quads, count=160, size=420):
    """Share of the sky each vertex sees, by depth pictures from many sides; and whether any sees it."""
    s, t = np.meshgrid((np.arange(9) + 0.5) / 9, (np.arange(9) + 0.5) / 9)
    w = np.stack([(1 - s) * (1 - t), s * (1 - t), s * t, (1 - s) * t], -1).reshape(-1, 4)
    points = np.einsum("kq,fqc->fkc", w, v[quads]).reshape(-1, 3)
    used = np.unique(quads)
    n = normals(v, quads)[used]
    seen, total, any_seen = np.zeros(len(used)), np.zeros(len(used)), np.zeros(len(used), bool)
    for i in range(count):                      # directions evenly over the sphere
        z = 1 - 2 * (i + 0.5) / count
        a = np.pi * (1 + 5 ** 0.5) * i
        d = np.array([np.sqrt(1 - z * z) * np.cos(a), z, np.sqrt(1 - z * z) * np.sin(a)])
        x = np.cross([0, 1, 0] if abs(d[1]) < 0.9 else [1, 0, 0], d)
        x /= np.linalg.norm(x)
        y = np.cross(d, x)
        scale = size / 9.0

        def pixel(p):
            return (np.clip((p @ x * scale + size / 2).astype(int), 0, size - 1) * size
                    + np.clip(((p @ y - BASE[used, 1].mean() * y[1]) * scale + size / 2).astype(int), 0, size - 1))
        depth = np.full(size * size, -np.inf)
        np.maximum.at(depth, pixel(points), points @ d)
        sees = (v[used] @ d > depth[pixel(v[used])] - 0.06) & (n @ d > 0)
        weight = np.clip(n @ d, 0, 1) * (1.0 + 0.4 * d[1])   # more from above
        seen += weight * sees
        total += weight
        any_seen |= sees & (n @ d > 0.05)
    return used, seen / np.maximum(total, 1e-9), any_seen


def bone_shares():
    weights = json.load(open(ROOT / "rigs" / "default_weights.mhw"))["weights"]
    out = {k: np.zeros(len(BASE)) for k in ("arm", "shoulder", "neck", "head")}
    for bone, rows in weights.items():
        if any(k in bone for k in ("upperarm", "lowerarm", "wrist", "finger", "metacarpal")):
            part = "arm"
        elif "shoulder" in bone or "clavicle" in bone:
            part = "shoulder"
        elif bone.startswith("neck"):
            part = "neck"
        elif any(k in bone for k in ("spine", "pelvis", "root", "breast", "leg", "foot", "toe")):
            continue
        else:
            part = "head"
        for i, x in rows:
            out[part][int(i)] += x
    return out


def step(x, low, high):
    t = np.clip((x - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def paint(v, head):
    """Hair, brow, lip, areola, 0..1 per vertex, by places on the neutral face."""
    eye = v[np.unique(FACES["joint-l-eye"])].mean(0)
    skin = v[:SKIN]
    crown = skin[:, 1].max()
    x, y, z = np.abs(v[:, 0]), v[:, 1], v[:, 2]
    t = (y - eye[1]) / (crown - eye[1])
    top = skin[np.abs(skin[:, 1] - eye[1] - 0.3) < 0.2]
    middle = 0.5 * (top[:, 2].max() + top[:, 2].min())
    angle = np.degrees(np.arctan2(x, z - middle))
    line = np.interp(angle, [0, 25, 42, 55, 66, 80, 98, 112, 128, 150, 180],
                     [0.60, 0.60, 0.62, 0.40, 0.06, -0.16, -0.02, -0.20, -0.42, -0.60, -0.66])
    hair = step(t, line - 0.05, line + 0.05) * (head > 0.5)
    at_ear = skin[np.abs(skin[:, 1] - eye[1]) < 0.25]
    ear = at_ear[np.argmax(at_ear[:, 0] * (at_ear[:, 1] > eye[1] - 1.0) * (at_ear[:, 0] < 1.2))]
    far = np.linalg.norm((v - [ear[0] - 0.05, ear[1] - 0.08, ear[2]]) * np.where(v[:, :1] < 0, [-1, 1, 1], 1), axis=1)
    hair *= step(far, 0.30, 0.38) + (x < ear[0] - 0.16)
    hair = np.clip(hair, 0, 1)
    along = (x - eye[0]) / 0.21
    brow_y = eye[1] + 0.205 + 0.03 * along - 0.035 * along ** 2
    brow = step(1.15 - np.abs(along), 0.0, 0.3) * (1 - step(np.abs(y - brow_y), 0.022, 0.060)) * (z > eye[2])
    return hair, brow * (head > 0.5)


def lips(v):
    """1 on the red of the lips: an almond around the line where they meet (read off the midline's vertices)."""
    line_y, line_z, half_width = 6.687, 1.50, 0.27
    x, y, z = np.abs(v[:, 0]), v[:, 1], v[:, 2]
    along = np.clip(1 - (x / half_width) ** 2, 0, 1) ** 0.6
    up = (y - line_y) / np.where(y > line_y, 0.105, 0.115)
    return np.clip((along - np.abs(up)) / 0.3 + 0.5, 0, 1) * (along > 0) * (z > line_z - 0.22)


def main():
    quads = kept_quads()
    head_share = bone_shares()
    young = BASE + sum(target(f"macrodetails/{e}-{s}-young") for e in ("caucasian", "african", "asian")
                       for s in ("female", "male")) / 6
    used, sky, seen = light(young, quads)
    ok = np.zeros(len(BASE), bool)
    ok[used[seen]] = True
    quads = quads[ok[quads].any(1)]
    sky_of = np.zeros(len(BASE))
    sky_of[used] = sky
    left = quads[(BASE[quads][:, :, 0] > -1e-4).all(1)]
    eye_quads = FACES["helper-l-eye"]
    half = np.unique(np.concatenate([left.reshape(-1), eye_quads.reshape(-1)]))
    index = {int(a): i for i, a in enumerate(half)}
    is_eye = np.isin(half, np.unique(eye_quads))
    middle = (np.abs(BASE[half, 0]) < 1e-4) & ~is_eye
    n = len(half)

    # paint
    hair, brow = paint(young, head_share["head"])
    x, y, z = np.abs(young[:, 0]), young[:, 1], young[:, 2]
    mouth = young[np.unique(FACES["joint-mouth"])].mean(0)
    lip = lips(young) * (head_share["head"] > 0.3)
    nipple = young[8456]
    areola = 1 - step(np.linalg.norm((young - nipple) * np.where(young[:, :1] < 0, [-1, 1, 1], 1), axis=1), 0.13, 0.22)
    inside = (head_share["head"] > 0.3) * (sky_of < 0.18) * (np.abs(y - mouth[1]) < 0.4) * (x < 0.35) * (z > mouth[2] - 0.9)
    planes = [hair[half], brow[half], lip[half], areola[half], is_eye * 1.0, inside[half] * (~is_eye),
              np.where(is_eye, 0.75, sky_of[half])]
    planes += [head_share[k][half] for k in ("arm", "shoulder", "neck", "head")]
    planes[-1] = np.where(is_eye, 1.0, planes[-1])

    shapes, rows = [], []
    for sex in ("female", "male"):
        for age in AGES:
            mean = sum(target(f"macrodetails/{e}-{sex}-{age}") for e in ("caucasian", "african", "asian")) / 3
            shapes.append(mean)
            for m in MUSCLE:
                for w in WEIGHT:
                    delta = target(f"macrodetails/universal-{sex}-{age}-{m}-{w}")
                    full = (BASE + mean + delta)[:SKIN]
                    tri = np.concatenate([QUADS[:, [0, 1, 2]], QUADS[:, [0, 2, 3]]])
                    a, b, c = full[tri[:, 0]], full[tri[:, 1]], full[tri[:, 2]]
                    litres = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6
                    rows.append((full[:, 1].min(), full[:, 1].max(), litres))
                    if not (age in ("baby", "child") and m == "maxmuscle"):
                        shapes.append(delta)
            if sex == "female":
                for m, w in (("averagemuscle", "averageweight"), ("minmuscle", "maxweight")):
                    shapes.append(target(f"breast/{sex}-{age}-{m}-{w}-averagecup-minfirmness")
                                  if age in ("young", "old") else np.zeros_like(BASE))

    joints = [np.unique(FACES["joint-" + j]) for j in JOINTS]
    out = bytearray(b"PHRNBODY")

    def numbers(values, fmt):
        out.extend(struct.pack(f"<{len(values)}{fmt}", *values))

    def varints(values):
        for value in values:
            z = (int(value) << 1) ^ (int(value) >> 63)
            while z > 127:
                out.append((z & 127) | 128)
                z >>= 7
            out.append(z)

    def places(d):
        q = np.round(d / STEP).astype(np.int64)
        for axis in range(3):
            varints(np.diff(q[:, axis], prepend=0))

    numbers([2, n, len(left), len(eye_quads), len(shapes), len(planes), len(LANDMARKS), len(JOINTS)], "I")
    out.extend(bytes(int(m) for m in middle))
    all_quads = np.array([[index[int(a)] for a in q] for q in np.concatenate([left, eye_quads])])
    varints(np.diff(all_quads.reshape(-1), prepend=0))
    for plane in planes:
        q = np.round(np.clip(plane, 0, 1) * 255).astype(np.int64)
        varints(np.diff(q, prepend=0))
    for ids in LANDMARKS:
        ids = ids if len(ids) == 2 else ids * 2
        varints([index[i] for i in ids])
    numbers([x for row in rows for x in row], "f")

    def with_joints(d):                      # joints ride along as further places
        return np.concatenate([d[half], [d[j].mean(0) for j in joints]])
    places(with_joints(BASE))
    for shape in shapes:
        places(with_joints(shape))
    OUT.parent.mkdir(parents=True, exist_ok=True)
    OUT.write_bytes(bytes(out))
    print(f"{n} vertices, {len(left)} + {len(eye_quads)} quads, {len(shapes)} shapes: {len(out)} bytes")


if __name__ == "__main__":
    main()

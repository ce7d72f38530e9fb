#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Writes cabin.obj: an invented cabin with its handrails, as a drawing office would export it.

    python3 cabin.py > cabin.obj

Frame as in a model: +x forward, +y starboard, +z nadir, metres. A drum 4 m long with racetrack rails on posts along it, a
round ring rail about it, a handle bent down to the hull, and three thin things that are no rails: a pipe on the hull, a
mast too thick for a glove, a wire.
"""
import math

RADIUS, LENGTH, SIDES = 1.5, 4.0, 72
vertices, groups = [], []


def add(v):
    vertices.append(v)
    return len(vertices)


def place(x, deg, h):
    """Off the hull by h, at an angle about it from zenith toward starboard."""
    a = math.radians(deg)
    return (x, (RADIUS + h) * math.sin(a), -(RADIUS + h) * math.cos(a))


def minus(a, b): return tuple(p - q for p, q in zip(a, b))
def plus(a, b): return tuple(p + q for p, q in zip(a, b))
def times(s, a): return tuple(s * p for p in a)
def dot(a, b): return sum(p * q for p, q in zip(a, b))
def cross(a, b): return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
def unit(a): return times(1 / math.sqrt(dot(a, a)), a)


def round_section(diameter, sides):
    return [(diameter / 2 * math.cos(2 * math.pi * i / sides), diameter / 2 * math.sin(2 * math.pi * i / sides)) for i in range(sides)]


def racetrack(width, height, sides):
    r, flat, half, out = height / 2, (width - height) / 2, sides // 2, []
    for end in (1, -1):
        for i in range(half):
            a = -math.pi / 2 + math.pi * i / (half - 1)
            out.append((end * (flat + r * math.cos(a)), end * r * math.sin(a)))
    return out


def sweep(name, line, up, section, ring=False):
    """Carries the section along the line, its second axis toward up."""
    faces, rings, n = [], [], len(line)
    for i, p in enumerate(line):
        before = line[i - 1] if i or ring else p
        after = line[(i + 1) % n] if i + 1 < n or ring else p
        along = unit(minus(after, before))
        u = up[i] if isinstance(up, list) else up
        y = unit(minus(u, times(dot(u, along), along)))
        x = cross(along, y)
        rings.append([add(plus(p, plus(times(a, x), times(b, y)))) for a, b in section])
    m = len(section)
    for i in range(n if ring else n - 1):
        a, b = rings[i], rings[(i + 1) % n]
        for k in range(m):
            faces.append((a[k], a[(k + 1) % m], b[(k + 1) % m], b[k]))
    if not ring:
        faces.append(tuple(reversed(rings[0])))
        faces.append(tuple(rings[-1]))
    groups.append((name, faces))


def post(name, x, deg, h):
    sweep(name, [place(x, deg, -0.01), place(x, deg, h)], (1, 0, 0), round_section(0.02, 10))


def outward(deg): return unit(place(0, deg, 0))


def rail(name, deg, begin, end, height=0.085):
    sweep(name, [place(begin, deg, height), place(end, deg, height)], outward(deg), racetrack(0.035, 0.019, 16))
    posts = max(2, round((end - begin) / 0.7) + 1)
    for i in range(posts):
        post(name, begin + 0.06 + (end - begin - 0.12) * i / (posts - 1), deg, height)


# The hull. Half a facet turned, so that every rail stands over the middle of one.
faces, half = [], 180 / SIDES
ends = [[add(place(x, 360 * k / SIDES - half, 0)) for k in range(SIDES)] for x in (0, LENGTH)]
for k in range(SIDES):
    n = (k + 1) % SIDES
    faces.append((ends[0][k], ends[1][k], ends[1][n], ends[0][n]))
faces.append(tuple(ends[0]))
faces.append(tuple(reversed(ends[1])))
# Outward: the first face's normal must point away from the axis.
a, b, c = (vertices[i - 1] for i in faces[0][:3])
if dot(cross(minus(b, a), minus(c, a)), outward(0)) < 0:
    faces = [tuple(reversed(f)) for f in faces]
groups.append(("hull", faces))

for deg, side in ((0, "zenith"), (90, "starboard"), (-90, "port")):
    rail("handrail_" + side + "_aft", deg, 0.3, 1.65)
    rail("handrail_" + side + "_forward", deg, 2.15, 3.7)

steps = 144
sweep("handrail_ring", [place(1.9, 360 * i / steps, 0.085) for i in range(steps)], [outward(360 * i / steps) for i in range(steps)],
      round_section(0.032, 16), ring=True)
for i in range(12):
    post("handrail_ring", 1.9, 15 + 30 * i, 0.085)

# A handle: up from the hull, over a bend of 50 mm, along, and down again; room for one hand.
bend, h, x0, x1, line, up = 0.05, 0.09, 2.3, 2.6, [], []
line.append((x0, -0.01)); up.append((-1, 0))
for i in range(9):
    t = math.pi / 2 * i / 8
    line.append((x0 + bend * (1 - math.cos(t)), h - bend * (1 - math.sin(t)))); up.append((-math.cos(t), math.sin(t)))
for i in range(8, -1, -1):
    t = math.pi / 2 * i / 8
    line.append((x1 - bend * (1 - math.cos(t)), h - bend * (1 - math.sin(t)))); up.append((math.cos(t), math.sin(t)))
line.append((x1, -0.01)); up.append((1, 0))
sweep("handle", [place(x, 45, z) for x, z in line], [plus((u, 0, 0), times(v, outward(45))) for u, v in up], round_section(0.03, 12))

sweep("pipe", [place(2.2, 150, 0.03), place(3.7, 150, 0.03)], outward(150), round_section(0.04, 12))
sweep("mast", [place(2.9, 180, -0.02), place(2.9, 180, 1.6)], (1, 0, 0), round_section(0.09, 16))
sweep("wire", [place(2.2, 120, 0.08), place(3.7, 120, 0.08)], outward(120), round_section(0.006, 6))

print("# An invented cabin, written by cabin.py; metres")
for v in vertices:
    print("v %.6f %.6f %.6f" % v)
for name, faces in groups:
    print("g " + name)
    for f in faces:
        print("f " + " ".join(str(i) for i in f))

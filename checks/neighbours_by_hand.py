"""Levels at neighbours worked again from ISO 9613-2:1996, sharing nothing with the tool: reflections, steps in the ground and
obstacles in space. What is decided where the standard is silent stands in the tool's documentation; here it is gone about in
other ways: gift wrapping in the vertical plane, clipping of convex outlines, scipy's convex hulls in plan, and for reflections
a second site, in which everything ahead of a face stands as it is and mirrored, each cut off at the face's plane.

Sources: ISO 9613-1:1993 (air), ISO 9613-2:1996 equations 3 to 20 and Tables 3 and 4, ISO/TR 17534-3:2015 (lateral ways, C3).
Buildings and ground regions are convex, screens straight from end to end.
"""

import math

import numpy as np
from scipy.spatial import ConvexHull

NOMINAL = [63, 125, 250, 500, 1000, 2000, 4000, 8000]
A_WEIGHTING = [-26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1]  # IEC 61672-1 Table 3
FLAT_HARD_WALL, WALL_WITH_WINDOWS = 1.0, 0.8  # ISO 9613-2:1996 Table 4
TOUCH = 1e-6


def absorption(f, temperature, humidity, pressure):
    """ISO 9613-1, dB/m."""
    t, p = (temperature + 273.15) / 293.15, pressure / 101.325
    h = humidity * 10 ** (-6.8346 * (273.16 / (t * 293.15)) ** 1.261 + 4.6151) / p
    fro = p * (24 + 4.04e4 * h * (0.02 + h) / (0.391 + h))
    frn = p * t**-0.5 * (9 + 280 * h * math.exp(-4.17 * (t ** (-1 / 3) - 1)))
    vibration = 0.01275 * math.exp(-2239.1 / (t * 293.15)) / (fro + f * f / fro) + 0.1068 * math.exp(
        -3352 / (t * 293.15)
    ) / (frn + f * f / frn)
    return 8.686 * f * f * (1.84e-11 / p * math.sqrt(t) + t**-2.5 * vibration)


def counter_clockwise(outline):
    outline = np.array(outline, float)
    x, y = outline.T
    return outline if np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)) > 0 else outline[::-1]


def clip(outline, a, b):
    """Cyrus-Beck: where a -> b runs inside a convex outline, as fractions, or None."""
    outline = counter_clockwise(outline)
    enter, leave = 0.0, 1.0
    for p, q in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        inward = np.array([p[1] - q[1], q[0] - p[0]])
        start, rate = inward @ (a - p), inward @ (b - a)
        if rate == 0:
            if start < 0:
                return None
        elif rate > 0:
            enter = max(enter, -start / rate)
        else:
            leave = min(leave, -start / rate)
    return (enter, leave) if leave - enter > 1e-9 else None


def inside(outline, p):
    eps = np.array([1e-7, 1.3e-7])
    return clip(outline, p - eps, p + eps) is not None


def crossing(line, a, b):
    """Fractions of a -> b at which it crosses the pieces of a line."""
    found = []
    for p, q in zip(np.array(line[:-1], float), np.array(line[1:], float), strict=True):
        matrix = np.column_stack([b - a, p - q])
        if abs(np.linalg.det(matrix)) > 1e-12:
            s, t = np.linalg.solve(matrix, p - a)
            if 0 < s < 1 and 0 <= t <= 1:
                found.append(s)
    return found


class Thing:
    """What stands in the way: a convex outline, or a line, whole or what is left of it in pieces, from foot to top."""

    def __init__(self, pieces, top, foot, kind, rho):
        self.pieces = [np.array(piece, float) for piece in pieces]
        self.points = np.vstack(self.pieces)
        self.top, self.foot, self.kind, self.rho = top, foot, kind, rho

    def cuts(self, a, b):
        if self.kind == "building":
            return list(clip(self.points, a, b) or [])
        return [t for piece in self.pieces for t in crossing(piece, a, b)]

    def faces(self):
        """Ends and outward normal of every face."""
        points = counter_clockwise(self.points) if self.kind == "building" else self.points
        ends = zip(points, np.roll(points, -1, axis=0), strict=True) if self.kind == "building" else zip(points, points[1:])
        for a, b in ends:
            along = (b - a) / np.linalg.norm(b - a)
            right = np.array([along[1], -along[0]])
            yield a, b, right
            if self.kind == "screen":
                yield a, b, -right

    def cut_off(self, keep):
        """The part where `keep` (a signed distance) is positive, or None."""
        closed = self.kind == "building"
        points = np.vstack([self.points, self.points[:1]]) if closed else self.points
        pieces, kept = [], []
        for p, q in zip(points, points[1:]):
            dp, dq = keep(p), keep(q)
            if dp > 0:
                kept.append(p)
            if (dp > 0) != (dq > 0):
                kept.append(p + (q - p) * dp / (dp - dq))
                if dp > 0 and not closed:
                    pieces, kept = [*pieces, kept], []
        if not closed and keep(points[-1]) > 0:
            kept.append(points[-1])
        pieces = [piece for piece in [*pieces, kept] if len(piece) >= (3 if closed else 2)]
        return Thing(pieces, self.top, self.foot, self.kind, self.rho) if pieces else None

    def mirrored(self, mirror):
        pieces = [[mirror(p) for p in piece] for piece in self.pieces]
        return Thing(pieces, self.top, self.foot, self.kind, self.rho)


def things(scene):
    all_things = [Thing([s["line"]], s["top_m"], s.get("foot_m", 0), "screen", s.get("reflection", FLAT_HARD_WALL))
                  for s in scene.get("screens", [])]
    all_things += [Thing([b["outline"]], b["height_m"], b.get("foot_m", 0), "building",
                         b.get("reflection", WALL_WITH_WINDOWS))
                   for b in scene.get("buildings", [])]
    return all_things + [Thing([s["line"]], s["top_m"], s["foot_m"], "step", FLAT_HARD_WALL) for s in scene.get("steps", [])]


def regions(scene):
    return [Thing([g["outline"]], 0, 0, "building", g["g"]) for g in scene["ground"].get("regions", [])]


# Ground, clause 7.3.1 and Table 3.


def ground_factor(pieces, default, s, r, start, end):
    """Mean G along a stretch of s -> r in metres."""
    dp = np.linalg.norm(r - s)
    a, b = s + (r - s) * start / dp, s + (r - s) * end / dp

    def at(p):
        g = default
        for piece in pieces:
            if inside(piece.points, p):
                g = piece.rho
        return g

    if end - start < 1e-9:
        return at(a)
    marks = sorted({0.0, 1.0, *(t for g in pieces for t in (clip(g.points, a, b) or ()))})
    return sum((v - u) * at(a + (b - a) * (u + v) / 2) for u, v in zip(marks[:-1], marks[1:], strict=True))


def ground_terms(g, h, dp):
    e = math.exp
    far = 1 - e(-dp / 50)
    a = 1.5 + 3.0 * e(-0.12 * (h - 5) ** 2) * far + 5.7 * e(-0.09 * h * h) * (1 - e(-2.8e-6 * dp * dp))
    rest = [1.5 + k * e(-w * h * h) * far for k, w in ((8.6, 0.09), (14.0, 0.46), (5.0, 0.9))]
    return [-1.5, *(-1.5 + g * v for v in (a, *rest)), *[-1.5 * (1 - g)] * 3]


def ground(pieces, default, s, hs, r, hr):
    dp = np.linalg.norm(r - s)
    near_s = ground_terms(ground_factor(pieces, default, s, r, 0, min(30 * hs, dp)), hs, dp)
    near_r = ground_terms(ground_factor(pieces, default, s, r, dp - min(30 * hr, dp), dp), hr, dp)
    q = max(0.0, 1 - 30 * (hs + hr) / dp)
    g = ground_factor(pieces, default, s, r, 30 * hs, dp - 30 * hr) if q > 0 else 0
    return [x + y - 3 * q * (1 if i == 0 else 1 - g) for i, (x, y) in enumerate(zip(near_s, near_r, strict=True))]


# Screening, clause 7.4.


def wrapped(edges, start, end):
    """The string over edges in the vertical plane: always on to the edge seen under the steepest angle."""
    path = [start]
    while path[-1] != end:
        x, z = path[-1]
        ahead = [p for p in [*edges, end] if p[0] > x + 1e-9]
        path.append(max(ahead, key=lambda p: ((p[1] - z) / (p[0] - x), p[0])))
    return path


def legs(path):
    return [math.dist(p, q) for p, q in zip(path[:-1], path[1:], strict=True)]


def dz(z, wavelength, between, several, weather=1.0):
    c3 = 1.0
    if several:
        square = (5 * wavelength / between) ** 2
        c3 = (1 + square) / (1 / 3 + square)
    inner = 3 + 20 / wavelength * c3 * z * weather
    return 10 * math.log10(inner) if inner > 1 else 0.0


def round_side(all_things, taken, s, r, zs, zr, side):
    """The way round one side in plan: its legs lengthened by the climb."""
    dp = np.linalg.norm(r - s)
    ex = (r - s) / dp
    ey = side * np.array([-ex[1], ex[0]])
    taken = set(taken)
    while True:
        beside = [(ex @ (p - s), ey @ (p - s)) for i in taken for p in all_things[i].points]
        points = np.array([(0.0, 0.0), (dp, 0.0), *(p for p in beside if p[1] > TOUCH)])
        if len(points) == 2:
            path = [(0.0, 0.0), (dp, 0.0)]
        else:
            order = list(ConvexHull(points).vertices)
            order = order[order.index(0) :] + order[: order.index(0)]
            # Counter-clockwise from the source the receiver comes first; the other way is the string.
            path = [tuple(points[0]), *(tuple(points[i]) for i in reversed(order[2:])), tuple(points[1])]
        world = [s + ex * x + ey * y for x, y in path]
        total, done, hit = sum(legs(path)), 0.0, None
        for a, b, length in zip(world[:-1], world[1:], legs(path), strict=True):
            for i, thing in enumerate(all_things):
                if i in taken:
                    continue
                heights = [zs + (zr - zs) * (done + t * length) / total for t in thing.cuts(a, b)]
                if heights and min(heights) < thing.top:
                    hit = i
            done += length
        if hit is None:
            stretch = math.hypot(total, zr - zs) / total
            return [stretch * leg for leg in legs(path)]
        taken.add(hit)


def screening(all_things, s3, ground_s, r3, ground_r, agr):
    """Attenuation by what stands between two places, octave by octave, dB."""
    s, r, zs, zr = s3[:2], r3[:2], s3[2], r3[2]
    d, dp = np.linalg.norm(r3 - s3), np.linalg.norm(r - s)

    def sight(x):
        return zs + (zr - zs) * x / dp

    edges = [(t * dp, thing.top, i) for i, thing in enumerate(all_things) for t in thing.cuts(s, r)
             if TOUCH < t * dp < dp - TOUCH]
    # A step takes nothing where the sight passes above it.
    edges = [e for e in edges if all_things[e[2]].kind != "step" or e[1] > sight(e[0])]
    if not edges:
        return [0.0] * 8
    blocking = [e for e in edges if e[1] > sight(e[0])]
    if blocking:
        over = legs(wrapped([e[:2] for e in edges], (0.0, zs), (dp, zr)))
        z = sum(over) - d
        weather = math.exp(-math.sqrt(over[0] * over[-1] * d / (2 * z)) / 2000)
        top = (z, sum(over[1:-1]), len(over) > 2, weather)
        around = {e[2] for e in blocking}
    else:
        detour = {e: d - math.hypot(e[0], e[1] - zs) - math.hypot(dp - e[0], e[1] - zr) for e in edges}
        best = max(detour, key=detour.get)
        top, around = (detour[best], 0.0, False, 1.0), {best[2]}
    high_ground = any(all_things[i].kind == "step" and all_things[i].top <= max(ground_s, ground_r) + TOUCH for i in around)
    sides = [] if high_ground else [round_side(all_things, around, s, r, zs, zr, side) for side in (1, -1)]
    losses = []
    for i, f in enumerate(NOMINAL):
        wavelength = 340 / f
        z, between, several, weather = top
        over = min(dz(z, wavelength, between, several, weather), 25 if several else 20)
        energy = 10 ** (-max(0, over - max(0, agr[i])) / 10)
        for way in sides:
            energy += 10 ** (-dz(sum(way) - d, wavelength, sum(way[1:-1]), len(way) > 2) / 10)
        losses.append(-10 * math.log10(min(1, energy)))
    return losses


def straight(scene, all_things, pieces, s3, ground_s, r3, ground_r):
    """Loss along a straight (or unfolded) way, octave by octave, dB."""
    air = scene["atmosphere"]
    agr = ground(pieces, scene["ground"]["default_g"], s3[:2], s3[2] - ground_s, r3[:2], r3[2] - ground_r)
    bars = screening(all_things, s3, ground_s, r3, ground_r, agr)
    d = np.linalg.norm(r3 - s3)
    losses = []
    for i in range(8):
        exact = 1000 * 10 ** (0.3 * (i - 4))
        aatm = d * absorption(exact, air["temperature_c"], air["humidity_percent"], air["pressure_kpa"])
        losses.append(20 * math.log10(d) + 11 + aatm + agr[i] + bars[i])
    return losses


# Reflections, clause 7.5.


def specular(face, foot, top, s3, r3):
    """Image, place of reflection and fraction of the way there; None where nothing is reflected."""
    a, b, normal = face
    ds, dr = normal @ (s3[:2] - a), normal @ (r3[:2] - a)
    if ds <= TOUCH or dr <= TOUCH:
        return None
    image = np.array([*(s3[:2] - 2 * ds * normal), s3[2]])
    found = crossing([a, b], image[:2], r3[:2])
    if not found:
        return None
    at = image + (r3 - image) * found[0]
    return (image, at, found[0]) if foot <= at[2] <= top else None


def reflected(scene, all_things, pieces, s3, ground_s, r3, ground_r):
    """Level over the source's power by way of each face: (place of the image, eight values or None where it is none)."""
    for thing in all_things:
        for face in thing.faces():
            a, b, normal = face
            found = specular(face, thing.foot, thing.top, s3, r3)
            if not found:
                continue
            image, at, part = found
            before = at[:2] + 1e-3 * normal
            if any(o.kind == "building" and at[2] < o.top and inside(o.points, before) for o in all_things):
                continue
            whole = np.linalg.norm(r3 - image)
            to, on = part * whole, (1 - part) * whole
            cosine = normal @ (r3[:2] - image[:2]) / whole
            least = min(np.linalg.norm(b - a), thing.top - thing.foot)
            large = [f / 340 > 2 / (least * cosine) ** 2 * to * on / (to + on) for f in NOMINAL]
            if thing.rho <= 0.2 or not any(large):
                continue

            def ahead(p, a=a, normal=normal):
                return normal @ (p - a)

            def mirror(p, a=a, normal=normal):
                return p - 2 * (normal @ (p - a)) * normal

            def both(shapes, ahead=ahead, mirror=mirror):
                halves = [shape.cut_off(lambda p: ahead(p) - TOUCH) for shape in shapes]
                halves = [half for half in halves if half]
                return halves + [half.mirrored(mirror) for half in halves]

            losses = straight(scene, both(all_things), both(pieces), image, ground_s, r3, ground_r)
            gains = [10 * math.log10(thing.rho) - loss if fits else None for fits, loss in zip(large, losses, strict=True)]
            yield image, gains


def decibels(energy):
    return 10 * math.log10(energy) if energy > 0 else -math.inf


def transfers(scene, source, receiver):
    """Level at a receiver over a source's power, straight and by all faces together, octave by octave, dB."""
    s3, r3 = np.array(source["position"], float), np.array(receiver["position"], float)
    ground_s, ground_r = source.get("ground_m", 0.0), receiver.get("ground_m", 0.0)
    all_things, pieces = things(scene), regions(scene)
    direct = [-loss for loss in straight(scene, all_things, pieces, s3, ground_s, r3, ground_r)]
    # Faces in one plane are one image: the one that gives most.
    images = {}
    for image, gains in reflected(scene, all_things, pieces, s3, ground_s, r3, ground_r):
        place = tuple(np.round(image, 3))
        energy = [10 ** (g / 10) if g is not None else 0.0 for g in gains]
        weight = sum(e * 10 ** ((p + a) / 10) for e, p, a in zip(energy, source["sound_power_db"], A_WEIGHTING, strict=True))
        if place not in images or images[place][0] < weight:
            images[place] = (weight, energy)
    by_faces = [sum(energy[i] for _, energy in images.values()) for i in range(8)]
    return direct, [decibels(10 ** (d / 10) + e) for d, e in zip(direct, by_faces, strict=True)], len(images)


def levels(scene):
    """Octave levels at the first receiver, all sources added in energy, dB."""
    energy = [0.0] * 8
    for source in scene["sources"]:
        _, total, _ = transfers(scene, source, scene["receivers"][0])
        for i in range(8):
            energy[i] += 10 ** ((source["sound_power_db"][i] + total[i]) / 10)
    return [decibels(e) for e in energy]


def a_weighted(bands):
    return decibels(sum(10 ** ((b + a) / 10) for b, a in zip(bands, A_WEIGHTING, strict=True)))

"""The partner of bench/src/bin/field.rs: the same field in NumPy, float64, written plainly but vectorised over points.

Reads a scene as JSON, writes {"ms", "energy"}. Where several obstacles stand in one line it takes the longest single
detour instead of the taut string over all, so a few points behind two things differ slightly.
"""

import json
import sys
import time

import numpy as np
from scipy.special import wofz

scene = json.load(open(sys.argv[1]))
C = scene["c"]
HZ = 1000 * 10 ** (np.arange(-17, 14) / 10)
NEPER = np.array(scene["alpha"]) * np.log(10) / 20
COHERENT = scene["coherent"]
OBSTACLES = [{**o, "corners": np.array(o["corners"], float), "reflectance": np.array(o["reflectance"])}
             for o in scene["obstacles"]]  # fmt: skip
GROUND = [(np.array(g["outline"], float), g["flow"]) for g in scene["ground"]]
TABLES = [np.array(t)[:, :31] for t in scene["tables"]]
CLEAR = -0.1 * 17.7  # a tenth of the longest wave


def band_lines():
    """Frequency, band and share of energy of each line of the coherent bands (Gauss-Legendre)."""
    hz, band, weight = [], [], []
    for b in range(COHERENT):
        n = -(-2 * scene["lines"] // 5) if b < 8 else scene["lines"]
        x, w = np.polynomial.legendre.leggauss(n)
        hz.append(HZ[b] * 10 ** (0.5 * x / 10))
        band.append(np.full(n, b))
        weight.append(w / 2)
    return np.concatenate(hz), np.concatenate(band), np.concatenate(weight)


LINE_HZ, LINE_BAND, LINE_WEIGHT = band_lines()
UPPER = np.arange(COHERENT, 31)
WIDTH = HZ[UPPER] * (10**0.05 - 10**-0.05)
MIDDLE = WIDTH / np.log(10**0.1)


def inside(outline, p):
    x, y = p[:, 0], p[:, 1]
    hit = np.zeros(len(p), bool)
    for a, b in zip(outline, np.roll(outline, -1, axis=0)):
        straddles = (a[1] > y) != (b[1] > y)
        with np.errstate(divide="ignore", invalid="ignore"):
            hit ^= straddles & (x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0])
    return hit


def flow_at(p):
    flow = np.full(len(p), float(scene["default_flow"]))
    for outline, value in GROUND:
        flow[inside(outline, p)] = value
    return flow


def reflection(hz, flow, r2, cos):
    """Spherical-wave reflection coefficient: points by frequencies."""
    x = hz / flow[:, None]
    beta = 1 / (1 + 9.08 * x**-0.75 + 11.9j * x**-0.73)
    plane = (cos[:, None] - beta) / (cos[:, None] + beta)
    w = (1 + 1j) / 2 * np.sqrt(2 * np.pi * hz / C * r2[:, None]) * (cos[:, None] + beta)
    return plane + (1 - plane) * (1 + 1j * np.sqrt(np.pi) * w * wofz(w))


def loss(n):
    x = np.sqrt(2 * np.pi * np.abs(n)) + 1e-9
    with np.errstate(all="ignore"):
        shadow = np.minimum(24, 5 + 20 * np.log10(x / np.tanh(x)))
        lit = np.maximum(0, 5 + 20 * np.log10(x / np.tan(x)))
    return np.where(n >= 0, shadow, np.where(n > -0.2, lit, 0.0))


def screened(detour, hz):
    """Share of the energy that gets past: points by frequencies."""
    near, left, right = (2 * d[:, None] * hz / C for d in detour)
    fade = np.where(near >= 0, 1.0, loss(near) / 5)
    e = 10 ** (-loss(near) / 10) + fade * (10 ** (-loss(left) / 10) + 10 ** (-loss(right) / 10))
    return np.minimum(1, e)


def cross(u, v):
    return u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]


def pieces(o):
    c = o["corners"]
    ends = [(c[i], c[i + 1]) for i in range(len(c) - 1)]
    return ends + ([(c[-1], c[0])] if o["closed"] else [])


def crossings(o, a, b, skip=None):
    """First and last fraction of a -> b at which an obstacle is met; NaN where it is not."""
    d = b - a
    first, last = np.full(len(b), np.inf), np.full(len(b), -np.inf)
    for i, (p, q) in enumerate(pieces(o)):
        if i == skip:
            continue
        along = q - p
        sp, sq = cross(d, p - a), cross(d, q - a)
        with np.errstate(divide="ignore", invalid="ignore"):
            t = cross(p - a, np.broadcast_to(along, d.shape)) / cross(d, along)
        hit = ((sp > 0) != (sq > 0)) & (t > 1e-9) & (t < 1 - 1e-9)
        first, last = np.where(hit, np.minimum(first, t), first), np.where(hit, np.maximum(last, t), last)
    return first, last


def over(z, top, unfolded):
    return np.abs(z) - top if unfolded else z - top


def detours(a, b, za, zb, unfolded):
    """Detours over the top and past the ends of what stands in or beside a -> b: near, two others, whether felt."""
    n = len(b)
    d = b - a
    plan = np.hypot(d[:, 0], d[:, 1])
    straight = np.hypot(plan, zb - za)

    def bend(at, z):
        to, fro = np.hypot(*(at - a).T), np.hypot(*(b - at).T)
        return np.hypot(to, z - za) + np.hypot(fro, zb - z) - straight

    shadow = np.zeros(n, bool)
    top_extra, left, right = np.zeros(n), np.zeros(n), np.zeros(n)
    clear, clear_left, clear_right = np.full(n, -np.inf), np.zeros(n), np.zeros(n)
    for o in OBSTACLES:
        t0, t1 = crossings(o, a, b)
        met = np.isfinite(t0)
        t0, t1 = np.where(met, t0, 0.5), np.where(met, t1, 0.5)
        top = o["top"]
        z0, z1 = za + (zb - za) * t0, za + (zb - za) * t1
        e0, e1 = (np.copysign(top, z0), np.copysign(top, z1)) if unfolded else (np.full(n, top), np.full(n, top))
        p0, p1 = a + d * t0[:, None], a + d * t1[:, None]
        blocks = met & (np.minimum(over(z0, top, unfolded), over(z1, top, unfolded)) < 0)
        both = np.hypot(plan * t0, e0 - za) + plan * (t1 - t0) + np.hypot(plan * (1 - t1), zb - e1) - straight
        extra = np.maximum(np.maximum(bend(p0, e0), bend(p1, e1)), both)
        ends = []
        for side in (1, -1):
            longest = np.zeros(n)
            corners = o["corners"]
            on = [side * cross(d, c - a) > 0 for c in corners]
            along = [((c - a) * d).sum(1) for c in corners]
            for i, p in enumerate(corners):
                one = np.hypot(*(p - a).T) + np.hypot(*(b - p).T)
                longest = np.where(on[i], np.maximum(longest, one), longest)
                for j, q in enumerate(corners):
                    if i != j:
                        two = np.hypot(*(p - a).T) + np.hypot(*(q - p)) + np.hypot(*(b - q).T)
                        ok = on[i] & on[j] & (along[i] <= along[j])
                        # Only an outward chain is a taut string.
                        ok &= side * cross(q - p, p - a) <= 0
                        ok &= side * cross(b - q, np.broadcast_to(q - p, b.shape)) >= 0
                        longest = np.where(ok, np.maximum(longest, two), longest)
            ends.append(np.maximum(np.hypot(np.maximum(longest, plan), zb - za) - straight, 0))
        shadow |= blocks
        top_extra = np.where(blocks, np.maximum(top_extra, extra), top_extra)
        left = np.where(blocks, np.maximum(left, ends[0]), left)
        right = np.where(blocks, np.maximum(right, ends[1]), right)
        above = np.where(met & ~blocks, -np.minimum(bend(p0, e0), bend(p1, e1)), -np.inf)
        better = above > clear
        clear = np.where(better, above, clear)
        clear_left, clear_right = np.where(better, ends[0], clear_left), np.where(better, ends[1], clear_right)
        for c in o["corners"]:
            t = ((c - a) * d).sum(1) / plan**2
            z = za + (zb - za) * t
            nearest = np.clip(z, -top, top) if unfolded else np.minimum(z, top)
            beside = np.where(~met & (t > 0) & (t < 1), -bend(np.broadcast_to(c, b.shape), nearest), -np.inf)
            better = beside > clear
            edge = np.copysign(top, z) if unfolded else np.full(n, top)
            clear = np.where(better, beside, clear)
            clear_left = np.where(better, np.maximum(ends[0], ends[1]), clear_left)
            clear_right = np.where(better, bend(np.broadcast_to(c, b.shape), edge), clear_right)
    felt = shadow | (clear > CLEAR)
    return (np.where(shadow, top_extra, clear), np.where(shadow, left, clear_left),
            np.where(shadow, right, clear_right)), felt  # fmt: skip


def legs_clear(a, b, za, zb, unfolded, own):
    ok = np.ones(len(b), bool)
    for o in OBSTACLES:
        t0, t1 = crossings(o, a, b, own[1] if o is own[0] else None)
        met = np.isfinite(t0)
        low = np.minimum(over(za + (zb - za) * np.where(met, t0, 0), o["top"], unfolded),
                         over(za + (zb - za) * np.where(met, t1, 0), o["top"], unfolded))  # fmt: skip
        ok &= ~(met & (low < 0))
    return ok


def paths_of(source, p):
    """All paths from a source: which points, length, departure, ground (flow, cos) or None, reflectance, detour."""
    s, plan, z = np.array(source["at"][:2]), p[:, :2], p[:, 2]
    zs = 0.01 if source["in_ground"] else max(source["at"][2], 0.01)
    everywhere = np.arange(len(p))

    def lengths(start):
        flat = np.hypot(*(plan - start).T)
        r1 = np.maximum(np.hypot(flat, z - zs), 0.1)
        r2 = r1 + 4 * zs * z / (np.hypot(flat, z - zs) + np.hypot(flat, z + zs))
        return r1, r2

    r1, r2 = lengths(s)
    straight = np.column_stack([plan - s, z - zs])
    down = straight if source["in_ground"] else np.column_stack([plan - s, -(z + zs)])
    out = []
    detour, felt = detours(s, plan, zs, z, False)
    out.append((everywhere, r1, straight, None, 1.0, (detour, felt)))
    detour, felt = detours(s, plan, -zs, z, True)
    specular = s + (plan - s) * (zs / (zs + z))[:, None]
    out.append((everywhere, r2, down, (flow_at(specular), (zs + z) / r2), 1.0, (detour, felt)))
    for o in OBSTACLES:
        for i, (fa, fb) in enumerate(pieces(o)):
            along = (fb - fa) / np.hypot(*(fb - fa))
            for normal in [np.array([along[1], -along[0]])] + ([] if o["closed"] else [np.array([-along[1], along[0]])]):
                ahead = (s - fa) @ normal
                if ahead <= 1e-6:
                    continue
                image = s - 2 * ahead * normal
                mine = (plan - fa) @ normal
                t = ahead / (ahead + np.maximum(mine, 1e-12))
                x = image + (plan - image) * t[:, None]
                u = (x - fa) @ (fb - fa)
                seen = (mine > 0) & (u >= 0) & (u <= (fb - fa) @ (fb - fa))
                r1, r2 = lengths(image)
                leaving = (plan - image) - 2 * ((plan - image) @ normal)[:, None] * normal
                for unfolded in (False, True):
                    za, top = -zs if unfolded else zs, o["top"]
                    at = za + (z - za) * t
                    ok = seen & (np.abs(at) <= top if unfolded else (at >= 0) & (at <= top))
                    index = np.flatnonzero(ok)
                    xi, ati, pi, zi = x[index], at[index], plan[index], z[index]
                    ok = legs_clear(np.broadcast_to(s, xi.shape), xi, za, ati, unfolded, (o, i))
                    ok &= legs_clear(xi, pi, ati, zi, unfolded, (o, i))
                    index = index[ok]
                    zi = z[index]
                    if unfolded:
                        g = zs / (zs + zi)
                        specular = image + (plan[index] - image) * g[:, None]
                        back = g < t[index]
                        specular[back] -= 2 * ((specular[back] - fa) @ normal)[:, None] * normal
                        leave = np.column_stack([leaving[index], -(zi + zs)])
                        bounce = (flow_at(specular), (zs + zi) / r2[index])
                        out.append((index, r2[index], leave, bounce, o["reflectance"], None))
                    else:
                        leave = np.column_stack([leaving[index], zi - zs])
                        out.append((index, r1[index], leave, None, o["reflectance"], None))
    return out


def directivity(source, leave):
    rows = TABLES[source["table"]]
    if len(rows) == 1:
        return np.broadcast_to(rows, (len(leave), 31))
    x, y, z = (leave @ np.array(source["turn"])).T / np.maximum(np.linalg.norm(leave, axis=1), 1e-12)
    if len(rows) == 513:  # alike all round the axis: even in the sine of half the angle
        place = np.sqrt(np.clip((1 - x) / 2, 0, 1)) * (len(rows) - 1)
        cell = np.minimum(place.astype(int), len(rows) - 2)
        t = (place - cell)[:, None]
        return rows[cell] * (1 - t) + rows[cell + 1] * t
    side = round(len(rows) ** 0.5)  # an octahedron folded out to a square
    total = np.abs(x) + np.abs(y) + np.abs(z)
    u, v = y / total, z / total
    u, v = (np.where(x < 0, np.copysign(1 - np.abs(v), u), u), np.where(x < 0, np.copysign(1 - np.abs(u), v), v))
    i, j = (np.clip(0.5 + 0.5 * a, 0, 1) * (side - 1) for a in (u, v))
    ci, cj = (np.minimum(a.astype(int), side - 2) for a in (i, j))
    s, t = (i - ci)[:, None], (j - cj)[:, None]
    at = cj * side + ci
    near, far = rows[at] * (1 - s) + rows[at + 1] * s, rows[at + side] * (1 - s) + rows[at + side + 1] * s
    return near * (1 - t) + far * t


def filter_at(source, hz):
    re, im = np.array(source["filter"]).T
    x, known = np.log(hz), np.log(scene["filter_hz"])
    return np.interp(x, known, re) + 1j * np.interp(x, known, im)


def field(p):
    total = np.zeros((len(p), 31))
    waves = {}
    for source in scene["sources"]:
        heard = np.zeros((len(p), len(LINE_HZ)), complex)
        upper = []
        for index, r, leave, bounce, reflectance, screen in paths_of(source, p):
            size = directivity(source, leave) * np.exp(-NEPER * r[:, None]) / r[:, None] * reflectance
            length = r
            at_lines, at_bands = size[:, LINE_BAND], size[:, UPPER]
            if screen is not None:
                detour, felt = screen
                shortest = np.maximum(np.minimum.reduce(detour), 0)
                length = r + np.where(felt, shortest, 0)
                felt_only = tuple(d[felt] for d in detour)
                at_lines = at_lines.copy()
                at_lines[felt] *= np.sqrt(screened(felt_only, LINE_HZ))
                at_bands = at_bands.copy()
                at_bands[felt] *= np.sqrt(screened(felt_only, HZ[UPPER]))
            at_bands = at_bands.astype(complex)
            if bounce is not None:
                at_lines = at_lines * reflection(LINE_HZ, bounce[0], r, bounce[1])
                at_bands = at_bands * reflection(HZ[UPPER], bounce[0], r, bounce[1])
            heard[index] += at_lines * np.exp(2j * np.pi * LINE_HZ * length[:, None] / C)
            full, far = np.zeros((len(p), len(UPPER)), complex), np.zeros(len(p))
            full[index], far[index] = at_bands, length
            upper.append((full, far))
        energy = np.array(source["energy"])
        drive = filter_at(source, LINE_HZ) * np.sqrt(energy[LINE_BAND] * LINE_WEIGHT) * np.exp(2j * np.pi * LINE_HZ * source["delay"])
        programme = source["programme"]
        waves[programme] = waves.get(programme, 0) + heard * drive
        mean = np.zeros((len(p), len(UPPER)))
        for i, (a, ra) in enumerate(upper):
            mean += np.abs(a) ** 2
            for b, rb in upper[:i]:
                apart = (ra - rb)[:, None] / C
                mean += 2 * np.real(a * np.conj(b) * np.exp(2j * np.pi * MIDDLE * apart)) * np.sinc(WIDTH * apart)
        total[:, UPPER] += np.maximum(mean, 0) * energy[UPPER] * np.abs(filter_at(source, HZ[UPPER])) ** 2
    for sum_of in waves.values():
        for b in range(COHERENT):
            total[:, b] += (np.abs(sum_of[:, LINE_BAND == b]) ** 2).sum(1)
    return total


points = np.array(scene["points"])
start = time.perf_counter()
# In slices, as memory wants it; larger ones are not faster.
energy = np.concatenate([field(points[i : i + 4000]) for i in range(0, len(points), 4000)])
elapsed = (time.perf_counter() - start) * 1e3
json.dump({"ms": elapsed, "energy": np.maximum(energy, 1e-30).ravel().tolist()}, open(sys.argv[2], "w"))

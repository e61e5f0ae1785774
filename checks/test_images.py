"""Image sources and what is seen of them against PyPI pyroomacoustics (its libroom: polygons in space, searched depth first): 200
random sites of walls and houses, L-shaped ones among them, on hard ground, four ears each. Which ways there are (straight, by
the ground, by a face, by a face and the ground), their lengths and arrivals to a microsecond, their amplitudes to 0.01 dB in all
bands, once what pyroomacoustics has not is taken off: air and the ground's own coefficient (`one_loudspeaker.py`).

A thin wall is two panels there, the one away from the source a millimetre behind; a box of absorbing planes far off closes the site.
The straight way and that by the ground stay here when something is in the way: then they must be longer. Amplitudes of these two
are compared where no edge is near enough to be felt (Fresnel number below -0.2 at that frequency).
"""

import math

import numpy as np
import pyroomacoustics as pra
import pytest

from one_loudspeaker import C, HZ, Site, ground_reflection, spread_db

SITES, EARS = 200, 4
# Half a site's width, metres.
REACH = 12.0


def sides(outline):
    return list(zip(outline, np.roll(outline, -1, axis=0), strict=True))


class RandomSite:
    def __init__(self, seed):
        self.r = np.random.default_rng([20, seed])
        self.houses, self.walls, self.kept = [], [], []
        for _ in range(int(self.r.integers(1, 4))):
            self.stand(self.house)
        for _ in range(int(self.r.integers(0, 3))):
            self.stand(self.wall)
        self.source = self.place(0.2, 3)
        self.ears = [self.place(0.3, 2.6) for _ in range(EARS)]

    def number(self, low, high):
        return round(float(self.r.uniform(low, high)), 3)

    def stand(self, thing):
        """Puts up something clear of all the rest, if there is room."""
        made, middle, radius = thing()
        if all(math.dist(middle, m) > radius + r + 0.2 for m, r in self.kept):
            self.kept.append((middle, radius))
            (self.houses if "outline" in made else self.walls).append(made)

    def house(self):
        width, depth, turn = self.number(2, 8), self.number(2, 6), self.number(0, 2 * math.pi)
        corners = [(0, 0), (width, 0), (width, depth), (0, depth)]
        if self.r.random() < 0.4:
            corners[2:3] = [(width, depth / 3), (width / 2, depth / 3), (width / 2, depth)]
        middle, outline = self.turned(corners, (width / 2, depth / 2), turn)
        height = self.number(1, 7)
        return {"outline": outline, "height": height, "absorption": self.number(0, 0.8)}, middle, math.hypot(width, depth) / 2

    def wall(self):
        length, turn = self.number(2, 9), self.number(0, 2 * math.pi)
        corners = [(0, 0), (length, 0)]
        if self.r.random() < 0.4:
            corners[1:1] = [(length / 2, self.number(-1.5, 1.5))]
        middle, line = self.turned(corners, (length / 2, 0), turn)
        return {"line": line, "height": self.number(0.6, 3.5), "absorption": self.number(0, 0.8)}, middle, length / 2 + 1.5

    def turned(self, corners, centre, turn):
        middle = (self.number(-REACH, REACH), self.number(-REACH, REACH))
        c, s = math.cos(turn), math.sin(turn)
        moved = [(x - centre[0], y - centre[1]) for x, y in corners]
        return middle, [[round(middle[0] + c * x - s * y, 3), round(middle[1] + s * x + c * y, 3)] for x, y in moved]

    def place(self, low, high):
        """A place in the open, 0.2 m and more from whatever stands there (nearer than 5 cm a loudspeaker is put off a face)."""
        while True:
            p = (self.number(-REACH, REACH), self.number(-REACH, REACH), self.number(low, high))
            if all(distance(piece, p) > 0.2 for piece in self.pieces()) and not any(covers(h["outline"], p) for h in self.houses):
                return p

    def pieces(self):
        for h in self.houses:
            yield from sides(np.array(h["outline"]))
        for w in self.walls:
            line = np.array(w["line"])
            yield from zip(line, line[1:])

    def edges(self):
        """Everything sound may be bent at, as ends in space: tops, those mirrored in the ground, and corners."""
        for thing in [*self.houses, *self.walls]:
            points, top = np.array(thing.get("outline") or thing["line"]), thing["height"]
            for a, b in sides(points) if "outline" in thing else zip(points, points[1:]):
                yield from ((np.append(a, z), np.append(b, z)) for z in (top, -top))
            yield from ((np.append(p, -top), np.append(p, top)) for p in points)


def distance(piece, p):
    a, b = piece
    along = b - a
    t = np.clip((p[:2] - a) @ along / (along @ along), 0, 1)
    return float(np.linalg.norm(a + t * along - p[:2]))


def covers(outline, p):
    x, y, _ = p
    inside = False
    for (ax, ay), (bx, by) in zip(outline, outline[1:] + outline[:1], strict=True):
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            inside = not inside
    return inside


# The site as pyroomacoustics takes it.


def panel(points, absorption, out, name):
    """A plane polygon whose normal points as `out`: out of the air."""
    points = np.array(points, float)
    if np.cross(points[1] - points[0], points[2] - points[0]) @ np.array(out) < 0:
        points = points[::-1]
    return pra.wall_factory(points.T.copy(), [absorption], [0.0], name)


def upright(a, b, height, absorption, out, name):
    foot, top = [(*a, 0), (*b, 0)], [(*b, height), (*a, height)]
    return panel(foot + top, absorption, (*out, 0), name)


def panels(site):
    far, high = 100.0, 60.0
    corners = [(-far, -far), (far, -far), (far, far), (-far, far)]
    yield panel([(x, y, 0) for x, y in corners], 0.0, (0, 0, -1), "ground")
    yield panel([(x, y, high) for x, y in corners], 1.0, (0, 0, 1), "far")
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        yield upright(a, b, high, 1.0, np.array(a) + np.array(b), "far")
    for h in site.houses:
        outline = np.array(h["outline"])
        for a, b in sides(outline):
            along = (b - a) / np.linalg.norm(b - a)
            # Counter-clockwise: the inside lies to the left.
            yield upright(a, b, h["height"], h["absorption"], (-along[1], along[0]), "face")
        yield panel([(*p, h["height"]) for p in outline], 0.0, (0, 0, -1), "roof")
    for w in site.walls:
        line = np.array(w["line"])
        for a, b in zip(line, line[1:]):
            along = (b - a) / np.linalg.norm(b - a)
            away = np.array([-along[1], along[0]])
            away = away if away @ (a - site.source[:2]) > 0 else -away
            yield upright(a, b, w["height"], w["absorption"], away, "face")
            yield upright(a + 1e-3 * away, b + 1e-3 * away, w["height"], w["absorption"], -away, "face")


def images(site):
    """What each ear sees: (by ground, by face, length, amplitude of its reflections)."""
    made = list(panels(site))
    room = pra.Room(made, fs=48000, max_order=2)
    room.add_microphone_array(np.array(site.ears, float).T)
    room.sources.append(pra.soundsource.SoundSource(np.array(site.source, float)))
    room.image_source_model()
    [source] = room.sources
    seen = room.room_engine.visible_mics
    names = [w.name for w in made]
    for ear, p in enumerate(site.ears):
        found = []
        for k in np.flatnonzero(seen[ear]):
            at, order, damping = source.images[:, k].astype(float), source.orders[k], float(source.damping[0, k])
            under = at[2] < 0
            faces = order - under
            last = names[source.walls[k]] if order else "none"
            if faces > 1 or damping < 1e-6 or last == "roof" or at[2] > site.source[2] + 0.01:
                continue
            found.append((bool(under), bool(faces), math.dist(at, p), damping))
        yield sorted(found)


# What is felt of edges.


def detour(edge, s, r):
    """The shortest way from s to r by way of a point of a straight edge, less the straight way."""
    a, b = edge
    along = (b - a) / np.linalg.norm(b - a)
    ts, tr = (s - a) @ along, (r - a) @ along
    ds, dr = np.linalg.norm(s - a - ts * along), np.linalg.norm(r - a - tr * along)
    t = np.clip((ts * dr + tr * ds) / (ds + dr), 0, np.linalg.norm(b - a))
    p = a + t * along
    return np.linalg.norm(p - s) + np.linalg.norm(r - p) - np.linalg.norm(r - s)


def clear_bands(site, ear, under):
    """Bands in which no edge is felt on the straight way, or that by the ground (unfolded)."""
    s = np.array(site.source) * (1, 1, -1 if under else 1)
    nearest = min((detour(e, s, np.array(ear)) for e in site.edges()), default=math.inf)
    return 2 * nearest * HZ / C > 0.2


def check(site, ear, ways, seen, worst, counts):
    reflected = sorted((w.by_ground, w.length_m, w) for w in ways if w.by_face)
    expected = [i for i in seen if i[1]]
    assert [r[0] for r in reflected] == [i[0] for i in expected], (site.source, ear, [w.words for w in ways], seen)
    pairs = [(r[2], i, np.full(len(HZ), True)) for r, i in zip(reflected, expected, strict=True)]
    for under in (False, True):
        [way] = [w for w in ways if not w.by_face and w.by_ground == under]
        by_sight = [i for i in seen if not i[1] and i[0] == under]
        if by_sight:
            pairs.append((way, by_sight[0], clear_bands(site, ear, under)))
        else:
            counts["in the shadow"] += 1
            straight = math.dist(np.array(site.source) * (1, 1, -1 if under else 1), ear)
            assert way.length_m > straight, (site.source, ear, way.words)
    for way, (under, face, length, damping), bands in pairs:
        counts["ways"] += 1
        counts["by a face"] += face
        worst["s"] = max(worst["s"], abs(way.length_m - length) / C, abs(way.arrival_s - length / C))
        q = ground_reflection(math.sqrt(length**2 - (site.source[2] + ear[2]) ** 2), site.source[2], ear[2]) if under else 1.0
        expected_db = spread_db(length) + 20 * np.log10(damping * np.abs(q) * np.ones(len(HZ)))
        counts["bands"] += int(bands.sum())
        if bands.any():
            worst["dB"] = max(worst["dB"], float(np.abs(way.db - expected_db)[bands].max()))


@pytest.mark.parametrize("first", range(0, SITES, 50))
def test_fifty_random_sites(first, tmp_path):
    worst, counts = {"s": 0.0, "dB": 0.0}, dict.fromkeys(("ways", "by a face", "in the shadow", "bands"), 0)
    for seed in range(first, first + 50):
        site = RandomSite(seed)
        standing = Site(tmp_path, site.source, site.walls, site.houses)
        for ear, seen in zip(site.ears, images(site), strict=True):
            check(site, ear, standing.ways(ear), seen, worst, counts)
    assert worst["s"] < 1e-6 and worst["dB"] < 0.01, worst
    assert counts["by a face"] > 100 and counts["in the shadow"] > 60 and counts["bands"] > 10_000, counts

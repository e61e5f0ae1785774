"""A second way to see a garden: rays cast through points of a picture into houses, walls and steps, with NumPy; and the shapes
of a picture (SVG) in the order they are painted.

The camera is that of any book on central projection (Hartley and Zisserman, Multiple View Geometry, chapter 6): it stands 2.6
times the radius of what is shown from the middle of its box, and all of that fills the frame, as the program says.
"""

import re

import numpy as np

FAR = 2.6


class Camera:
    """Where a place comes to in the picture, up to a scale and a middle; and the ray through a point of the picture."""

    def __init__(self, bearing_deg, tilt_deg, seen):
        b, t = np.radians([bearing_deg, tilt_deg])
        self.forward = np.array([np.sin(b) * np.cos(t), np.cos(b) * np.cos(t), -np.sin(t)])
        self.right = np.array([np.cos(b), -np.sin(b), 0.0])
        self.up = np.cross(self.right, self.forward)
        seen = np.asarray(seen, float)
        middle = (seen.min(axis=0) + seen.max(axis=0)) / 2
        radius = max(1.0, np.linalg.norm(seen - middle, axis=1).max())
        self.eye = middle - FAR * radius * self.forward
        self.scale, self.offset = 1.0, np.zeros(2)

    def flat(self, places):
        """By a projection matrix, in homogeneous coordinates."""
        turn = np.stack([self.right, -self.up, self.forward])
        matrix = np.hstack([turn, -(turn @ self.eye)[:, None]])
        places = np.atleast_2d(np.asarray(places, float))
        u, v, w = matrix @ np.hstack([places, np.ones((len(places), 1))]).T
        assert (w > 0).all(), "nothing lies behind the eye"
        return np.stack([u / w, v / w], axis=1)

    def fill(self, seen, low, high):
        """Scale and middle of the picture: what must be seen fills a frame one way and is in the middle of it the other."""
        flat = self.flat(seen)
        size, room = np.ptp(flat, axis=0), np.asarray(high, float) - low
        self.scale = (room / size).min()
        self.offset = (np.asarray(low, float) + high) / 2 - self.scale * (flat.min(axis=0) + flat.max(axis=0)) / 2

    def spots(self, places):
        return self.scale * self.flat(places) + self.offset

    def ray(self, spot):
        u, v = (np.asarray(spot, float) - self.offset) / self.scale
        return self.forward + u * self.right - v * self.up


def within(point, ring):
    """Whether a point lies in a ring, by the even-odd rule."""
    ring = np.asarray(ring, float)
    a, b = ring, np.roll(ring, -1, axis=0)
    crosses = (a[:, 1] > point[1]) != (b[:, 1] > point[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        x = a[:, 0] + (point[1] - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return bool((crosses & (point[0] < x)).sum() % 2)


class Garden:
    """Things that hide each other: upright faces with their kind, level pieces with their kind. The first a ray meets is seen."""

    def __init__(self, site):
        self.upright, self.level = [], []
        self.site = site

    def block(self, ring, foot, top, face, lid):
        """A solid on a ring: faces on its sides, a lid on top."""
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
            self.upright.append((a, b, foot, top, face))
        self.level.append((ring, [], top, lid))

    def wall(self, line, foot, top, face):
        for a, b in zip(line, line[1:]):
            self.upright.append((a, b, foot, top, face))

    def ground(self, ring, holes, height, kind):
        self.level.append((ring, holes, height, kind))

    def seen(self, eye, ray):
        best, kind = np.inf, "nothing"
        for a, b, foot, top, of in self.upright:
            a, b = np.asarray(a, float), np.asarray(b, float)
            t, s = meet(eye[:2], ray[:2], a, b - a)
            if t is not None and 1e-9 < t < best and 0 <= s <= 1 and foot <= eye[2] + t * ray[2] <= top:
                best, kind = t, of
        for ring, holes, height, of in self.level:
            t = (height - eye[2]) / ray[2]
            place = eye[:2] + t * ray[:2]
            if 1e-9 < t < best and within(place, ring) and not any(within(place, hole) for hole in holes):
                best, kind = t, of
        return kind


def meet(p, d, q, e):
    """Shares at which two straight lines meet, along each."""
    across = d[0] * e[1] - d[1] * e[0]
    if abs(across) < 1e-12:
        return None, None
    between = q - p
    return (between[0] * e[1] - between[1] * e[0]) / across, (between[0] * d[1] - between[1] * d[0]) / across


def painted(svg):
    """Filled paths of the garden in the order painted: fill, rings. What is seen through (an opacity) is left out."""
    body = svg[svg.index('<g id="garden"'):svg.index('<g id="names"')]
    shapes = []
    for data, rest in re.findall(r'<path d="([^"]+)"([^>]*)/>', body):
        fill = re.search(r' fill="(#[0-9a-f]{6})"', rest)
        if not fill or " opacity=" in rest:
            continue
        rings = [[tuple(map(float, pair.split())) for pair in re.split("[LZ]", ring) if pair] for ring in data.split("M")[1:]]
        shapes.append((fill[1], rings))
    return shapes


def colour_at(shapes, spot):
    """The colour painted last at a spot; none where nothing is."""
    for fill, rings in reversed(shapes):
        if sum(within(spot, ring) for ring in rings) % 2:
            return fill
    return None

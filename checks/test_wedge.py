"""Sound round the corner of a house and past the end of a thin wall against the exact solution (`wedge.py`: Hadden and Pierce 1981;
rigid faces, third octaves 63 Hz to 8 kHz, random places on both sides, too high and too long to be passed otherwise). The exact
solution is first held against Macdonald's at the half-plane (the wedge without an angle), reciprocity, the plane (an open angle
of 180 degrees bends nothing) and the rigid face.

Wanted is 1.5 dB up to a Fresnel number N of 10 and 3 dB beyond. The tool does not meet it. Told less exact in the shadow, dB
(median; 5 and 95 % of 5500 values each), positive where the tool is too loud:

    N              to 0.1       0.1 to 1     1 to 3       3 to 10      10 to 30    30 to 100    beyond
    house corner   -2.0; -4.5, 1.1  -1.0; -3.7, 1.8  -1.1; -3.2, 1.6  -0.1; -2.1, 2.5  2.4; 0.2, 5.3  6.8; 4.8, 9.3    10.8
    end of a wall  -0.0; -2.5, 2.2   0.7; -0.8, 2.7   1.2; -0.4, 2.8   2.6;  0.9, 4.7  5.7; 3.5, 8.8  10.6; 8.0, 15.1  15.8

Why: (1) the loss of a way is cut off at 24 dB and the two ways round the far ends, each cut off alike, are added however long
they are, so that nothing loses more than 19.2 dB; Kurze and Anderson's formula without its limit stays within 1.7 dB of the exact
half-plane for nine in ten values at any N up to 30, and at a right-angled corner takes 3 to 4 dB too much from N = 3 on. (2) By small
N at a corner what stands close to a face is 6 dB louder for its image, which goes round the corner as well; here the image ends
where the face does. A wavelength and more off both faces the corner is within 2.5 dB for nine in ten values to N = 10. In the
light, just clear of the edge (N above -0.05), the tool is 3.5 dB (corner) and 1.5 dB (wall) too quiet in the median, for the
same reason.
"""

import math

import numpy as np
import pytest

from one_loudspeaker import AIR_DB_PER_M, C, HZ, Site
from wedge import Place, apart, bent, half_plane, wedge

BANDS = range(5, 27)
CORNER, END = 1.5 * math.pi, 2 * math.pi
STANDING = {
    CORNER: {"houses": [{"outline": [[0, 0], [0, -400], [400, -400], [400, 0]], "height": 300, "absorption": 0}]},
    END: {"walls": [{"line": [[0, 0], [400, 0]], "height": 60, "absorption": 0}]},
}


def drawn(rng, open_angle, shadow=True):
    """A source and an ear on either side of the edge, 0.2 m and more off the faces, in each other's shadow or not."""
    while True:
        s, r = (Place(10 ** rng.uniform(-0.3, 1.25), rng.uniform(0.0, open_angle), round(rng.uniform(0.3, 2.6), 3)) for _ in "sr")
        if min(off_faces(p, open_angle) for p in (s, r)) > 0.2 and (abs(r.angle - s.angle) > math.pi) == shadow:
            return s, r


def off_faces(place, open_angle):
    return min(place.radius * math.sin(min(a, math.pi / 2)) for a in (place.angle, open_angle - place.angle))


def wave_number(hz):
    return 2 * math.pi * hz / C


@pytest.mark.parametrize("seed", range(40))
def test_the_wedge_without_an_angle_is_macdonalds_half_plane(seed):
    rng = np.random.default_rng(seed)
    s, r = drawn(rng, END, shadow=seed % 2 == 0)
    k = wave_number(10 ** rng.uniform(1.8, 3.9))
    assert abs(wedge(s, r, END, k) - half_plane(s, r, k)) < 1e-6 * abs(half_plane(s, r, k))


@pytest.mark.parametrize("seed", range(20))
def test_any_wedge_keeps_what_every_solution_keeps(seed):
    rng = np.random.default_rng(seed)
    angle = rng.uniform(1.05, 2) * math.pi
    s, r = drawn(rng, angle)
    k = wave_number(10 ** rng.uniform(1.8, 3.9))
    here = wedge(s, r, angle, k)
    # The same from there to here, and seen from the other face.
    assert abs(wedge(r, s, angle, k) - here) < 1e-9 * abs(here)
    turned = [Place(p.radius, angle - p.angle, p.along) for p in (s, r)]
    assert abs(wedge(*turned, angle, k) - here) < 1e-9 * abs(here)
    # Nothing goes through a rigid face: at it, sound does not change across it.
    at, beside = (wedge(s, Place(r.radius, turn, r.along), angle, k) for turn in (0.0, 1e-3 / (k * r.radius)))
    assert abs(beside - at) < 3e-6 * abs(at)
    # Nor does it jump where the shadow or a beam begins.
    for edge in (s.angle + math.pi, math.pi - s.angle, 2 * angle - math.pi - s.angle):
        if 0.01 < edge < angle - 0.01:
            low, high = (wedge(s, Place(r.radius, edge + d, r.along), angle, k) for d in (-1e-7, 1e-7))
            assert abs(high - low) * apart(s, r, 0) < 1e-4 + 1e-6 * k * r.radius
    # A plane bends nothing.
    assert abs(bent(s, Place(r.radius, 0.4, r.along), math.pi, k)) < 1e-9


def errors(folder, open_angle, count):
    """Fresnel number, level told less exact, and wavelengths off the faces, of `count` pairs of places in all bands."""
    rng = np.random.default_rng(5)
    rows = []
    for _ in range(count):
        s, r = drawn(rng, open_angle)
        place, ear = ([round(p.radius * math.cos(p.angle), 4), round(p.radius * math.sin(p.angle), 4), p.along] for p in (s, r))
        [way] = [w for w in Site(folder, place, **STANDING[open_angle]).ways(ear) if not w.by_ground]
        straight, off = apart(s, r, s.angle - r.angle), min(off_faces(p, open_angle) for p in (s, r))
        longer = math.hypot(s.radius + r.radius, s.along - r.along) - straight
        # The way told is the one round the edge.
        assert way.length_m == pytest.approx(straight + longer, abs=1e-3)
        told = way.db + AIR_DB_PER_M * straight
        for b in BANDS:
            exact = 20 * math.log10(abs(wedge(s, r, open_angle, wave_number(HZ[b]))))
            rows.append((2 * longer * HZ[b] / C, told[b] - exact, off * HZ[b] / C))
    return np.array(rows)


@pytest.fixture(scope="module", params=[CORNER, END], ids=["corner", "end"])
def found(request, tmp_path_factory):
    return request.param, errors(tmp_path_factory.mktemp("edge"), request.param, 120)


# N from and to, and within how many decibels nine in ten values lie: at a corner, at the end of a wall.
HELD = [(0, 0.1, 4.7, 2.8), (0.1, 1, 4.0, 2.9), (1, 3, 3.5, 3.0), (3, 10, 2.8, 4.8), (10, 30, 5.5, 9.0), (30, 1000, 9.6, 19.0)]


@pytest.mark.parametrize("low,high,corner,end", HELD)
def test_the_shadow_of_an_edge(found, low, high, corner, end):
    open_angle, rows = found
    off = rows[(rows[:, 0] >= low) & (rows[:, 0] < high), 1]
    assert len(off) > 30
    assert np.percentile(np.abs(off), 90) < (corner if open_angle == CORNER else end), np.percentile(off, [5, 50, 95])


def test_off_the_faces_a_corner_is_met_to_n_10(found):
    """A wavelength and more off both faces; at the end of a wall to N = 3."""
    open_angle, rows = found
    off = rows[(rows[:, 0] < (10 if open_angle == CORNER else 3)) & (rows[:, 2] > 1), 1]
    assert len(off) > 300 and np.percentile(np.abs(off), 90) < 2.7 and abs(np.median(off)) < 1.6, np.percentile(off, [5, 50, 95])


@pytest.mark.xfail(strict=True, reason="the loss of a way ends at 24 dB, and faces near source and ear count for nothing in the shadow")
@pytest.mark.parametrize("low,high,wanted_db", [(0, 10, 1.5), (10, 1000, 3)])
def test_what_is_wanted(found, low, high, wanted_db):
    _, rows = found
    off = rows[(rows[:, 0] >= low) & (rows[:, 0] < high), 1]
    assert np.percentile(np.abs(off), 90) < wanted_db

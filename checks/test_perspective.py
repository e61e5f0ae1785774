"""The garden in perspective against rays cast through its points with NumPy: on random sites of houses, walls, a terrace and a
basin, seen from all around, every point has the colour of what its ray meets first, and every corner lies where the projection
matrix puts it (0.02 mm). Colours are those of the app's map, worked out anew in OKLab; on the ground lies the level that
`predict --at` tells there, in the evening and by night as much lower as the brief says.

Source of the method: central projection and ray casting (Hartley and Zisserman); OKLab (Ottosson 2020, matrices from memory, as
in the web app, whose tests hold them to the published value of pure red).
"""

import json
import math
import re

import numpy as np
import papers
import perspective as second
import pytest
import tool
from over_http import imported, server  # noqa: F401 (a fixture)
from test_server import ask

SITE = [(0, 0), (40, 0), (40, 30), (0, 30)]
# What is painted how: colours in full light; faces keep 0.74 of it and more.
LAWN, PAVING, WATER, ROOF = "#dfe5cf", "#eae3da", "#d5e1e3", "#cfc4b3"
FACES = {"house": "#e4dccf", "wall": "#b3a796", "step": "#c8bba6"}
LIGHT = (0.73, 1.001)
# Beside an edge a point may have either colour, millimetres.
EDGE_MM = 0.25


def turned(x, y, width, depth, degrees):
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    corners = [(0, 0), (width, 0), (width, depth), (0, depth)]
    return [(round(x + u * cos - v * sin, 3), round(y + u * sin + v * cos, 3)) for u, v in corners]


def drawn_site(rng, stepped):
    """A random site as the file has it, as rays meet it, and every corner that must be in the picture."""
    houses = [(turned(rng.uniform(10, 30), rng.uniform(13, 19), rng.uniform(3, 8), rng.uniform(3, 6), rng.uniform(0, 90)), round(rng.uniform(2.5, 7), 2)) for _ in range(3)]
    # A house round a yard that is open to the south: what is in one wing may hide the other.
    houses.append(([(26, 14), (28, 14), (28, 18), (34, 18), (34, 14), (36, 14), (36, 21), (26, 21)], 4.0))
    walls = [([(round(rng.uniform(1, 39), 2), round(rng.uniform(11, 28), 2)) for _ in range(3)], round(rng.uniform(0.8, 2.5), 2)) for _ in range(2)]
    text = f'format = 1\n[job]\nname = "Seen"\n[site]\noutline = {json.dumps(SITE)}\nground = "lawn"\n'
    garden, seen = second.Garden(SITE), [(*c, 0.0) for c in SITE]
    terrace, basin = turned(4, 2, 9, 6, 8), turned(20, 2, 8, 5, -6)
    raised, sunken = (1.2, -0.9) if stepped == "both" else (1.2, None)
    holes = []
    if stepped:
        text += f'[surfaces.terrace]\nkind = "paving"\noutline = {json.dumps(terrace)}\nelevation = "{raised} m"\n'
        garden.block(terrace, 0.0, raised, "step", "paving")
    if stepped == "both":
        text += f'[surfaces.basin]\nkind = "soil"\noutline = {json.dumps(basin)}\nelevation = "{sunken} m"\n'
        garden.wall([*basin, basin[0]], sunken, 0.0, "step")
        garden.ground(basin, [], sunken, "soil")
        holes.append(basin)
    garden.ground(SITE, holes, 0.0, "lawn")
    for k, (ring, height) in enumerate(houses):
        text += f'[buildings.b{k}]\noutline = {json.dumps(ring)}\nheight = "{height} m"\n'
        garden.block(ring, 0.0, height, "house", "roof")
        seen += [(*c, z) for c in ring for z in (0.0, height)]
    for k, (line, height) in enumerate(walls):
        text += f'[walls.w{k}]\nline = {json.dumps(line)}\nheight = "{height} m"\n'
        garden.wall(line, 0.0, height, "wall")
        seen += [(*c, height) for c in line]
    return text, garden, seen


def kind_of(colour):
    """What is painted in a colour; faces by their hue, whatever light they have. A wall's and a step's are too near to tell apart."""
    plain = {LAWN: "lawn", PAVING: "paving", "#dccdb9": "soil", ROOF: "roof", None: "nothing"}
    if colour in plain:
        return plain[colour]
    parts = np.array([int(colour[k:k + 2], 16) for k in (1, 3, 5)], float)
    off = {}
    for face, full in FACES.items():
        base = np.array([int(full[k:k + 2], 16) for k in (1, 3, 5)], float)
        share = (parts / base).mean()
        if LIGHT[0] <= share <= LIGHT[1]:
            off[face] = np.abs(parts - share * base).max()
    return min(off, key=off.get) if off and min(off.values()) < 2.0 else colour


STONY = {"wall", "step"}


def pictured(tmp_path, text, *flags):
    (tmp_path / "job.toml").write_text(text)
    done = tool.run("picture", tmp_path, *flags)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.parametrize("stepped", ["", "raised", "both"])
@pytest.mark.parametrize("seed", range(3))
def test_every_point_shows_what_its_ray_meets_first(tmp_path, stepped, seed):
    rng = np.random.default_rng([17, seed, len(stepped)])
    text, garden, seen = drawn_site(rng, stepped)
    compared, kinds = 0, set()
    for bearing in rng.uniform(0, 360, 3):
        tilt = rng.uniform(20, 70)
        svg = pictured(tmp_path, text, "--bearing", f"{bearing:.3f} deg", "--tilt", f"{tilt:.3f} deg")
        shapes = second.painted(svg)
        camera = second.Camera(round(bearing, 3), round(tilt, 3), seen)
        camera.fill(seen, *frame(svg))
        if clip := re.search(r'<clipPath id="garden-floor"><path d="M([^"]+)Z"/>', svg):
            ring = np.array([tuple(map(float, pair.split())) for pair in clip[1].split("L")])
            assert np.abs(camera.spots([(*c, 0.0) for c in SITE]) - ring).max() < 0.02
        else:
            assert stepped == "both", "only ground with a basin is painted part by part"
        on_places(camera, shapes, garden)
        spots = np.array([s for _, rings in shapes for ring in rings for s in ring])
        low, high = spots.min(axis=0), spots.max(axis=0)
        for spot in rng.uniform(low, high, (250, 2)):
            around = [spot + EDGE_MM * np.array(d) for d in ((0, 0), (1, 0), (-1, 0), (0, 1), (0, -1))]
            told = {garden.seen(camera.eye, camera.ray(s)) for s in around}
            if len(told) > 1:
                continue
            want = told.pop()
            got = kind_of(second.colour_at(shapes, spot))
            assert got == want or {got, want} <= STONY, f"{got} and not {want} at {spot}, bearing {bearing:.3f}, tilt {tilt:.3f}\n{text}"
            compared += 1
            kinds.add(want)
    assert compared > 300 and {"lawn", "roof", "house", "nothing"} <= kinds, (compared, kinds)


# Room between the frame of a picture and what is in it, millimetres.
AROUND_MM = 5.0


def frame(svg):
    """Corners of what the garden fills."""
    x, y, w, h = map(float, re.search(r'<clipPath id="garden-frame"><rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"', svg).groups())
    return np.array([x, y]) + AROUND_MM, np.array([x + w, y + h]) - AROUND_MM


def on_places(camera, shapes, garden):
    """Every upright face with four corners has its corners on the edges of things."""
    tops = [(a, b, z) for a, b, foot, top, _ in garden.upright for z in (foot, top)]
    lines = [camera.spots([(*a, z), (*b, z)]) for a, b, z in tops]
    for colour, rings in shapes:
        if kind_of(colour) not in FACES:
            continue
        for spot in np.array(rings[0]):
            off = min(distance(spot, a, b) for a, b in lines)
            assert off < 0.02, (colour, spot, off)


def distance(p, a, b):
    along = b - a
    t = np.clip(np.dot(p - a, along) / max(np.dot(along, along), 1e-12), 0, 1)
    return np.linalg.norm(a + t * along - p)


# The way the palette takes through OKLab: lightness, chroma, hue (as the app's map has it).
WAY = [(0.975, 0.022, 98), (0.91, 0.066, 90), (0.83, 0.1, 76), (0.74, 0.122, 56), (0.64, 0.13, 36), (0.545, 0.12, 12), (0.455, 0.105, -15), (0.37, 0.09, -50)]


def palette(steps):
    """Colours at equal distances along the way, by arc length."""
    x = np.linspace(0, len(WAY) - 1, 20001)
    way = np.array(WAY)
    light, chroma, hue = (np.interp(x, range(len(WAY)), way[:, k]) for k in range(3))
    lab = np.stack([light, chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))], axis=1)
    arc = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(lab, axis=0), axis=1))])
    lab = np.stack([np.interp(np.linspace(0, arc[-1], steps), arc, lab[:, k]) for k in range(3)], axis=1)
    to_lms = np.array([[1, 0.3963377774, 0.2158037573], [1, -0.1055613458, -0.0638541728], [1, -0.0894841775, -1.291485548]])
    to_rgb = np.array([[4.0767416621, -3.3077115913, 0.2309699292], [-1.2684380046, 2.6097574011, -0.3413193965], [-0.0041960863, -0.7034186147, 1.707614701]])
    linear = np.clip((lab @ to_lms.T) ** 3 @ to_rgb.T, 0, 1)
    return 255 * np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


def key(svg):
    """Bands of the key: from, to, colour."""
    body = svg[svg.index('<g id="key"'):]
    bands = []
    for fill, text in re.findall(r'<rect [^>]*fill="(#[0-9a-f]{6})"[^>]*/>\s*<text[^>]*>([^<]*)</text>', body):
        if found := re.fullmatch(r"(\d+) to (\d+) dBA", text):
            bands.append((int(found[1]), int(found[2]), fill))
    return bands


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_colours_are_those_of_the_map_in_the_app(name):
    svg = tool.run("picture", papers.folder(name)).stdout
    assert len(svg.encode()) < 300_000
    bands = key(svg)
    assert len(bands) >= 3
    # Where the reader lacks the font, its texts take no more room than they were given.
    texts = re.findall(r"<text [^>]*>", svg)
    assert texts and all("textLength=" in text for text in texts), texts[:3]
    # The key ends at the top of the scale, which has twelve bands of 3 dB.
    for place, (low, high, fill) in enumerate(reversed(bands), 1):
        assert high - low == 3
        parts = [int(fill[k:k + 2], 16) for k in (1, 3, 5)]
        assert np.abs(parts - palette(12)[-place]).max() <= 1, (low, fill)


@pytest.mark.parametrize("when", ["party", "evening", "night"])
def test_the_ground_shows_the_level_that_is_predicted_there(when):
    name = "guesthouse-garden"
    read = papers.job(name)
    down = {"party": 0.0, "evening": papers.number(read["brief"]["evening_turn_down"]), "night": papers.number(read["brief"]["night_turn_down"])}[when]
    svg = tool.run("picture", papers.folder(name), "--when", when, "--bearing", "0 deg", "--tilt", "85 deg").stdout
    shapes, bands = second.painted(svg), key(svg)
    clip = re.search(r'<clipPath id="garden-floor"><path d="M([^"]+)Z"/>', svg)
    ring = np.array([tuple(map(float, pair.split())) for pair in clip[1].split("L")])
    outline = read["site"]["outline"]
    # Outlines run counter-clockwise once they are read.
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, [*outline[1:], outline[0]], strict=True))
    corners = np.array([(*c, 1.0) for c in (outline if area > 0 else outline[::-1])], float)
    assert len(ring) == len(corners)
    # On level ground the picture is a plane projective map of the plan: eight unknowns from its corners (Hartley and Zisserman, 4.1).
    rows = []
    for (x, y, w), (u, v) in zip(corners, ring, strict=True):
        rows += [[x, y, w, 0, 0, 0, -u * x, -u * y, -u * w], [0, 0, 0, x, y, w, -v * x, -v * y, -v * w]]
    plane = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    compared = 0
    for area in read["areas"].values():
        middle = np.mean(area["outline"], axis=0)
        told = json.loads(tool.run("predict", papers.folder(name), "--at", f"{middle[0]},{middle[1]}", "--ear", "1.5 m", "--json").stdout)
        level = told["at"]["level_dba"] - down
        u, v, w = plane @ [*middle, 1.0]
        fill = second.colour_at(shapes, (u / w, v / w))
        found = [band for band in bands if band[2] == fill]
        if not found:
            continue  # something stands there
        # The field is known every half metre and straight between.
        assert found[0][0] - 1.0 <= level <= found[0][1] + 1.0, (area["name"], level, found)
        compared += 1
    assert compared >= 2


def test_what_is_not_there_is_refused(tmp_path):
    text = 'format = 1\n[job]\nname = "Plain"\n[site]\noutline = [[0, 0], [9, 0], [9, 9]]\n'
    (tmp_path / "job.toml").write_text(text)
    for flags, said in ((["--when", "evening"], "the brief says nothing of it"), (["--programme", "jazz"], 'there is no programme "jazz"'), (["--tilt", "3 deg"], "give 15 deg to 85 deg"), (["--size", "9x9"], "60 to 420 each")):
        done = tool.run("picture", tmp_path, *flags)
        assert done.returncode == 2 and said in done.stderr, (flags, done.stderr)
    assert "<svg" in tool.run("picture", tmp_path).stdout


def test_browsers_get_the_picture_of_the_command_line(server):  # noqa: F811
    folder = papers.folder("walled-courtyard")
    job = imported(server, folder)
    status, headers, body = ask(server.address, "GET", f"/api/jobs/{job}/perspective.svg")
    assert status == 200 and headers["content-type"].startswith("image/svg+xml"), body
    assert body.decode() == tool.run("picture", folder).stdout
    assert 0 <= float(headers["x-loamline-bearing"]) < 360
    _, _, night = ask(server.address, "GET", f"/api/jobs/{job}/perspective.svg?when=night&bearing=-90&tilt=50&width=200&height=120")
    assert night.decode() == tool.run("picture", folder, "--when", "night", "--bearing", "270 deg", "--tilt", "50 deg", "--size", "200x120").stdout
    for query, path in (("tilt=5", "?tilt"), ("when=evening", "?when"), ("when=noon", "?when"), ("programme=jazz", "?programme"), ("width=5000", "?width"), ("colour=red", "?colour")):
        status, _, body = ask(server.address, "GET", f"/api/jobs/{job}/perspective.svg?{query}")
        told = json.loads(body)["error"]
        assert status == 422 and path in json.dumps(told["problems"]), (query, told)

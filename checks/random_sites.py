"""Random sites for the proposal: gardens nobody drew, from a seed that is printed, each a job that a person could have
measured. Nothing in them comes from the tool."""

import math
import random

HEAD = """format = 1

[job]
name = "{name}"
date = "2026-05-04"
currency = "EUR"

[brief]
supply = "{supply}"
{brief}
[programmes.one]
spectrum = "simulated programme"
"""


def rectangle(x0, y0, x1, y1):
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def turned(points, degrees):
    """Points turned about their middle."""
    cx = sum(p[0] for p in points) / len(points)
    cy = sum(p[1] for p in points) / len(points)
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return [(cx + c * (x - cx) - s * (y - cy), cy + s * (x - cx) + c * (y - cy)) for x, y in points]


def octagon(cx, cy, r):
    return [(cx + r * math.cos(math.pi * (k + 0.5) / 4), cy + r * math.sin(math.pi * (k + 0.5) / 4)) for k in range(8)]


def written(points):
    return "[" + ", ".join(f"[{x:.2f}, {y:.2f}]" for x, y in points) + "]"


def wider(points, by):
    """The outline of a convex area drawn larger by about a distance, corner by corner."""
    cx = sum(p[0] for p in points) / len(points)
    cy = sum(p[1] for p in points) / len(points)
    out = []
    for x, y in points:
        d = math.hypot(x - cx, y - cy)
        out.append((x + by * 1.3 * (x - cx) / d, y + by * 1.3 * (y - cy) / d))
    return out


def site(seed):
    """The text of a random job."""
    r = random.Random(seed)
    width, depth = r.uniform(14, 44), r.uniform(12, 34)
    house = r.random() < 0.8
    house_depth = r.uniform(4, 8) if house else 0.0
    brief = ""
    if r.random() < 0.3:
        brief += f"budget = {r.choice([6000, 9000, 14000, 30000])}\n"
    if r.random() < 0.4:
        brief += 'laying = ["staked", "slit", "clipped", "conduit"]\n'
    text = HEAD.format(name=f"Random site {seed}", supply=r.choice(["70.7 V", "70.7 V", "100 V"]), brief=brief)
    garden = depth - house_depth
    ground = "lawn" if r.random() < 0.7 else "gravel"
    text += f'\n[site]\noutline = {written(rectangle(0, 0, width, depth))}\nground = "{ground}"\n'
    areas = []
    wanted = r.choice([1, 1, 2, 2, 3, 4])
    columns = wanted if width > depth else 1
    lines = math.ceil(wanted / columns)
    cell_w, cell_h = (width - 2) / columns, (garden - 2) / lines
    for k in range(wanted):
        x0, y0 = 1 + (k % columns) * cell_w, 1 + (k // columns) * cell_h
        w, h = r.uniform(0.4, 0.7) * cell_w, r.uniform(0.4, 0.7) * cell_h
        cx, cy = x0 + cell_w / 2, y0 + cell_h / 2
        shape = rectangle(cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2)
        kind = r.random()
        if kind < 0.15:
            shape = octagon(cx, cy, 0.5 * min(w, h))
        elif kind < 0.3:
            shape = turned(shape, r.uniform(-12, 12))
        areas.append(shape)
    for k, shape in enumerate(areas):
        bed = wider(shape, r.uniform(0.9, 1.6))
        floor = r.choice(["paving", "gravel", "deck"])
        text += f'\n[surfaces.bed{k}]\noutline = {written(bed)}\nkind = "bed"\n'
        text += f'\n[surfaces.floor{k}]\noutline = {written(wider(shape, 0.05))}\nkind = "{floor}"\n'
        text += f'\n[areas.area{k}]\noutline = {written(shape)}\nlisteners = "{r.choice(["seated", "standing"])}"\n'
        text += f'target = "{r.choice([62, 64, 66, 68, 70])} dBA"\nwithin = "{r.choice([3, 3, 3, 4])} dB"\n'
        if r.random() < 0.15:
            text += f'bass = "{r.choice([0, 2])} dB"\n'
    if house:
        text += f'\n[buildings.house]\noutline = {written(rectangle(1, garden, width - 1, depth))}\nheight = "6 m"\n'
        text += f"clip = true\nloudspeakers = {'true' if r.random() < 0.5 else 'false'}\n"
    if r.random() < 0.5:
        text += f'\n[walls.south]\nline = {written([(0, 0), (width, 0)])}\nheight = "2 m"\nkind = "masonry"\nclip = true\n'
    for k in range(r.choice([0, 1, 1, 2])):
        side = width + r.uniform(8, 30) if k == 0 else -r.uniform(8, 30)
        text += f'\n[neighbours.n{k}]\npoints = [[{side:.1f}, {r.uniform(0, depth):.1f}]]\n'
        text += f'day = "{r.choice([50, 52, 55])} dBA"\n'
    rack = (r.uniform(2, width - 2), garden - 0.3) if house else (0.6, 0.6)
    text += f'\n[racks.R1]\nposition = [{rack[0]:.2f}, {rack[1]:.2f}]\nheight = "0.5 m"\n'
    return text

"""Random jobs: mostly valid, of odd sizes, shapes and values; some broken. The same seed gives the same job on any machine.

Every value is legal by docs/schema/job.schema.json unless the job is one of those broken on purpose. What a job is made of is
drawn in the order a person would write it: brief, site, places that want sound and quiet, equipment, cable, visits.
"""

import functools
import math
import random
import tomllib

from tool import ROOT

# No shipped loudspeaker has taps for 25 V.
SUPPLIES = ("70.7 V", "100 V", "low impedance")
KINDS = ("lawn", "bed", "gravel", "paving", "deck", "soil", "woodland", "water")
LAYING = ("staked", "slit", "trench", "lifted", "clipped", "conduit")
SERVICES = ("electric", "gas", "water", "drain", "irrigation", "telecom", "unknown")
# What a meter shows on an open line.
OPEN = "open"
# What breaks a job: values of another kind, out of range, not text a person would mean.
WRONG = (-1e9, 1e308, "", "twelve", "NaN", "1e999 m", True, [], [[0, 0]], {}, "\u0000", "é" * 300, [[0, 0], [1, 0], [0, 0]])


@functools.cache
def catalogue():
    read = {}
    for file in ("cables", "loudspeakers", "amplifiers"):
        read |= tomllib.loads((ROOT / "catalogue" / f"{file}.toml").read_text())
    return read


def toml(value):
    """A value in one line of TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        escaped = "".join(c if c >= " " and c not in '"\\\x7f' else f"\\u{ord(c):04x}" for c in value)
        return f'"{escaped}"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{toml(k)} = {toml(v)}" for k, v in value.items()) + " }" if value else "{}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return repr(value)


class RandomJob:
    """A job as nested tables, from a seed."""

    def __init__(self, seed):
        self.random = random.Random(seed)
        self.broken = self.random.random() < 0.12
        r = self.random
        # Metres. Gardens mostly; a balcony and a park now and then, rarely a landscape.
        self.size = r.choices([r.uniform(2, 8), r.uniform(8, 60), r.uniform(60, 300), r.uniform(300, 4000)], [2, 12, 4, 1])[0]
        self.width, self.height = self.size, self.size * r.choice([1, 1, 0.6, 0.3, 0.05])
        # Where the datum stands: at the corner, or far off, as on a surveyor's plan.
        self.origin = r.choices([(0.0, 0.0), (-self.size / 2, -self.size / 3), (60_000.0, -70_000.0)], [6, 3, 1])[0]
        self.supply = r.choice(SUPPLIES)
        self.job = {"format": 1}
        for part in (self.about, self.brief, self.programmes, self.areas, self.neighbours, self.site, self.ground,
                     self.built, self.buried, self.racks, self.stubs, self.speakers, self.sources, self.visits):
            part()
        if self.broken:
            for _ in range(r.randint(1, 3)):
                self.breaks()

    def text(self):
        """The job as a file."""
        out = [f"{key} = {toml(value)}" for key, value in self.job.items() if not isinstance(value, dict)]
        for section, things in self.job.items():
            if not isinstance(things, dict):
                continue
            if not all(isinstance(thing, dict) for thing in things.values()) or section in ("job", "brief", "site"):
                out += [f"[{section}]", *(f"{toml(key)} = {toml(value)}" for key, value in things.items())]
            else:
                out += [f"[{section}]", *(f"{toml(tag)} = {toml(thing)}" for tag, thing in things.items())]
        text = "\n".join(out) + "\n"
        if self.broken and self.random.random() < 0.2:
            at = self.random.randrange(len(text))
            text = text[:at] + self.random.choice(['"', "]", "}", "\n[", "=", "\u2028", "#"]) + text[at + self.random.randint(0, 30):]
        return text

    # Numbers and places.

    def chance(self, share):
        return self.random.random() < share

    def odd(self, low, high, usual=None):
        """A value of a range: often the usual one, sometimes one end of what is legal."""
        draw = self.random.random()
        if draw < 0.06:
            return low
        if draw < 0.12:
            return high
        return float(f"{usual if usual is not None and draw < 0.6 else self.random.uniform(low, high):.6g}")

    def length(self, metres):
        """A length as somebody types it."""
        return self.random.choices([round(metres, 3), f"{metres:.2f} m", f"{metres / 0.3048:.2f} ft", f"{metres * 1000:.0f} mm"],
                                   [6, 2, 1, 1])[0]

    def place(self, margin=0.0):
        x = self.random.uniform(-margin, 1 + margin) * self.width + self.origin[0]
        y = self.random.uniform(-margin, 1 + margin) * self.height + self.origin[1]
        return [round(x, 3), round(y, 3)]

    def outline(self, largest=1.0):
        """A simple outline within the site, of at least a tenth of a metre across."""
        r = self.random
        w = max(0.15, self.width * r.uniform(0.02, largest))
        h = max(0.15, self.height * r.uniform(0.02, largest))
        x = self.origin[0] + r.uniform(0, max(0.0, self.width - w))
        y = self.origin[1] + r.uniform(0, max(0.0, self.height - h))
        at = lambda u, v: [round(x + u * w, 3), round(y + v * h, 3)]
        shape = r.choice(["box", "box", "box", "ell", "round", "triangle", "turned", "sliver"])
        if shape == "ell":
            return [at(0, 0), at(1, 0), at(1, 0.4), at(0.5, 0.4), at(0.5, 1), at(0, 1)]
        if shape == "round":
            corners = r.choice([5, 8, 12, 48])
            return [at(0.5 + 0.5 * math.cos(2 * math.pi * i / corners), 0.5 + 0.5 * math.sin(2 * math.pi * i / corners))
                    for i in range(corners)]
        if shape == "triangle":
            return [at(0, 0), at(1, 0.2), at(0.3, 1)]
        if shape == "turned":
            return [at(0.5, 0), at(1, 0.5), at(0.5, 1), at(0, 0.5)]
        if shape == "sliver":
            return [at(0, 0), at(1, 0), at(1, 0.05), at(0, 0.05)] if h > 4 else [at(0, 0), at(1, 0), at(1, 1), at(0, 1)]
        box = [at(0, 0), at(1, 0), at(1, 1), at(0, 1)]
        return box if self.chance(0.7) else box[::-1]

    def line(self, margin=0.2):
        points = [self.place(margin)]
        while len(points) < self.random.choice([2, 2, 2, 3, 5]):
            other = self.place(margin)
            if math.dist(other, points[-1]) > 0.05:
                points.append(other)
        return points

    # Sections, in the order of the file.

    def about(self):
        r = self.random
        about = {"name": r.choice(["Garden", "Gärten & Höfe", "x", "A name that is very long " * 8]), "date": "2026-05-01"}
        about["currency"] = r.choices(["EUR", "CHF", "JPY", "KWD"], [12, 1, 1, 1])[0]
        if self.chance(0.2):
            about |= {"rounding": r.choice([0, 0.05, 1, "0.01"]), "allowance": r.choice([0, 250, "99.99"])}
        self.job["job"] = about

    def brief(self):
        r = self.random
        brief = {"supply": self.supply}
        if self.chance(0.5):
            brief["laying"] = r.sample(LAYING, r.randint(1, 5))
        optional = {"budget": lambda: r.choice([0, 500, 20_000, "1000000"]), "loss_limit": lambda: self.odd(0.0, 6.0, 0.5),
                    "load_share": lambda: self.odd(0.1, 1.0, 0.8), "neighbour_margin": lambda: self.odd(0.0, 20.0, 3.0),
                    "night_turn_down": lambda: self.odd(0.0, 60.0, 10.0), "coherent_below": lambda: self.odd(20.0, 2000.0, 400.0),
                    "night_hours": lambda: r.choice(["22:00 to 07:00", "00:00 to 06:30"]),
                    "nearest_listener": lambda: self.odd(0.1, 20.0, 0.5), "quiet_night": lambda: self.odd(0.0, 70.0, 30.0)}
        brief |= {key: draw() for key, draw in optional.items() if self.chance(0.25)}
        if self.chance(0.2):
            brief["wishes"] = {"at_most": r.choice([1, 3, 40, 10_000]), "path_setback": self.odd(0.0, 10.0, 0.3)}
        self.job["brief"] = brief

    def programmes(self):
        programmes = {}
        for n in range(self.random.choice([1, 1, 1, 2, 3])):
            programme = {"name": f"Programme {n}", "crest_factor": self.odd(3.0, 30.0, 12.0)}
            if n and self.chance(0.3):
                programme["speech"] = True
            if self.chance(0.15):
                programme["low_cut"] = self.odd(20.0, 500.0, 100.0)
            if self.chance(0.3):
                programme["spectrum"] = "pink"
            elif self.chance(0.1):
                programme["levels"] = {"100 Hz": self.odd(-100.0, 100.0, 0.0), "1 kHz": 0, "10 kHz": -6}
            programmes[f"p{n}"] = programme
        self.job["programmes"] = programmes

    def areas(self):
        areas = {}
        for n in range(self.random.choice([0, 1, 1, 2, 2, 3, 5, 9])):
            area = {"outline": self.outline(0.6), "target": self.odd(30.0, 115.0, 70.0)}
            if self.chance(0.4):
                area["listeners"] = "seated"
            if self.chance(0.1):
                area["ear_height"] = self.odd(0.05, 5.0, 1.2)
            if self.chance(0.2) and len(self.job["programmes"]) == 1:
                area["bass"] = self.odd(-20.0, 20.0, 3.0)
            if self.chance(0.2):
                area["within"] = self.odd(0.5, 12.0, 3.0)
            if self.chance(0.3):
                area["programme"] = self.random.choice(list(self.job["programmes"]))
            areas[f"a{n}"] = area
        self.job["areas"] = areas

    def neighbours(self):
        neighbours = {}
        for n in range(self.random.choice([0, 0, 1, 1, 2, 4])):
            where = {"points": [self.place(1.5) for _ in range(self.random.randint(1, 4))]} if self.chance(0.5) else {
                "line": self.line(1.0)}
            neighbour = {**where, "day": self.odd(10.0, 120.0, 55.0)}
            if self.chance(0.6):
                neighbour["night"] = self.odd(10.0, 120.0, 45.0)
            if self.chance(0.2):
                neighbour["day_63hz"] = self.odd(10.0, 120.0, 60.0)
            if self.chance(0.2):
                neighbour["floors"] = {"g": {"height": 1.5}, "top": {"height": self.odd(0.1, 200.0, 8.0)}}
            elif self.chance(0.4):
                neighbour["height"] = self.odd(0.1, 200.0, 4.0)
            neighbours[f"n{n}"] = neighbour
        self.job["neighbours"] = neighbours

    def site(self):
        (x, y), r = self.origin, self.random
        site = {"ground": r.choice(KINDS)}
        if self.chance(0.7):
            w, h = self.width, self.height
            site["outline"] = [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]
        if self.chance(0.4):
            site["air"] = {"temperature": self.odd(-30.0, 50.0, 20.0), "humidity": self.odd(0.05, 1.0, 0.7),
                           "pressure": self.odd(50_000.0, 110_000.0, 101_325.0)}
        if self.chance(0.2):
            site["true_north"] = self.odd(-360.0, 360.0, 12.0)
        self.job["site"] = site

    def ground(self):
        surfaces, r = {}, self.random
        for n in range(r.choice([0, 1, 3, 6, 14])):
            surface = {"outline": self.outline(0.8), "kind": r.choice(KINDS)}
            if self.chance(0.2):
                surface["flow_class"] = r.choice("ABCDEFGH")
            if self.chance(0.2):
                surface["elevation"] = r.choice([-0.4, 0.5, 3.0, -500.0, 9000.0]) if self.chance(0.1) else round(r.uniform(-1, 4), 2)
            if self.chance(0.2):
                surface |= {"laying": r.choice(LAYING), "laying_price": r.choice([0, 12.5, "9999"])}
            if self.chance(0.2):
                surface["loudspeakers"] = self.chance(0.5)
            surfaces[f"s{n}"] = surface
        self.job["surfaces"] = surfaces

    def built(self):
        walls, buildings, no_go, r = {}, {}, {}, self.random
        for n in range(r.choice([0, 1, 2, 6])):
            wall = {"line": self.line(0.1), "height": self.odd(0.05, 60.0, 2.0), "kind": r.choice(["masonry", "fence", "hedge"])}
            walls[f"w{n}"] = wall | ({"clip": True, "loudspeakers": self.chance(0.5)} if self.chance(0.4) else {})
        for n in range(r.choice([0, 1, 1, 2, 4])):
            building = {"outline": self.outline(0.35), "height": self.odd(0.5, 300.0, 6.0), "clip": self.chance(0.5)}
            if self.chance(0.3):
                building |= {"holes": self.chance(0.5), "loudspeakers": self.chance(0.7), "absorption": self.odd(0.0, 1.0, 0.05)}
            buildings[f"b{n}"] = building
        for n in range(r.choice([0, 0, 1, 3])):
            no_go[f"g{n}"] = {"outline": self.outline(0.25), "reason": "roots"}
        self.job |= {"walls": walls, "buildings": buildings, "no_go": no_go}

    def buried(self):
        services, sleeves, r = {}, {}, self.random
        for n in range(r.choice([0, 0, 1, 3])):
            services[f"u{n}"] = {"kind": r.choice(SERVICES), "line": self.line(), "depth": self.odd(0.0, 20.0, 0.5),
                                 "clearance": self.odd(0.0, 10.0, 0.3)}
        for n in range(r.choice([0, 0, 1, 2])):
            sleeves[f"d{n}"] = {"line": self.line(0.0), "inside_diameter": self.odd(0.005, 1.0, 0.05),
                                "holds": [0.009] * r.choice([0, 0, 1, 9])}
        self.job |= {"services": services, "sleeves": sleeves}

    def racks(self):
        racks = {}
        for n in range(self.random.choice([1, 1, 1, 2])):
            racks[f"R{n}"] = {"position": self.place(0.05), "height": self.length(self.random.uniform(0, 2))}
        self.job["racks"] = racks

    def stubs(self):
        stubs = {}
        for n in range(self.random.choice([0, 0, 0, 1, 2])):
            stub = {"position": self.place(), "cable": self.random.choice(["burial-4x14awg", "burial-2x12awg", "burial-4x18awg"]),
                    "rack": self.random.choice(list(self.job["racks"]))}
            if self.chance(0.6):
                stub["length"] = self.odd(0.1, 5000.0, round(self.size, 1))
            stubs[f"T{n}"] = stub
        self.job["stubs"] = stubs

    def speakers(self):
        """Loudspeakers, joints, lines with their runs, amplifiers and channels."""
        r = self.random
        loudspeakers, joints, lines, amplifiers, channels = {}, {}, {}, {}, {}
        models = catalogue()["loudspeakers"]
        usual = r.sample(sorted(models), r.randint(1, 4))
        used_stubs = set()
        for n in range(r.choices([0, 1, 2, 3, 5, 8], [1, 5, 5, 4, 2, 1])[0]):
            name = f"line{n}"
            supply = self.supply if self.chance(0.85) else r.choice(SUPPLIES)
            rack = r.choice(list(self.job["racks"]))
            free = [s for s in self.job["stubs"] if s not in used_stubs and self.job["stubs"][s]["rack"] == rack]
            start = r.choice(free) if free and self.chance(0.7) else rack
            used_stubs.add(start)
            line = {"start": start, "cable": r.choice([c for c in catalogue()["cables"] if c.startswith("burial-2x")])}
            if supply != self.supply:
                line["supply"] = supply
            tree, runs = self.chance(0.4), {}
            ends, routed = [start], self.chance(0.85)
            count = r.choice([1, 2, 2, 3, 4, 6, 12]) if supply != "low impedance" else r.choice([1, 1, 2, 3])
            for _ in range(count):
                if tree and self.chance(0.3):
                    tag = f"J{len(joints)}"
                    joints[tag] = {"position": self.place(), "kind": r.choice(["buried", "box"])}
                    runs[f"r{len(runs)}"] = self.run(ends[-1], tag)
                    ends.append(tag)
                tag = f"L{len(loudspeakers)}"
                loudspeakers[tag] = self.speaker(models, r.choice(usual), supply) | {"line": name}
                at = r.choice(ends) if tree else ends[-1]
                runs[f"r{len(runs)}"] = self.run(at, tag)
                ends.append(tag)
            if ends[-1].startswith("J"):
                runs.popitem()
                joints.popitem()
            if tree:
                line["topology"] = "tree"
            if routed:
                line["runs"] = runs
            if self.chance(0.92):
                self.channel(name, supply, rack, amplifiers, channels)
                line["channel"] = name
            lines[name] = line
        for _ in range(r.choice([0, 0, 0, 1, 3])):
            # Placed and not wired yet.
            model = r.choice(sorted(models))
            loudspeakers[f"L{len(loudspeakers)}"] = self.speaker(models, model, self.supply) | {"pinned": self.chance(0.5)}
        used = {end for line in lines.values() for run in line.get("runs", {}).values() for end in (run["from"], run["to"])}
        joints = {tag: joint for tag, joint in joints.items() if tag in used}
        self.job |= {"loudspeakers": loudspeakers, "joints": joints, "lines": lines, "amplifiers": amplifiers, "channels": channels}

    def run(self, start, end):
        run = {"from": start, "to": end}
        if self.chance(0.2):
            run["via"] = [self.place() for _ in range(self.random.randint(1, 3))]
        elif self.chance(0.1):
            run["length"] = self.odd(0.05, 5000.0, 20.0)
        if self.chance(0.1):
            run["fixed"] = True
        return run

    def speaker(self, models, model, supply):
        r, about = self.random, models[model]
        speaker = {"model": model, "position": self.place(0.02)}
        if self.chance(0.6):
            speaker["bearing"] = self.odd(-360.0, 360.0, 90.0)
        if self.chance(0.2):
            speaker["pitch"] = self.odd(-90.0, 90.0, -20.0)
        if self.chance(0.2):
            speaker["height"] = self.odd(-2.0 if about["mount"] == "in ground" else 0.0, 60.0, 2.5)
        if supply != "low impedance":
            taps = about["transformer"].get("taps_100v" if supply == "100 V" else "taps_70v")
            if taps:
                speaker["tap"] = r.choice(taps)
        if "dual_coil" in about:
            speaker["coils"] = r.choice(["series", "parallel"])
        if self.chance(0.1):
            speaker["polarity"] = "reversed"
        return speaker

    def channel(self, name, supply, rack, amplifiers, channels):
        r = self.random
        fits = [m for m, a in catalogue()["amplifiers"].items()
                if (supply in a.get("line_voltages", [])) or (supply == "low impedance" and "power_8ohm" in a)]
        for tag, amplifier in amplifiers.items():
            taken = [c["output"] for c in channels.values() if c["amplifier"] == tag]
            count = catalogue()["amplifiers"][amplifier["model"]]["channels"]
            free = [n for n in range(1, count + 1) if n not in taken]
            if free and amplifier["rack"] == rack and amplifier["model"] in fits and self.chance(0.8):
                output = free[0]
                break
        else:
            tag, output = f"P{len(amplifiers)}", 1
            amplifiers[tag] = {"model": r.choice(fits), "rack": rack}
        channel = {"amplifier": tag, "output": output, "programme": r.choice(list(self.job["programmes"]))}
        if self.chance(0.5):
            channel["gain"] = self.odd(-80.0, 12.0, -10.0)
        if self.chance(0.2):
            channel["delay"] = self.odd(0.0, 2.0, 0.01)
        if self.chance(0.5):
            channel["high_pass"] = {"kind": "butterworth", "order": r.choice([1, 2, 4, 8]), "corner": self.odd(10.0, 20_000.0, 80.0)}
        if self.chance(0.1):
            channel["low_pass"] = {"kind": "linkwitz-riley", "order": 4, "corner": self.odd(10.0, 20_000.0, 120.0)}
        if self.chance(0.2):
            channel["equaliser"] = {f"e{i}": {"frequency": self.odd(10.0, 20_000.0, 1000.0), "gain": self.odd(-24.0, 12.0, -3.0),
                                              "q": self.odd(0.1, 20.0, 1.0)} for i in range(r.randint(1, 6))}
        if self.chance(0.3):
            rms = self.odd(0.01, 1000.0, 40.0)
            channel["limiter"] = {"rms": rms} | ({"peak": min(1500.0, rms * 1.5)} if self.chance(0.5) else {})
        channels[name] = channel

    def sources(self):
        sources, leads, r = {}, {}, self.random
        if self.job["amplifiers"] and self.chance(0.4):
            tag = r.choice(list(self.job["amplifiers"]))
            rack = self.job["amplifiers"][tag]["rack"]
            mono = self.chance(0.5)
            sources["player"] = {"kind": "player", "rack": rack, "signal": "mono" if mono else "stereo",
                                 "output": "unbalanced", "connector": "phono", "nominal": "-10 dBV"}
            if self.chance(0.5):
                sources["player"] |= {"highest": self.odd(0.4, 40.0, 2.0), "noise": self.odd(1e-8, 0.01, 1e-5)}
            for n, side in enumerate(["both"] if mono else ["left", "right"]):
                leads[f"K{n}"] = {"source": "player", "side": side, "amplifier": tag, "input": n + 1}
            for channel in self.job["channels"].values():
                if channel["amplifier"] == tag:
                    channel["inputs"] = list(range(1, len(leads) + 1))
        self.job |= {"sources": sources, "leads": leads}

    def visits(self):
        visits, r = {}, self.random
        wired = [name for name, line in self.job["lines"].items() if "runs" in line]
        for n in range(r.choice([0, 0, 1, 2, 5]) if wired else 0):
            readings = {}
            for k in range(r.choice([1, 3, 8])):
                line = r.choice(wired)
                reading = {"line": line}
                ends = {run["to"] for run in self.job["lines"][line]["runs"].values()}
                if self.chance(0.2):
                    reading["at"] = r.choice(sorted(ends))
                kind = r.choice(["impedance", "impedance", "dc", "dc", "leakage", "level"])
                if kind == "leakage":
                    reading |= {"leakage": self.odd(0.0, 1e12, 2e8), "above": self.chance(0.5)}
                elif kind == "level":
                    reading |= {"level": self.odd(0.0, 140.0, 70.0), "at": r.choice(sorted(e for e in ends if e[0] == "L"))}
                else:
                    reading[kind] = OPEN if self.chance(0.1) else self.odd(0.0, 1e9, r.choice([0.01, 2.0, 60.0, 900.0]))
                    if kind == "impedance":
                        reading["frequency"] = self.odd(10.0, 40_000.0, 1000.0)
                readings[f"m{k}"] = reading
            visits[f"v{n}"] = {"date": f"{2024 + n}-0{r.randint(1, 9)}-15", "kind": "maintenance", "readings": readings}
            if self.chance(0.4):
                visits[f"v{n}"]["ground_temperature"] = self.odd(-30.0, 60.0, 12.0)
        self.job["visits"] = visits

    def breaks(self):
        """Breaks one thing: a value of another kind, a key too many, a thing that is gone."""
        r, here, key = self.random, self.job, None
        for _ in range(r.randint(1, 4)):
            inner = here if key is None else here[key]
            if not isinstance(inner, (dict, list)) or not inner:
                break
            here, key = inner, r.choice(list(inner) if isinstance(inner, dict) else range(len(inner)))
        # A section that is no table cannot be written as one.
        if here is self.job:
            here = here[key] if isinstance(here[key], dict) else here
            here["strange"] = r.choice(WRONG)
        elif self.chance(0.3) and isinstance(here, dict):
            del here[key]
        else:
            here[key] = r.choice(WRONG)

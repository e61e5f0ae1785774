"""Writes job.toml of the invented harbour front: python3 examples/quayside-hotel/generate.py > job.toml

The front is 240 m by 70 m in three sectors of 80 m, west, middle and east, each with a rack, an amplifier of four
outputs and four 100 V lines: promenade (P), garden terrace (G), upper terrace (T) and subwoofers (S).
"""

OUT = []


def say(*lines):
    OUT.extend(lines)


def table(header, /, **keys):
    say(f"[{header}]")
    say(*(f"{k} = {v}" for k, v in keys.items()), "")


def text(s):
    return '"' + s + '"'


def box(x0, y0, x1, y1):
    return f"[[{x0}, {y0}], [{x1}, {y0}], [{x1}, {y1}], [{x0}, {y1}]]"


say(
    "# Quayside hotel: the front of an invented hotel on a harbour, 240 m by 70 m, stepping down to the water.",
    "# Written by generate.py beside it; change that and run it again, or edit this file and forget the script.",
    "#",
    "# Tags: first letter W, M or E for the west, middle or east sector; second letter P for the promenade, G for the",
    "# garden terrace, T for the upper terrace, S for subwoofers; then the number along the line from the rack.",
    "# Distances are metres from the datum. x is east along the quay, y is north towards the hotel.",
    "",
    "format = 1",
    "",
)
table(
    "job",
    name=text("Quayside hotel"),
    reference=text("QH-26-101"),
    summary=text("Music along a hotel waterfront: promenade, garden terrace and upper terrace, three racks."),
    date=text("2026-05-20"),
    currency=text("EUR"),
    notes=text("Quay edge is a permit zone: nobody works beyond the bollards without a life jacket."),
)
table(
    "brief",
    supply=text("100 V"),
    budget=180000,
    laying='["staked", "slit", "clipped", "conduit", "trench", "lifted"]',
    night_hours=text("22:00 to 07:00"),
    night_turn_down=text("15 dB"),
    evening_turn_down=text("8 dB"),
)
say("# Three programmes can play at once; every area names its own.")
for key, name in (("promenade", "Promenade, light"), ("dining", "Dinner, quiet"), ("pool", "Upper terrace, afternoon")):
    table(f"programmes.{key}", name=text(name), crest_factor=text("12 dB"))

SECTORS = [("W", "west", 0), ("M", "middle", 80), ("E", "east", 160)]
ZONES = [("promenade", 6, 14, 68, "standing"), ("garden", 25, 40, 70, "seated"), ("upper", 47, 56, 70, "seated")]

say("# ---- where sound is wanted ----", "")
for letter, sector, x in SECTORS:
    for zone, y0, y1, target, ears in ZONES:
        programme = {"promenade": "promenade", "garden": "dining", "upper": "pool"}[zone]
        # The racks' pavilions stand at the west end of each upper terrace.
        west = x + 10 if zone == "upper" else x + 2
        table(
            f"areas.{sector}-{zone}",
            name=text(f"{zone.capitalize()}, {sector} sector"),
            outline=box(west, y0, x + 78, y1),
            listeners=text(ears),
            target=text(f"{target} dBA"),
            programme=text(programme),
        )

say("# ---- where quiet is wanted ----", "")
table("neighbours.flats", name=text("Flats behind the hotel"), line="[[40, 128], [200, 128]]", height=text("7 m"),
      day=text("55 dBA"), night=text("42 dBA"), day_63hz=text("64 dB"))
table("neighbours.boats", name=text("House boats across the basin"), points="[[330, 12], [338, 30]]", height=text("2 m"),
      day=text("55 dBA"), night=text("45 dBA"))

say("# ---- the site: three levels above the water ----", "")
table("site", datum=text("south-west bollard of the quay, centre of its foot"), outline=box(0, 0, 240, 70), ground=text("paving"))
table("site.air", temperature=text("18 C"), humidity=text("80 %"))
table("surfaces.basin", name=text("Harbour basin"), outline=box(-20, -60, 320, 4), kind=text("water"), elevation=text("-1.4 m"))
table("surfaces.quay", name=text("Promenade, granite slabs"), outline=box(0, 4, 240, 20), kind=text("paving"))
table("surfaces.quay-bed", name=text("Sea holly bed along the promenade"), outline=box(0, 14, 240, 16.5), kind=text("bed"))
say("# The steps: a bank of planting between each two levels.")
table("surfaces.lower-bank", name=text("Bank between promenade and garden"), outline=box(0, 20, 240, 24.5), kind=text("bed"), elevation=text("1.5 m"))
table("surfaces.garden", name=text("Garden terrace"), outline=box(0, 24.5, 240, 42), kind=text("lawn"), elevation=text("1.5 m"))
table("surfaces.upper-bank", name=text("Bank between garden and upper terrace"), outline=box(0, 42, 240, 46), kind=text("bed"), elevation=text("3.2 m"))
table("surfaces.upper", name=text("Upper terrace, limestone"), outline=box(0, 46, 240, 60), kind=text("paving"), elevation=text("3.2 m"))
table("surfaces.pool", name=text("Pool"), outline=box(100, 50, 124, 55), kind=text("water"), elevation=text("3.2 m"))
table("buildings.hotel", name=text("Hotel"), outline=box(14, 60, 226, 70), height=text("14 m"), absorption=text("5 %"))
table("no_go.pool", reason=text("Pool and its surround: nothing electrical within 3 m"), outline=box(97, 47, 127, 58))
table("walls.west", name=text("Harbour office wall"), line="[[0, 20], [0, 60]]", height=text("2.4 m"))

say("# ---- what is in the ground already: have it located before any spade goes in ----", "")
table("services.lighting", kind=text("electric"), line="[[0, 18.5], [240, 18.5]]", depth=text("0.6 m"), clearance=text("0.5 m"))
table("services.water", kind=text("water"), line="[[0, 44], [240, 44]]", depth=text("0.9 m"))
table("services.drain-west", kind=text("drain"), line="[[72, 4], [72, 60]]", depth=text("1.2 m"))
table("services.drain-east", kind=text("drain"), line="[[232, 4], [232, 60]]", depth=text("1.2 m"))

say("# ---- racks, and the sleeves laid from each down through the garden terrace ----", "")
for n, (letter, sector, x) in enumerate(SECTORS, 1):
    table(f"racks.R{n}", name=text(f"Pavilion, {sector} sector"), position=f"[{x + 3}, 47]", mains=text("230 V"), circuit=text("16 A"))
    table(f"sleeves.{letter}D", name=text(f"Duct under the garden terrace, {sector} sector"),
          line=f"[[{x + 3}, 43], [{x + 3}, 23]]", inside_diameter=text("50 mm"))
    table(f"marks.{letter}K", name=text(f"Corner of the pavilion, {sector} sector"), position=f"[{x + 5}, 46]")

# Per zone: number, spacing, first x, y, model, bearing, tap; the lines follow the bank they stand in.
PLAN = {
    "P": (16, 4.8, 4, 15.2, "bollard-130-round", 0, 10),
    "G": (10, 7.6, 6, 23.8, "stake-165-wide", 0, 20),
    "T": (10, 7.2, 10, 45.4, "stake-110-wide", 0, 10),
    "S": (2, 40, 20, 22.5, "ground-sub-320", 0, 100),
}
COVERS = {"P": "promenade", "G": "garden terrace", "T": "upper terrace", "S": "subwoofers in the lower bank"}

say("# ---- loudspeakers ----", "")
for letter, sector, x in SECTORS:
    for zone, (count, step, first, y, model, bearing, tap) in PLAN.items():
        say(f"# {sector} sector, {COVERS[zone]}: {count} at {tap} W, {count * tap} W of the 240 W its output may carry")
        for i in range(count):
            keys = dict(model=text(model), position=f"[{round(x + first + i * step, 2)}, {y}]", bearing=bearing,
                        tap=text(f"{tap} W"), line=text(letter + zone))
            if zone == "S":
                keys["coils"] = text("series")  # two coils of 8 ohm: 16 ohm for the transformer
            table(f"loudspeakers.{letter}{zone}{i + 1}", **keys)

say("# ---- amplifiers and channels ----", "")
for n, (letter, sector, x) in enumerate(SECTORS, 1):
    table(f"amplifiers.A{n}", model=text("line-4x280"), rack=text(f"R{n}"))
    for output, (zone, programme, corner, gain, rms, peak) in enumerate(
        (("P", "promenade", 80, -7.5, 100.8, 142.6), ("G", "dining", 80, -7, 101.3, 143.2),
         ("T", "pool", 95, -5.5, 100.2, 141.7), ("S", "dining", 32, -9, 100.5, 142.2)), 1
    ):
        keys = dict(amplifier=text(f"A{n}"), output=output, programme=text(programme), gain=text(f"{gain} dB"),
                    high_pass=f'{{ kind = "butterworth", order = 4, corner = "{corner} Hz" }}')
        if zone == "S":
            keys["low_pass"] = '{ kind = "linkwitz-riley", order = 4, corner = "90 Hz" }'
        # The transformers' rated voltage at the weakest loudspeaker, with what the cable loses on the way.
        keys["limiter"] = f'{{ rms = "{rms} V", peak = "{peak} V" }}'
        table(f"channels.{letter}{zone}", **keys)

say("# ---- lines: chains from the rack, through the duct where they leave the upper terrace ----", "")
for n, (letter, sector, x) in enumerate(SECTORS, 1):
    for zone, (count, step, first, y, *_rest) in PLAN.items():
        line = letter + zone
        cable = "burial-2x4.0mm2" if zone in "PS" else "burial-2x2.5mm2"
        table(f"lines.{line}", channel=text(line), cable=text(cable))
        say(f"[lines.{line}.runs]")
        duct = "" if zone == "T" else f', via = [[{x + 3}, 43], [{x + 3}, 23]], sleeves = ["{letter}D"]'
        say(f'{line}-1 = {{ from = "R{n}", to = "{line}1"{duct} }}')
        for i in range(1, count):
            say(f'{line}-{i + 1} = {{ from = "{line}{i}", to = "{line}{i + 1}" }}')
        say("")

print("\n".join(OUT).rstrip())

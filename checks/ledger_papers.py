"""Facts off the papers (pdftotext) and the spreadsheets: rows by their tag, columns by their headings, sheets by their labels.

Lengths to cut are rounded up, holes too, lengths along the way to the nearest; money is exact; the digits shown say the rest.
"""

import math
import re

from ledger import FOOT, NUMBER, interval, length, parts, plain
from ledger_screen import reading

LENGTH = r"(?:-?\d+ ft(?: \d+)?(?: ?\d+/\d+)?(?: in)?|[\d.]+ (?:mm|m|in)|\d+(?: \d+/\d+)? in)"
METER_HZ = {"DC, ohm": "0", "1 kHz, ohm": "1000"}
WAYS = {"inside the building": "indoors", "clipped along a wall or building": "clipped", "under paving, lifted and relaid": "lifted",
        "staked down under mulch or gravel": "staked", "in a slit cut with a spade": "slit", "drawn through a sleeve": "conduit",
        "in an open trench": "trench", "trench": "trench"}
PROPOSED = {"Staked down under mulch or gravel": "staked", "Under paving, lifted and relaid": "lifted", "In a slit cut with a spade": "slit",
            "Clipped along a wall or building": "clipped", "Drawn through a sleeve": "conduit", "Inside the building": "indoors",
            "In an open trench": "trench"}
GROUPS = {"Loudspeakers": "loudspeakers", "Amplifiers": "amplifiers", "Cable": "cable", "Connectors and small material": "sundries",
          "Laying and digging": "ground", "Other work": "work"}


def body(text):
    """The lines of a paper without what stands on every page: its title above, reference and number below."""
    kept = []
    for page in text.split("\f"):
        lines = [line.replace("\xa0", " ") for line in page.splitlines()]
        kept += [line for k, line in enumerate(lines) if k > 0 and not re.search(r"Page \d+ of \d+\s*$", line)]
    return kept


def section(lines, start, *ends):
    """Lines from a heading on, the last time it stands alone, to the next."""
    at = max((k for k, line in enumerate(lines) if line.strip() == start), default=None)
    if at is None:
        return []
    to = next((k for k in range(at + 1, len(lines)) if lines[k].strip() in ends or any(
        e.endswith(" ") and lines[k].strip().startswith(e) for e in ends)), len(lines))
    return lines[at + 1 : to]


class Papers:
    def __init__(self, ledger, surfaces, units):
        self.ledger, self.surfaces, self.units = ledger, surfaces, units
        self.job, self.data = surfaces.sent["job"]["resolved"], surfaces.pack_data

    def enter(self, fact, paper, shown, ends=None):
        self.ledger.enter(fact, "papers", f"{paper}, {self.units}", shown, ends)

    def all(self):
        self.proposal(body(self.surfaces.paper("proposal.pdf", self.units)))
        self.money(body(self.surfaces.paper("quotation.pdf", self.units)), "quotation")
        crew = body(self.surfaces.paper("crew-pack.pdf", self.units))
        self.quantities(section(crew, "Bill of quantities: what to load", "Plan "), "crew pack")
        self.holes(section(crew, "Holes", "Loudspeakers"))
        self.loudspeakers(section(crew, "Loudspeakers", "Cable schedule and cut list"))
        self.cuts(section(crew, "Cable schedule and cut list", "Routes"))
        self.routes(section(crew, "Routes", "Cable and ground details", "Existing cable ends", "Joints"))
        self.stubs(section(crew, "Existing cable ends", "Joints"))
        self.built_up(section(crew, "Expected readings", "Rack "))
        self.racks(crew)
        self.inputs()
        built = body(self.surfaces.paper("as-built.pdf", self.units))
        self.laid(section(built, "Lines", "Readings of the finished lines"))
        self.finished(section(built, "Readings of the finished lines", "Readings taken", "How the amplifiers were left"))

    # --- Proposal and quotation.

    def proposal(self, lines):
        text = "\n".join(lines)
        for id, area in self.job.get("areas", {}).items():
            name = re.escape(area.get("name") or id)
            rows = re.findall(rf"^ *{name} +(\d+) dBA +(\d+) dBA +(\d+) – (\d+) dBA", text, re.MULTILINE)
            for row in rows:
                for quantity, figure in zip(("target", "statistics/mean_dba", "statistics/p10_dba", "statistics/p90_dba"), row):
                    self.enter((f"area {id}", quantity), "proposal", figure, interval(figure))
        self.limits(section(lines, "What the neighbours will hear", "What will be dug, and how the ground is put back"))
        for line in section(lines, "What will be dug, and how the ground is put back", "Safety"):
            found = re.match(rf" *({'|'.join(map(re.escape, PROPOSED))}) +({LENGTH})\b", line)
            if found:
                self.quantity(f"laying/{PROPOSED[found[1]]}", "proposal", *found[2].split(" "))
        self.money(lines, "proposal")
        for count, described in re.findall(r"^ *(\d+) ?× +(\S+(?: \S+)*)", text, re.MULTILINE):
            items = [i for i in self.data["quotation"]["items"] if i["description"].startswith(described)]
            whole = [i for i in items if i["description"] == described] or items
            if len(whole) == 1:
                self.enter((f"item {whole[0]['code']}", "quantity"), "proposal", count, interval(count, rule="exact"))

    def limits(self, lines):
        neighbour = None
        for line in lines:
            head = re.search(r"\((\S+)\)\s*$", line)
            if head and head[1] in self.job.get("neighbours", {}):
                neighbour = head[1]
            row = re.match(rf" *By (day|night)(?:, [\d: to]+)? +(.*?) +({NUMBER}) dBA? +({NUMBER}) dBA? +({NUMBER}) dB ", line)
            if row and neighbour:
                when, what, *figures = row.groups()
                floor, what = re.fullmatch(r"(?:(.+), )?(Overall level|Bass, 63 Hz octave)", what).groups()
                what = " ".join(filter(None, ["total_dba" if what.startswith("Overall") else "octave63_hz", floor]))
                for quantity, figure in zip(("level_db", "limit_db", "margin_db"), figures):
                    self.enter((f"neighbour {neighbour}", f"{when}/{what}/{quantity}"), "proposal", figure.strip(), interval(figure))

    def money(self, lines, paper):
        text = "\n".join(lines)
        amount = r"(?:[A-Z]{3} )?(\d[\d  ,]*(?:\.\d\d)?)\s*$"
        for name, key in (("Net", "net"), (r"Tax, [\d.]+ %", "tax"), ("Total", "total")):
            for figure in re.findall(rf"(?:^|  ){name} +{amount}", text, re.MULTILINE):
                self.enter(("price", key), paper, figure, interval(figure, rule="exact"))
        groups = dict(self.data["quotation"]["groups"])
        titles = {title: key for title, key in GROUPS.items() if key in groups}
        for title, key in titles.items():
            for figure in re.findall(rf"(?:^|  ){title} +{amount}", text, re.MULTILINE):
                self.enter(("price", f"groups/{key}"), paper, figure, interval(figure, rule="exact"))
        if paper == "quotation":
            self.quantities(lines, paper)

    def quantities(self, lines, paper):
        """Rows of the bill in their order; a row that is wrapped has its figures on one line with part of its words."""
        unit = r"no\.|m³|m|h|cu yd|ft"
        for line in lines:
            if found := re.match(r" *Labour in all +([\d.]+) h", line):
                self.enter(("price", "labour_h"), paper, found[1], interval(found[1]))
        row = re.compile(rf"(.*) +({NUMBER}) +({unit})(?: +([\d., ]*\d))?\s*$")
        items = list(self.data["quotation"]["items"])
        rows = [found for line in lines if (found := row.match(line)) and not found[1].strip().startswith("Labour in all")]
        if len(rows) != len(items):
            self.ledger.not_read("papers", f"{paper}, {self.units}", f"{len(rows)} rows of {len(items)} items")
            return
        for found, item in zip(rows, items):
            text, figure, unit, more = found.groups()
            known = re.sub(r"\s+", " ", f"{item['description']} {item.get('note') or ''}")
            words = re.sub(r"\s+", " ", text).strip()
            if not all(w in known or "spool" in words for w in words.split(" ")):
                self.ledger.not_read("papers", f"{paper}, {self.units}", f"row {words!r} where {known!r} is")
            self.quantity(item["code"], paper, figure, unit)
            fact = f"item {item['code']}"
            figures = re.split(r" {2,}", more.strip()) if more else []
            names = {"quotation": ("material_amount", "labour_amount", "amount"), "crew pack": ("labour_h",)}[paper]
            for name, value in zip(names, figures):
                self.enter((fact, name), paper, value, interval(value, rule="exact" if paper == "quotation" else "nearest"))

    def quantity(self, code, paper, figure, unit):
        """A bill's quantity is what was measured to the bill's own digits; in feet it is that quantity, cable never less."""
        rule = "exact" if unit in ("no.", "m", "m³") else "up" if code.startswith("cable/") else "nearest"
        factor = {"ft": FOOT, "cu yd": (3 * FOOT) ** 3}.get(unit, 1.0)
        self.enter((f"item {code}", "quantity"), paper, f"{figure} {unit}", interval(figure, factor, rule))
        if unit in ("m", "m³"):
            self.enter(measured(code), paper, f"{figure} {unit}", interval(figure))

    def cable_names(self):
        """Ids of cables by what the papers call them: by the catalogue, in feet as the trade says it ("14/2 direct burial")."""
        names = {}
        for id, c in self.surfaces.sent["catalogue"]["cables"].items():
            # ASTM B258: the diameter of gauge n is 0.127 mm times 92 to the (36 - n)/39.
            gauge = 36 - 39 * math.log(math.sqrt(4 * c["conductor"] / math.pi) / 0.127, 92)
            by_gauge = self.units == "us" and abs(gauge - round(gauge)) < 0.03
            laid = "direct burial" if "burial" in c["ratings"] else "for conduit"
            names[f"{round(gauge)}/{c['conductors']} {laid}" if by_gauge else c["description"]] = id
        return names

    @staticmethod
    def whole_feet(text):
        return "nearest whole" if re.fullmatch(r"\d+ ft", text) else "nearest"

    # --- Crew pack.

    def holes(self, lines):
        for line in lines:
            size = r"(\d+) ?(mm|in) × (\d+) ?(?:mm|in) × (\d+) ?(?:mm|in)"
            row = re.match(rf" *(\S+) +{size} +({NUMBER}) ?(m³|cu yd) +({NUMBER}) ?(?:m³|cu yd)(?:, (\d+) bags)? +(\d+) ?(kg|lb)",
                           line.replace("\xa0", " "))
            if not row:
                continue
            tag, a, unit, b, c, soil, volume, gravel, bags, mass, weight = row.groups()
            step, factor = (10.0, 0.001) if unit == "mm" else (1.0, 0.0254)
            for key, figure in (("length_m", a), ("width_m", b), ("depth_m", c)):
                self.enter((f"hole of {tag}", key), "crew pack", f"{figure} {unit}", interval(figure, factor, "up", step=step))
            cubic = 1.0 if volume == "m³" else (3 * FOOT) ** 3
            if bags:
                # Of half a cubic foot, never too few.
                self.enter((f"hole of {tag}", "gravel_m3"), "crew pack", bags, interval(bags, 0.5 * FOOT**3, "up"))
            self.enter((f"hole of {tag}", "soil_m3"), "crew pack", soil, interval(soil, cubic))
            self.enter((f"hole of {tag}", "gravel_m3"), "crew pack", gravel, interval(gravel, cubic))
            self.enter((f"hole of {tag}", "gravel_kg"), "crew pack", mass, interval(mass, 1.0 if weight == "kg" else 0.45359237))

    def loudspeakers(self, lines):
        tag, described = None, self.surfaces.sent["catalogue"]["loudspeakers"]
        for line in lines:
            head = re.match(r" {0,3}(\S+) +(\S{2,})", line)
            placed = self.job["loudspeakers"].get(head[1]) if head else None
            if placed and head[2] in described[placed["model"]]["description"]:
                tag = head[1]
            if tag:
                self.loudspeaker(f"loudspeaker {tag}", line)

    def loudspeaker(self, fact, line):
        line = line.replace("−", "-")
        if found := re.match(r"Line +(\S+)(?: · Tap ([\d.]+) W)?(?: · coils in (\w+))?", line):
            self.enter((fact, "line"), "crew pack", found[1])
            if found[2]:
                self.enter((fact, "tap"), "crew pack", found[2], interval(found[2], rule="exact"))
            if found[3]:
                self.enter((fact, "coils"), "crew pack", found[3])
        if found := re.match(rf"from (\S+) +({LENGTH})\b", line):
            self.enter((fact, f"tape from {found[1]}"), "crew pack", found[2], length(found[2], inch=0.125))
        if found := re.match(rf"Aim +(?:bearing (\d+)°, tilt (-?\d+)°|plays all round), ({LENGTH}) (above|below)", line):
            if found[1]:
                self.enter((fact, "bearing"), "crew pack", found[1], interval(found[1]))
                self.enter((fact, "pitch"), "crew pack", found[2], interval(found[2]))
            self.enter((fact, "height"), "crew pack", found[3], length(found[3]))
        if found := re.search(r"pilot hole ([\d.]+) (mm|in) deep", line):
            step, factor = (5.0, 0.001) if found[2] == "mm" else (0.5, 0.0254)
            self.enter((fact, "pilot hole"), "crew pack", found[0], interval(found[1], factor, "up", step=step))
        if found := re.match(r"At full drive +([\d.]+) V at its joint, (less than )?([\d.]+) dB lost", line):
            volts, less, loss = found.groups()
            self.enter((fact, "joint_1khz_v"), "crew pack", volts, interval(volts))
            self.enter((fact, "loss_1khz_db"), "crew pack", found[0][-20:], (0.0, float(loss)) if less else interval(loss))
        if found := re.search(r"east / north (\S+ m|\S.*?) / (\S+)", line):
            self.enter((fact, "position/east"), "crew pack", found[1], length(found[1]))

    def cuts(self, lines):
        described = self.cable_names()
        cable = None
        for line in lines:
            head = re.match(rf"(\S.*?) \d+ spools? of .*?, ({LENGTH}) to cut", line)
            if head and head[1] in described:
                cable = described[head[1]]
                self.quantity(f"cable/{cable}", "crew pack", *head[2].split(" "))
            left = re.match(rf"Spool (\d+), ({LENGTH}) +({LENGTH}) left on the spool", line)
            if left:
                spool = f"spools/number {int(left[1]) - 1}"
                self.enter((f"spools of {cable}", f"{spool}/left_m"), "crew pack", left[3], length(left[3], "down"))
                self.enter((f"spools of {cable}", f"{spool}/spool_m"), "crew pack", left[2], length(left[2], self.whole_feet(left[2])))
            row = re.match(rf" +(\S+) +(\S+) +(\S+) +(\S.*?) {{2,}}({LENGTH}) +({LENGTH})\s*$", line)
            if row:
                tag, start, end, of, way, cut = row.groups()
                self.enter((f"cable {tag}", "from"), "crew pack", start)
                self.enter((f"cable {tag}", "to"), "crew pack", end)
                self.enter((f"cable {tag}", "lines"), "crew pack", ", ".join(re.findall(r"(\S+?)(?:, pair \d+)?(?:, |$)", of)))
                self.enter((f"cable {tag}", "path_m"), "crew pack", way, length(way, self.whole_feet(way)))
                self.enter((f"cable {tag}", "order_m"), "crew pack", cut, length(cut, "up"))

    def routes(self, lines):
        line_id, tag, pending = None, None, []
        for line in lines:
            if head := re.match(r" +Line (\S+) .*", line):
                line_id, tag, pending = head[1], None, []
            sums = re.fullmatch(rf"\s*((?:[a-z ]+ {LENGTH}(?: · )?)+)\s*", line)
            if sums and line_id:
                for word, shown in re.findall(rf"([a-z ]+?) ({LENGTH})", sums[1]):
                    word = {"paving lifted": "lifted", "sleeve": "conduit"}.get(word.strip(), word.strip())
                    self.enter((f"line {line_id}", f"laid/{word}"), "crew pack", shown, length(shown, self.whole_feet(shown)))

    def stubs(self, lines):
        stub = None
        for line in lines:
            if head := re.match(r" *(\S+) +Existing cable end \1 ", line):
                stub = head[1]
            if stub and (row := re.match(rf"Length +({LENGTH})", line)):
                self.enter((f"stub {stub}", "length"), "crew pack", row[1], length(row[1], self.whole_feet(row[1])))

    def built_up(self, lines):
        line_id, hz = None, []
        for line in lines:
            head = re.match(r" *(\S+) +(?:[\d.]+ V, taps of ([\d.]+) W|low impedance|[\d.]+ V)", line)
            if head and head[1] in self.job["lines"]:
                line_id = head[1]
                if head[2]:
                    self.enter((f"line {line_id}", "counted_w"), "crew pack", head[2], interval(head[2]))
            if "Built as far as" in line:
                hz = [METER_HZ[c] for c in re.findall(r"DC, ohm|[\d.]+ k?Hz, ohm", line)]
            row = re.match(r" *(\S+?)(, finished)?\s+(open|[\d.]+ [\d.]+–)", line)
            if row and hz and line_id:
                cells = re.findall(r"[\d.]+ [\d.]+–[\d.]+|open", line)
                if len(cells) != len(hz):
                    self.ledger.not_read("papers", f"crew pack, {self.units}", f"readings {line!r}")
                    continue
                # What the last row reads, the finished line reads.
                ways = [f"stages/{row[1]}/readings/rack", *(["readings/rack"] if row[2] else [])]
                for way in ways:
                    for f, cell in zip(hz, cells):
                        reading(self.ledger, "papers", f"crew pack, {self.units}", (f"line {line_id}", f"{way} {f}"), cell)

    def racks(self, lines):
        at, channel = None, None
        for line in lines:
            plainly = line.replace("−", "-")
            if head := re.fullmatch(r"Rack (\S+)", line.strip()):
                at, channel = head[1], None
            if not at:
                continue
            fact = f"rack {at}"
            if row := re.match(rf"East / north +(-?{LENGTH}) / (-?{LENGTH})", plainly):
                for key, shown in zip(("position/east", "position/north"), row.groups()):
                    self.enter((fact, key), "crew pack", shown, length(shown))
            if row := re.match(r"Mains +([\d.]+) V, circuit of ([\d.]+) A", line):
                self.enter((fact, "mains"), "crew pack", row[1], interval(row[1], rule="exact"))
                self.enter((fact, "circuit"), "crew pack", row[2], interval(row[2], rule="exact"))
            if row := re.match(r" *(\S+) +([\d.]+) W +([\d.]+) W +([\d.]+) W +([\d.]+) W +([\d.]+) A\s*$", line):
                who = f"amplifier {row[1]}" if row[1] != "Rack" else fact
                names = ("draws/idle_w", "draws/idle_w", "draws/eighth_draw_w", "draws/eighth_heat_w", "draws/eighth_current_a")
                for name, figure in zip(names, row.groups()[1:]):
                    self.enter((who, name), "crew pack", figure, interval(figure))
            if (row := re.match(r" ?(\S+)(?:  |$)", line)) and row[1] in self.job["channels"]:
                channel = row[1]
            if re.match(r"Input \d+: ", line) or "What it is" in line:
                channel = None
            if channel:
                self.channel(f"channel {channel}", plainly)

    def channel(self, fact, line):
        enter = lambda name, figure, factor=1.0: self.enter((fact, name), "crew pack", figure, interval(figure, factor))  # noqa: E731
        if found := re.search(r"Gain +([-+]?[\d.]+) dB(?: from input to output \(([-+]?[\d.]+) dB re full scale\))?", line):
            # An amplifier without a level of its own shows the gain of its processing alone.
            enter("gain", found[2] or found[1])
            if found[2]:
                enter("gain structure/gain_db", found[1])
        for key, name in (("High-pass", "high_pass"), ("Low-pass", "low_pass")):
            if found := re.search(rf"{key} +([\d.]+) Hz, ([\w-]+(?: [\w-]+)*?), (\d+) dB per octave", line):
                enter(f"{name}/corner", found[1])
                self.enter((fact, f"{name}/kind"), "crew pack", found[2].lower())
                self.enter((fact, f"{name}/order"), "crew pack", found[3], interval(repr(float(found[3]) / 6), rule="exact"))
        if found := re.search(r"Delay +([\d.]+) ms", line):
            enter("delay", found[1], 0.001)
        if found := re.search(r"Polarity +(\w+)", line):
            self.enter((fact, "polarity"), "crew pack", found[1])
        if found := re.search(r"Limiter +([\d.]+) V RMS(?:, ([\d.]+) V peak)?", line):
            enter("limiter/rms", found[1])
            if found[2]:
                enter("limiter/peak", found[2])
        if found := re.search(r"Load ([\d.]+) W of ([\d.]+) W, (\d+) %", line):
            enter("counted_w", found[1])
            enter("rated_power_w", found[2])
            enter("used_fraction", found[3], 0.01)
        if found := re.search(r"falls to ([\d.]+) ohm", line):
            self.enter((fact, "minimum/impedance_ohm"), "crew pack", found[1], interval(found[1], 1.0, "four digits"))
        if found := re.search(r"headroom ([\d.]+) dB, of(?: (\w+))?", line):
            enter("headroom/db", found[1])
        if found := re.search(r"Output (\d+)(?: and (\d+))?", line):
            self.enter((fact, "output"), "crew pack", int(found[1]))

    def inputs(self):
        """Leads and what arrives through them, in the order the words were set."""
        flowing = re.sub(r"\s+", " ", self.surfaces.raw("crew-pack.pdf", self.units)).replace("−", "-")
        lead = re.compile(rf"Lead: (\S+?)(?:, ({LENGTH}))?\. (?:Added by channels?: ([^.]*)|No channel adds this input)\. "
                          r"([\d.]+) V = (-?[\d.]+) dBu arrives; the (?:input takes [\d.]+ V, ([\d.]+) dB more than the source's "
                          r"most|source's most is ([\d.]+) dB more)")
        for tag, metres, added, volts, dbu, spare, over in lead.findall(flowing):
            if metres:
                self.enter((f"lead {tag}", "length"), "crew pack", metres, length(metres, self.whole_feet(metres)))
            self.enter((f"lead {tag}", "level_v"), "crew pack", volts, interval(volts))
            self.enter((f"lead {tag}", "level_dbu"), "crew pack", dbu, interval(dbu))
            figure = spare or f"-{over}"
            self.enter((f"lead {tag}", "headroom_db"), "crew pack", figure, interval(figure))

    # --- As-built sheet.

    def laid(self, lines):
        described = self.cable_names()
        line_id = None
        for line in lines:
            row = re.match(rf" *(?:(\S+) {{2,}}(\S+) {{2,}})?(\S.*?) {{2,}}({LENGTH})\s*$", line)
            if not row:
                continue
            if row[1]:
                line_id = row[1]
                self.enter((f"line {line_id}", "channel"), "as-built", row[2])
            if row[3] in described:
                laid = length(row[4], self.whole_feet(row[4]))
                self.enter((f"line {line_id}", f"laid in {described[row[3]]}"), "as-built", row[4], laid)
            else:
                self.ledger.not_read("papers", f"as-built, {self.units}", f"line {line!r}")

    def finished(self, lines):
        hz = []
        for line in lines:
            hz = [METER_HZ[c] for c in re.findall(r"DC, ohm|[\d.]+ k?Hz, ohm", line)] or hz
            row = re.match(r" *(\S+) +[\d.]+ [\d.]+–", line)
            if row and row[1] in self.job["lines"]:
                for f, cell in zip(hz, re.findall(r"[\d.]+ [\d.]+–[\d.]+|open", line), strict=True):
                    reading(self.ledger, "papers", f"as-built, {self.units}", (f"line {row[1]}", f"readings/rack {f}"), cell)


# --- Spreadsheets.

PLAIN = {"Tap, W": "tap", "Bearing, °": "bearing", "Tilt, °": "pitch", "Volts, V": "joint_1khz_v", "Loss, dB": "loss_1khz_db"}
LONG = {"East": "position/east", "North": "position/north", "Height": "height"}


def spreadsheets(ledger, surfaces, units):
    place = lambda file: f"{file}, {units}"  # noqa: E731
    # Lengths are in the unit of the reader, and cable as it is cut: a tenth of a metre, or a whole foot.
    unit, metres, step = {"metric": ("m", 1.0, 0.1), "us": ("ft", FOOT, 1.0)}[units]
    way, cut = f"Along the way, {unit}", f"Cut, {unit}"
    as_cut = lambda shown: interval(shown, metres, "up", step=step)  # noqa: E731

    def enter(fact, file, shown, ends=None):
        ledger.enter(fact, "spreadsheet", place(file), shown, ends)

    for row in surfaces.sheet("loudspeaker-schedule.csv", units):
        fact = f"loudspeaker {row['Tag']}"
        enter((fact, "line"), "loudspeaker-schedule", row["Line"])
        for column, name in PLAIN.items():
            if row[column]:
                enter((fact, name), "loudspeaker-schedule", row[column], interval(row[column], rule="exact" if column == "Tap, W" else "nearest"))
        for column, name in LONG.items():
            shown = row[f"{column}, {unit}"]
            if shown:
                enter((fact, name), "loudspeaker-schedule", shown, interval(shown, metres))
        unknown(ledger, place("loudspeaker-schedule"), row,
                {"Tag", "Model", "Line", "Fixing", *PLAIN, *(f"{column}, {unit}" for column in LONG)})
    for row in surfaces.sheet("cable-schedule.csv", units):
        fact = f"run {row['Run']} of {row['Line']}"
        for column, name in {"From": "from", "To": "to", "Cable": "cable", "Tag": "tag"}.items():
            enter((fact, name), "cable-schedule", row[column])
        if row[way]:
            enter((f"cable {row['Tag']}", "path_m"), "cable-schedule", row[way], interval(row[way], metres))
        if row[cut]:
            enter((f"cable {row['Tag']}", "order_m"), "cable-schedule", row[cut], as_cut(row[cut]))
        unknown(ledger, place("cable-schedule"), row, {"Tag", "Line", "Run", "Pair", "From", "To", "Cable", way, cut})
    for row in surfaces.sheet("cut-list.csv", units):
        enter((f"cable {row['Tag']}", "order_m"), "cut-list", row[cut], as_cut(row[cut]))
        enter((f"cable {row['Tag']}", "cable"), "cut-list", row["Cable"])
        if units == "metric":
            # The job is cut in tenths of a metre; in feet the row is that of the schedule.
            enter((f"spools of {row['Cable']}", f"spools/number {int(row['Spool']) - 1}/cuts/{row['Tag']}/length_m"), "cut-list",
                  row[cut], as_cut(row[cut]))
        unknown(ledger, place("cut-list"), row, {"Cable", "Spool", "Tag", cut})
    for row in surfaces.sheet("bill-of-quantities.csv", units):
        code = row["Code"]
        if code:
            # In feet a cable is called as the trade calls it, and its spools are in feet: the crew pack's are held to the same words.
            if units == "metric" or not code.startswith("cable/"):
                enter((f"item {code}", "description"), "bill", row["Description"])
                enter((f"item {code}", "note"), "bill", row["For"])
        unknown(ledger, place("bill"), row, {"Code", "Description", "For", "Quantity", "Unit", "Labour, h", "Price of one", "Amount"})
        if not code:
            key = {"Net": "net", "Tax": "tax", "Total": "total", "Rounding": "rounding"}.get(row["Description"], "allowance")
            enter(("price", key), "bill", row["Amount"], interval(row["Amount"], rule="exact"))
            continue
        # A bill's quantity is what was measured to the bill's own digits; in feet it is that quantity, cable never less.
        factor = {"ft": FOOT, "cu yd": (3 * FOOT) ** 3}.get(row["Unit"], 1.0)
        if row["Unit"] in ("m", "m³"):
            enter(measured(code), "bill", row["Quantity"], interval(row["Quantity"]))
        rule = "exact" if factor == 1.0 else "up" if code.startswith("cable/") else "nearest"
        enter((f"item {code}", "quantity"), "bill", row["Quantity"], interval(row["Quantity"], factor, rule))
        for column, name in {"Labour, h": "labour_h", "Price of one": "price", "Amount": "amount"}.items():
            rule = "nearest" if name == "labour_h" or (name == "price" and factor != 1.0) else "exact"
            of = 1 / factor if name == "price" else 1.0
            enter((f"item {code}", name), "bill", row[column], interval(row[column], of, rule))


def measured(code):
    """What the quantity of an item that is not counted is, before it is rounded for the bill."""
    group, _, of = code.partition("/")
    return {"cable": (f"item {code}", "cut_m"), "laying": (f"laying {of}", "length_m")}.get(group, (f"item {code}", "as measured"))


def unknown(ledger, place, row, known):
    for column in set(row) - known:
        ledger.not_read("spreadsheet", place, f"column {column!r}")

"""Facts the data have in parts: sums, ends and places worked out here from what a job's document and its data say, so that what is
printed of the whole has something to be held against. They are entered where their parts come from.
"""

import math
import re

from ledger import interval, length


def derived(ledger, surfaces):
    report = surfaces.data("lines")["report"]
    for line, solved in report["lines"].items():
        if solved["loads"]:
            worst = max(load["loss_1khz_db"] for load in solved["loads"])
            ledger.enter((f"line {line}", "worst_loss_db"), "json", "lines --json, the most of its loads", worst)
    for rack in report["racks"].values():
        for k, circuit in enumerate(rack["circuits"]):
            for amplifier in circuit:
                ledger.enter((f"amplifier {amplifier}", "circuit"), "json", "lines --json, circuits", str(k + 1))
    for id, rack in report["racks"].items():
        for key in ("eighth_draw_w", "eighth_current_a"):
            ledger.enter((f"rack {id}", f"draws/{key}"), "json", "lines --json, sum", sum(d[key] for d in rack["draws"]))
        for key in ("idle_w", "eighth_heat_w"):
            ledger.enter((f"rack {id}", f"draws/{key}"), "json", "lines --json", rack[key])
    east, north, _ = surfaces.data("predict")["report"]["levels"]["loudest"]["at"]
    ledger.enter(("levels", "loudest/east"), "json", "predict --json", east)
    ledger.enter(("levels", "loudest/north"), "json", "predict --json", north)
    for channel, gain in surfaces.data("sources")["report"]["channels"].items():
        # Full output is that of a sine, whose peak is the square root of two times its RMS.
        peak = math.sqrt(2) * gain["most_output_v"]
        if (fact := (f"channel {channel}", "gain structure/full_output_peak_v")) in ledger.facts:
            ledger.enter(fact, "json", "sources --json, worked out", peak)
    for told in surfaces.data("tune")["report"]["neighbours"]:
        when, what = "night" if told["by_night"] else "day", " ".join(filter(None, [told["quantity"], told["floor"]]))
        margin = told["limit_db"] - told["level_db"]
        ledger.enter((f"neighbour {told['neighbour']}", f"tuned/{when}/{what}/margin_db"), "json", "tune --json, worked out", margin)
    proposed(ledger, surfaces.data("route"))
    bill(ledger, surfaces.pack_data, list(report["lines"]))
    places(ledger, surfaces)
    to_cut(ledger, surfaces)
    order(ledger, surfaces)
    for key, area in surfaces.figures["areas"].items():
        for name in ("mean_dba", "p10_dba", "p90_dba", "share_within", "bass_over_mid_db"):
            live(ledger, (f"area {key}", f"statistics/{name}"), area[name])
    for key, neighbour in surfaces.figures["neighbours"].items():
        for when in ("day", "night"):
            told = surfaces.sent["neighbours"]["neighbours"][key][when]
            if told:
                tightest = min(told, key=lambda t: t["margin_db"])
                what = " ".join(filter(None, [tightest["quantity"], tightest["floor"]]))
                live(ledger, (f"neighbour {key}", f"{when}/{what}/margin_db"), neighbour[f"{when}_margin_db"])


def live(ledger, fact, value):
    """Figures of a drag are within 0.01 dB of a fresh study (docs/architecture.md)."""
    if value is not None:
        ledger.enter(fact, "app", "live channel", value, (value - 0.01, value + 0.01))


def proposed(ledger, told):
    """Sums of the ways `route` finds: by kind of laying, what is shared once, and what is left of the spools."""
    laid = {}
    for run in {(r["from"], r["to"], r["cable"], repr(r["way"])): r for r in told["runs"]}.values() if told else ():
        for piece in run["pieces"]:
            laid[piece["laying"]] = laid.get(piece["laying"], 0.0) + piece["length_m"]
    for laying, metres in laid.items():
        ledger.enter((f"proposed laying {laying}", "length_m"), "json", "route --json, sum", metres)
    for group in told["groups"] if told else ():
        for line in group["lines"]:
            for run in line["runs"]:
                [id] = [r["id"] for r in told["runs"] if (r["line"], r["to"]) == (line["id"], run["to"])] or [None]
                if id:
                    # Corners are written to the centimetre, so that a way differs by little from the one that was found.
                    order_m = run["length"]["order_m"]
                    ledger.enter((f"proposed run {id} of {line['id']}", "length/order_m"), "json", "route --json, groups", order_m,
                                 (order_m - 0.05, order_m + 0.05))
    for cable in told["cables"] if told else ():
        left = sum(spool["left_m"] for spool in cable["spools"])
        ledger.enter((f"proposed spools of {cable['cable']}", "left_m"), "json", "route --json, sum", left)


def to_cut(ledger, surfaces):
    """Cable to cut in all, as the job has it and as `route` proposes it."""
    told, summary = surfaces.shown("route"), surfaces.sent.get("route", {}).get("summary")
    if summary:
        ledger.enter(("proposed", "cable to cut"), "http", "POST route, summary", summary["order_m"])
    for units in ("metric", "us"):
        if told := surfaces.shown("route", units):
            before, after = re.search(r"Cable to cut: (.*) before, (.*) now\.", told).groups()
            ledger.enter(("cables", "to cut"), "screen", f"route, {units}", before, length(before, "up"))
            ledger.enter(("proposed", "cable to cut"), "screen", f"route, {units}", after, length(after, "up"))
    # Every length as it is cut, to the tenth of a metre above, so that what is told adds up.
    cut = sum(math.ceil(cable["order_m"] * 10 - 1e-6) / 10 for cable in surfaces.pack_data["laid_cables"] if not cable.get("existing"))
    ledger.enter(("cables", "to cut"), "json", "pack.json, sum", cut)


def order(ledger, surfaces):
    """What the phone's order of work tells to read back, to measure and to expect: settings, readings, levels, limits."""
    enter = lambda fact, figure, rule="nearest", factor=1.0: ledger.enter(  # noqa: E731
        fact, "phone", "visit pack, order of work", figure, interval(figure, factor, rule))
    figure = r"([-+]?[\d.]+)"
    for step in (step for stage in surfaces.sent["visit-pack"]["order"] for step in stage["steps"]):
        about, action, confirm = step["about"], step["action"], step["confirm"] or ""
        if action.startswith("Read back the high-pass"):
            enter((f"channel {about}", "high_pass/corner"), re.match(rf"{figure} Hz", confirm)[1])
        elif found := re.match(rf"{figure} V RMS(?:, {figure} V peak)?", confirm):
            enter((f"channel {about}", "limiter/rms"), found[1])
            if found[2]:
                enter((f"channel {about}", "limiter/peak"), found[2])
        elif action.startswith("Read back gain"):
            gain = rf"{figure} dB(?: from input to output \({figure} dB re full scale\))?, {figure} ms"
            whole, scale, delay = re.match(gain, confirm).groups()
            enter((f"channel {about}", "gain"), scale or whole)
            enter((f"channel {about}", "delay"), delay, factor=0.001)
            if scale:
                enter((f"channel {about}", "gain structure/gain_db"), whole)
        elif found := re.match(rf"{figure} ohm expected, right from {figure} to {figure} ohm", confirm):
            for name, value in zip(("ohm", "low_ohm", "high_ohm"), found.groups()):
                enter((f"line {about}", f"readings/rack 1000/{name}"), value, "four digits")
        elif found := re.match(rf"at least {figure} Mohm", confirm):
            enter((f"line {about}", "leakage_mohm"), found[1])
        elif found := re.match(rf"{figure} dBA wanted", confirm):
            enter((f"area {about}", "target"), found[1])
        for limit, unit, when in re.findall(rf"at most {figure} dB(A?)[^;]*? by (day|night)", confirm):
            enter((f"neighbour {about}", f"{when}/{'total_dba' if unit else 'octave63_hz'}/limit_db"), limit)


def bill(ledger, data, order):
    """Sums of the cables as cut: by line and kind of laying, by line and kind of cable, of a spool, of holes."""
    enter = lambda fact, value: ledger.enter(fact, "json", "pack.json, worked out", value)  # noqa: E731
    runs, laid, kinds = {(r["line"], r["id"]): r for r in data["runs"]}, {}, {}
    for cable in data["laid_cables"]:
        # A cable of several lines is counted with that which the document has first.
        carried = sorted(cable["carries"], key=lambda c: order.index(c["line"]))
        run, line = runs[carried[0]["line"], carried[0]["run"]], carried[0]["line"]
        for k, of in enumerate(dict.fromkeys(c["line"] for c in carried)):
            kinds[of, cable["cable"]] = kinds.get((of, cable["cable"]), 0.0) + (0.0 if k else cable["laid_m"])
        for piece in run["pieces"]:
            key = line, piece["laying"]
            laid[key] = laid.get(key, 0.0) + piece["length_m"]
        enter((f"cable {cable['tag']}", "lines"), ", ".join(dict.fromkeys(c["line"] for c in cable["carries"])))
    for (line, laying), metres in laid.items():
        enter((f"line {line}", f"laid/{laying}"), metres)
    for (line, cable), metres in kinds.items():
        enter((f"line {line}", f"laid in {cable}"), metres)
    for key, code in (("soil_m3", "task/hole"), ("gravel_m3", "task/gravel")):
        if data["holes"]:
            enter((f"item {code}", "as measured"), sum(hole[key] for hole in data["holes"]))
    for group, amount in data["quotation"]["groups"]:
        enter(("price", f"groups/{group}"), float(amount))


def places(ledger, surfaces):
    """East and north of what has a place, height where the document leaves it to the model, and tapes from corners and marks."""
    job, models = surfaces.sent["job"]["resolved"], surfaces.sent["catalogue"]["loudspeakers"]
    for table, subject in (("loudspeakers", "loudspeaker"), ("racks", "rack")):
        for id, entry in job.get(table, {}).items():
            for name, value in zip(("position/east", "position/north"), entry["position"]):
                ledger.enter((f"{subject} {id}", name), "http", "GET job, position", value)
    for id, channel in job["channels"].items():
        limiter = channel.get("limiter")
        if limiter and limiter.get("rms") and not limiter.get("peak"):
            # 6 dB over the RMS threshold, and no more than the peak of a sine at the voltage of the channel's lines.
            programmes = job.get("programmes", {})
            played = programmes.get(channel.get("programme") or next(iter(programmes), None), {}).get("supply")
            usual = played or job["brief"]["supply"]
            supplies = [line.get("supply") or usual for line in job["lines"].values() if line["channel"] == id]
            volts = [float(s.split()[0]) for s in supplies if s.endswith(" V")]
            peak = min([2 * limiter["rms"], *(math.sqrt(2) * v for v in volts)])
            ledger.enter((f"channel {id}", "limiter/peak"), "http", "GET job, worked out", peak)
    for id, placed in job["loudspeakers"].items():
        model = models[placed["model"]]
        if placed["height"] is None:
            ledger.enter((f"loudspeaker {id}", "height"), "http", "GET catalogue", model["centre_height"])
        if model.get("pilot_depth"):
            ledger.enter((f"loudspeaker {id}", "pilot hole"), "http", "GET catalogue", model["pilot_depth"])
    for (subject, quantity) in list(ledger.facts):
        if quantity.startswith("tape from "):
            at = job["loudspeakers"][subject.removeprefix("loudspeaker ")]["position"]
            fixed = mark(job, quantity.removeprefix("tape from "))
            if fixed is not None:
                ledger.enter((subject, quantity), "http", "GET job, plane distance", math.dist(at, fixed))


def mark(job, name):
    """A mark by its id, or the corner of something drawn: "house/1" is the first of house."""
    if name in job.get("marks", {}):
        return job["marks"][name]["position"]
    id, _, corner = name.partition("/")
    for table in job.values():
        entry = table.get(id) if isinstance(table, dict) else None
        points = entry and (entry.get("outline") or entry.get("line")) if isinstance(entry, dict) else None
        if points and corner.isdigit():
            return points[int(corner) - 1]
    return None

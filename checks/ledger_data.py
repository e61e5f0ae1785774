"""Facts out of data: what commands print with `--json`, the server answers, the phone takes along, and a job's own document.

A tree is walked to its ends. What has an identity of its own is a subject, also in a list; the rest of the way is the name of the
quantity. The same fact has one name wherever it stands, which is what the names below are for.
"""

import math
import re
import tomllib

from ledger_findings import Listed

# What tells an entry of a list from the others; the first that is there.
IDENTITY = ("place", "joint", "load", "tag", "run", "loudspeaker", "code", "id", "at", "reading", "neighbour", "lead", "input",
            "quantity", "cable", "laying", "setting", "source", "model", "name", "band", "order", "number", "line")
# Beside it, where it does not tell enough.
BESIDES = ("frequency_hz", "by_night", "quantity", "floor", "line", "visit", "stage", "measured")
SUBJECTS = {"loudspeakers": "loudspeaker", "lines": "line", "channels": "channel", "areas": "area", "neighbours": "neighbour",
            "racks": "rack", "items": "item", "laid_cables": "cable", "holes": "hole of", "amplifiers": "amplifier",
            "leads": "lead", "stubs": "stub", "joints": "joint", "expected": "line", "cables": "spools of", "laying": "laying",
            "sources": "source", "drawings": "drawing", "programmes": "programme", "surfaces": "surface",
            "buildings": "building", "passages": "passage", "sleeves": "sleeve", "services": "service", "visits": "visit",
            "marks": "mark", "barriers": "barrier", "wishes": "wish", "readings": "reading"}
# Ways through the data to a subject and a quantity; what none of them fits is named by the way itself.
NAMES = [(re.compile(way), subject, quantity) for way, subject, quantity in [
    (r"lines/([^/]+)/loads/([^/]+)/(.+)", r"loudspeaker \2", r"\3"),
    (r"lines/([^/]+)/runs/([^/]+)/(.+)", r"run \2 of \1", r"\3"),
    (r"expected/([^/]+)/runs/([^/]+)/(.+)", r"run \2 of \1", r"\3"),
    (r"runs/([^/]+) ([^/]+)/(.+)", r"run \1 of \2", r"\3"),
    (r"proposed/runs/([^/]+) ([^/]+)/(.+)", r"proposed run \1 of \2", r"\3"),
    (r"levels/areas/([^/]+)/target_dba", r"area \1", "target"),
    (r"tuned/areas/([^/]+)/target_dba", r"area \1", "target"),
    (r"tuned/areas/([^/]+)/before/(.+)", r"area \1", r"statistics/\2"),
    (r"tuned/areas/([^/]+)/(.+)", r"area \1", r"tuned/\2"),
    (r"tuned/channels/([^/]+)/(.+)", r"channel \1", r"tuned/\2"),
    (r"levels/areas/([^/]+)/(.+)", r"area \1", r"\2"),
    (r"bass/areas/([^/]+)/(.+)", r"area \1", r"bass/\2"),
    (r"tuned/delays/([^/]+)/(echo_.+)", r"area \1", r"tuned/\2"),
    (r"tuned/neighbours/(\S+) False ([^/]+)/limit_db", r"neighbour \1", r"day/\2/limit_db"),
    (r"tuned/neighbours/(\S+) True ([^/]+)/limit_db", r"neighbour \1", r"night/\2/limit_db"),
    (r"tuned/neighbours/(\S+) False ([^/]+)/(.+)", r"neighbour \1", r"tuned/day/\2/\3"),
    (r"tuned/neighbours/(\S+) True ([^/]+)/(.+)", r"neighbour \1", r"tuned/night/\2/\3"),
    (r"gain/channels/([^/]+)/sources/([^/]+)/inputs/(\S+)(?: [^/]*)?/(.+)", r"lead \3", r"\4"),
    (r"proposed/cables/([^/]+)/(.+)", r"proposed spools of \1", r"\2"),
    (r"cables/([^/]+)/cut_m", r"item cable/\1", "cut_m"),
    (r"gain/channels/([^/]+)/(.+)", r"channel \1", r"gain structure/\2"),
    (r"racks/([^/]+)/draws/([^/]+)/(.+)", r"amplifier \2", r"draws/\3"),
    (r"neighbours/([^/]+)/receivers/([^/]+)/contributions/([^/]+)/total_dba", r"neighbour \1",
     r"receivers/\2/loudspeakers/\3"),
    (r"quotation/currency", "job", "currency"),
    (r"quotation/items/([^/]+)/(.+)", r"item \1", r"\2"),
    (r"quotation/(.+)", "price", r"\1"),
]]

UNITS = {"m": 1.0, "ft": 0.3048, "in": 0.0254, "mm": 0.001, "cm": 0.01, "W": 1.0, "V": 1.0, "mV": 1e-3, "uV": 1e-6, "A": 1.0, "Hz": 1.0,
         "kHz": 1e3, "dB": 1.0, "dBA": 1.0, "ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0, "%": 0.01, "deg": 1.0, "ohm": 1.0,
         "kohm": 1e3, "Mohm": 1e6, "C": 1.0, "F": 1.0, "dBu": None, "dBV": None, "hPa": 100.0, "kPa": 1000.0, "Pa": 1.0, "kg": 1.0}


def leaves(tree, way=()):
    """Every end of a tree with the way to it. A list of numbers is one end."""
    if isinstance(tree, dict):
        for key, value in tree.items():
            if key != "findings":
                yield from leaves(value, (*way, key.replace("/", "~")))
    elif isinstance(tree, list) and tree and all(isinstance(item, dict) for item in tree):
        seen = set()
        for k, item in enumerate(tree):
            name = identity(item) or f"number {k}"
            name = f"{name}, number {k}" if name in seen else name
            seen.add(name)
            yield from leaves(item, (*way, name.replace("/", "~")))
    else:
        yield "/".join(way), tree


def identity(item):
    if "line" in item and "id" in item:
        # A run: its tag may be that of a cable it shares.
        return f"{item['id']} {item['line']}"
    key = next((key for key in IDENTITY if is_name(item.get(key))), None)
    if key is None:
        return ""
    # Of a neighbour the quantity tells; of an item of a bill it is how many.
    besides = [k for k in BESIDES if k != key and (k != "quantity" or key == "neighbour")]
    said = [item[key], *(item[k] for k in besides if item.get(k) is not None and is_name(item[k]))]
    return " ".join(map(word, said))


def is_name(value):
    return isinstance(value, (str, int, float)) or (isinstance(value, dict) and len(value) == 1)


def word(value):
    if isinstance(value, dict):
        [(key, inner)] = value.items()
        return str(inner) if key in ("downstream", "loop") else f"{key} {inner}"
    return f"{value:g}" if isinstance(value, float) else str(value)


def named(way):
    """Subject and quantity of a way through the data."""
    for pattern, subject, quantity in NAMES:
        found = pattern.fullmatch(way)
        if found:
            return found.expand(subject).replace("~", "/"), found.expand(quantity)
    first, *rest = way.split("/")
    if first in SUBJECTS and len(rest) >= 2:
        return f"{SUBJECTS[first]} {rest[0]}".replace("~", "/"), "/".join(rest[1:])
    return first, "/".join(rest) or "itself"


def walk(ledger, surface, place, tree, under=""):
    """Enters all of an answer; `under` is what the whole of it is about."""
    for way, value in leaves(tree):
        way = f"{under}/{way}" if under else way
        # Money is text, so that no cent is lost.
        ledger.enter(named(way), surface, place, money(value) if way.startswith("quotation/") else value)


def findings(ledger, surface, place, listed):
    each = Listed(ledger, surface, place)
    for finding in listed:
        # A run goes by its tag alone, as the tables have it.
        about = finding["about"]["id"].split("/")[-1] or finding["about"]["table"]
        mend = " ".join(filter(None, [finding["mend"], finding.get("command")]))
        each.enter(about, finding["severity"], finding["sentence"], mend, finding.get("measures", ()))


def money(value):
    return float(value) if isinstance(value, str) and re.fullmatch(r"-?\d+(\.\d+)?", value) else value


# --- The job's document.

def si(value):
    """A value of the document in SI units, by the definitions of the units; anything else as it is."""
    if isinstance(value, bool) or isinstance(value, (int, float)):
        return value
    if isinstance(value, list):
        return [si(item) for item in value]
    pairs = re.findall(r"([-+]?\d+(?:\.\d+)?) ([a-zA-Z%]+)", value)
    if not pairs or " ".join(f"{n} {u}" for n, u in pairs) != value or any(unit not in UNITS for _, unit in pairs):
        return value
    if pairs[0][1] in ("dBu", "dBV"):
        # 0 dBu is the voltage of 1 mW into 600 ohm, 0 dBV is 1 V (IEC 60027-3).
        return (math.sqrt(0.6) if pairs[0][1] == "dBu" else 1.0) * 10 ** (float(pairs[0][0]) / 20)
    return sum(float(number) * UNITS[unit] for number, unit in pairs)


def document(ledger, surface, place, text):
    """A job's file, read with tomllib and by the definitions of the units."""
    read = tomllib.loads(text) if isinstance(text, str) else text
    for way, value in leaves(read):
        # A supply is one of a list of words, though it looks like a voltage.
        if not way.endswith("/supply"):
            value = money(value) if way.endswith("/budget") else si(value)
        ledger.enter(named(way), surface, place, value)


def resolved(ledger, surface, place, tree):
    """The same document as an answer has it, in SI units and with what is left out filled in; null says nothing."""
    for way, value in leaves(tree):
        if value is not None:
            ledger.enter(named(way), surface, place, money(value) if way.endswith("/budget") else value)

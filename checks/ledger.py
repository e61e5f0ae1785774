"""A ledger of facts: what every surface says of a fact that has a name, entered under that name and compared.

A fact is a subject ("line A", "loudspeaker S1") and a quantity, named as the data name it (`minimum/impedance_ohm`). What a
surface shows of it is entered as the interval the true value can lie in, from the digits shown and the rule by which that surface
rounds: to the nearest, or up where a length is cut. Two entries agree when one value can have been rounded to both. Data are
entered as they are, and then have to be equal.
"""

import dataclasses
import math
import re

SURFACES = ("screen", "json", "http", "papers", "spreadsheet", "phone", "app")
# Of the size of the value: two ways of adding the same parts, and limits at the very end of an interval.
SAME = 1e-9
# The papers round up only what lies above a step by more than this part of it, so that 7.00000000001 m is cut as 7.0 m.
CEIL_SLACK = 1e-6


@dataclasses.dataclass(frozen=True)
class Entry:
    """What one place says. `low` and `high` are the ends of the interval for a number, equal for data; else both are the text."""

    surface: str
    place: str
    shown: str
    low: object
    high: object


class Ledger:
    def __init__(self):
        self.facts = {}
        self.problems = []

    def enter(self, fact, surface, place, shown, interval=None):
        """Enters a fact as shown; without an interval the value itself, number, text or list."""
        assert surface in SURFACES, surface
        low, high = interval if interval is not None else (shown, shown)
        self.facts.setdefault(fact, []).append(Entry(surface, place, str(shown), low, high))

    def not_read(self, surface, place, what):
        """Something on a surface that no name is known for: a check must not pass by reading less."""
        self.problems.append(f"{surface}, {place}: {what}")

    def surfaces(self, fact):
        return {entry.surface for entry in self.facts[fact]}

    def compared(self, least=2):
        return [fact for fact in self.facts if len(self.surfaces(fact)) >= least]

    def alone(self):
        return [fact for fact in self.facts if len(self.surfaces(fact)) == 1]

    def disagreements(self):
        return {fact: entries for fact, entries in self.facts.items() if not agree(entries)}


def agree(entries):
    first = entries[0]
    if all(is_number(e.low) for e in entries):
        low, high = max(e.low for e in entries), min(e.high for e in entries)
        return low <= high + SAME * max(1e-3, abs(low), abs(high))
    if all(isinstance(e.low, (list, tuple)) for e in entries):
        return all(same_list(first.low, e.low) for e in entries)
    return all(first.low == e.low for e in entries)


def same_list(one, other):
    return len(one) == len(other) and all(
        math.isclose(a, b, rel_tol=SAME, abs_tol=1e-12) if is_number(a) and is_number(b)
        else same_list(a, b) if isinstance(a, (list, tuple)) and isinstance(b, (list, tuple)) else a == b
        for a, b in zip(one, other))


def is_number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def told(fact, entries):
    """A fact and every place that has it, for a message."""
    lines = [f"{fact[0]}: {fact[1]}"]
    for e in sorted(set(entries), key=lambda e: (SURFACES.index(e.surface), e.place)):
        lines.append(f"    {e.surface:11} {e.place}: {e.shown}")
    return "\n".join(lines)


# --- Figures as they are shown.

NUMBER = r"[-−+]?\d[\d\u2009\u202f]*(?:\.\d+)?"


def plain(text):
    """A figure's text as Python reads it: the minus of typesetting, thin spaces between thousands."""
    return re.sub(r"\s", "", text.replace("−", "-"))


def step_of(text, rule="nearest"):
    """The step a figure was rounded to: its last digit; of four digits and more before the point, four."""
    figure = plain(text).lstrip("+-")
    head, _, decimals = figure.partition(".")
    if decimals:
        return 10.0 ** -len(decimals)
    return 10.0 ** max(len(head) - 4, 0) if rule == "four digits" else 1.0


def interval(text, factor=1.0, rule="nearest", step=None):
    """What a figure stands for, in units of `factor`: "nearest", "four digits" (of a meter), "up", "down", "exact"."""
    value = float(plain(text))
    step = step_of(text, rule) if step is None else step
    low, high = {
        "nearest": (value - step / 2, value + step / 2),
        "four digits": (value - step / 2, value + step / 2),
        "up": (value - step * (1 - CEIL_SLACK), value + step * CEIL_SLACK),
        # Whole feet of a length along the way, and rests of a spool: one step of a foot.
        "nearest whole": (value - step / 2, value + step / 2),
        "down": (value - step * CEIL_SLACK, value + step * (1 - CEIL_SLACK)),
        "exact": (value, value),
        # The name of a third octave, which ISO 266 rounds by up to one in a hundred.
        "nominal": (value * 0.99, value * 1.01),
    }[rule]
    slack = 1e-12 * max(abs(value), 1.0)
    return (low - slack) * factor, (high + slack) * factor


FOOT, INCH = 0.3048, 0.0254
IN_FEET = re.compile(r"(-)?(?:(\d+) ft)? ?(?:(\d+)?(?: ?(\d+)/(\d+))? in)?")
METRES = {"m": 1.0, "mm": 0.001, "cm": 0.01, "ft": FOOT, "in": INCH, "cu yd": (3 * FOOT) ** 3, "m³": 1.0}


def length(text, rule="nearest", inch=0.25):
    """A length as printed, in metres: "12.8 m", "410 mm", "22 ft 7 3/4 in", "42 ft". Of inches with fractions the step is
    `inch`, which the text does not show where the fraction is reduced."""
    text = text.replace("\xa0", " ").strip()
    single = re.fullmatch(rf"({NUMBER}) (m|mm|cm|ft|in|cu yd|m³)", text)
    if single and (single[2] not in ("ft", "in") or rule != "nearest" or "." in single[1]):
        return interval(single[1], METRES[single[2]], rule)
    found = IN_FEET.fullmatch(text)
    assert found and text, f"no length: {text!r}"
    minus, feet, inches, above, below = found.groups()
    value = (-1 if minus else 1) * (int(feet or 0) * 12 + int(inches or 0) + (int(above) / int(below) if above else 0))
    return interval(repr(float(value)), INCH, rule, step=inch)


def parts(text):
    """Figure and unit: "274.7 ohm", "−13.5 dB", "20 W", "82 %"."""
    found = re.fullmatch(rf"({NUMBER})\s*(.*)", text.replace("\xa0", " ").strip())
    assert found, f"no figure: {text!r}"
    return found[1], found[2]

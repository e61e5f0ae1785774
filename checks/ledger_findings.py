"""Findings of a job: how grave, the sentence, what mends it, and each measure in the sentence by itself.

A sentence is told in the units of its reader, so that a finding is named by its words without its measures, and each of those is
a fact of its own: exact where data carry it beside the sentence, else what the figure that is shown can stand for.
"""

import re

from ledger import FOOT, interval, length

WHOLE = r"(?:\d{1,3}(?: \d{3})+|\d+)"
INCHES = r"(?:\d+ ft )?(?:\d+ \d+/\d+|\d+/\d+|\d+) in"
MEASURE = re.compile(rf"(?<![\w/.-])(?:{INCHES}|({WHOLE}(?:\.\d+)?) (m2|sq ft|m|ft|ohm per metre|ohm per foot))(?![\w/])")
IN_SI = {"m": 1.0, "ft": FOOT, "m2": 1.0, "sq ft": FOOT**2, "ohm per metre": 1.0, "ohm per foot": 1 / FOOT}


def meant(found):
    """What a measure as it is shown can stand for, in SI units. Without a fraction inches may be whole ones."""
    if found[2]:
        return interval(found[1], IN_SI[found[2]])
    return length(found[0], inch=0.25 if "/" in found[0] else 1.0)


class Listed:
    """The findings of one listing. Several of the same words, of which the measures tell, are numbered as they come."""

    def __init__(self, ledger, surface, place):
        self.ledger, self.surface, self.place = ledger, surface, place
        self.measures = {}

    def enter(self, about, severity, sentence, mend, placed=()):
        """`placed` are the measures that data carry, with their places in the sentence in UTF-16 units."""
        found = list(MEASURE.finditer(sentence))
        exact = {(place_in(sentence, m["from"]), place_in(sentence, m["to"])): m["value"] for m in placed}
        for start, end in exact.keys() - {m.span() for m in found}:
            self.ledger.not_read(self.surface, self.place, f"measure {sentence[start:end]!r} of {sentence!r}")
        said = tuple(m[0] for m in found)
        subject, words = f"finding about {about}", MEASURE.sub("_", sentence)
        same = self.measures.setdefault((subject, words), [])
        same += [said] if said not in same else []
        words += f" (number {same.index(said) + 1})" if same.index(said) else ""
        # What to do, and how grave it is, belong to the sentence.
        self.ledger.enter((subject, words), self.surface, self.place, severity)
        self.ledger.enter((subject, f"mend of: {words}"), self.surface, self.place, mend)
        for k, measure in enumerate(found, 1):
            fact = subject, f"measure {k} of: {words}"
            if measure.span() in exact:
                self.ledger.enter(fact, self.surface, self.place, exact[measure.span()])
            else:
                self.ledger.enter(fact, self.surface, self.place, measure[0], meant(measure))


def place_in(sentence, units):
    return len(sentence.encode("utf-16-le")[: 2 * units].decode("utf-16-le"))

"""Proposals on random sites in figures: how many get a design, what is left in it that a change within the brief would mend, how
alike and how even loudspeakers are, how far the price stands above what is proven.

    LOAMLINE_BIN=... LOAMLINE_SITES=200 LOAMLINE_SEED=day python3 checks/site_figures.py

Eight sites unless LOAMLINE_SITES says how many; LOAMLINE_SEED=day draws by the date, any number is another draw. Ends with 1
where a figure misses what is promised. `test_propose_sites.py` holds the same figures of the eight.
"""

import dataclasses
import datetime
import os
import pathlib
import re
import statistics
import sys
import tempfile
import time
import tomllib

import random_sites
from proposing import from_side, loudspeakers, proposal, spacings, stakes

SITES = int(os.environ.get("LOAMLINE_SITES", "8"))
DRAW = os.environ.get("LOAMLINE_SEED", "20261130")
SEED = int(datetime.date.today().strftime("%Y%m%d") if DRAW == "day" else DRAW)
# What a change within the brief would mend: thicker cable, another way, another tap.
AVOIDABLE = re.compile(r"loses [\d.]+ dB|lost in the cable|brief does not allow|not allowed by the brief|limiter|at the highest gain", re.IGNORECASE)


@dataclasses.dataclass
class Site:
    """What a proposal for a site came to."""

    seed: int
    text: str
    proposal: dict
    seconds: float

    @property
    def first(self):
        return self.proposal["options"][0] if self.proposal["options"] else None

    @property
    def meets(self):
        return self.first is not None and not self.first["unmet"]

    def avoidable(self):
        """Findings that a change within the brief would mend."""
        found = self.first["findings"] if self.first else []
        return [f["sentence"] for f in found if f["severity"] != "note" and AVOIDABLE.search(f["sentence"])]

    def served(self):
        """What stands for each area."""
        placed = loudspeakers(self.first) if self.first else {}
        areas = self.first["served"].items() if self.first else ()
        return {area: [placed[t] for t in tags if t in placed] for area, tags in areas}

    def unlike(self):
        """Areas of several models or taps."""
        kinds = {a: {(l["model"], l.get("tap")) for l in all_} for a, all_ in self.served().items()}
        return {a: k for a, k in kinds.items() if len(k) > 1}

    def gaps(self):
        """Distances to the nearest other, for each area of more than one."""
        places = {a: [l["position"] for l in all_] for a, all_ in self.served().items()}
        stand = {a: stakes(p) for a, p in places.items()}
        return {a: spacings(p) for a, p in stand.items() if len(p) > 1}

    def nearest_listener(self):
        """How near a loudspeaker on the ground comes to where people listen, metres."""
        areas = [a["outline"] for a in tomllib.loads(self.text)["areas"].values()]
        ground = [l["position"] for l in (loudspeakers(self.first) if self.first else {}).values() if l.get("height") is None]
        sides = [(c[i - 1], c[i]) for c in areas for i in range(len(c))]
        return min((from_side(p, *s) for p in ground for s in sides), default=float("inf"))


def is_even(gaps):
    """Whether distances lie within a quarter of their median, and a little for what is rounded to the centimetre."""
    median = statistics.median(gaps)
    return max(abs(g - median) for g in gaps) <= 0.26 * median


def proposed(folder, count=SITES, seed=SEED):
    """The sites of a draw with what is proposed for each, one after another; `folder` makes a folder."""
    for k in range(count):
        at = pathlib.Path(folder())
        text = random_sites.site(seed * 1000 + k)
        (at / "job.toml").write_text(text)
        begun = time.monotonic()
        yield Site(seed * 1000 + k, text, proposal(at, "--option", "least-cost"), time.monotonic() - begun)


def figures(sites):
    """Every figure as (what, value, whether it is as promised; None where nothing is)."""
    n = len(sites)
    areas = [a for s in sites for a in s.served()]
    unlike = [(s.seed, a) for s in sites for a in s.unlike()]
    gaps = [(s.seed, a, g) for s in sites if s.first and s.first["matching"] == "alike" for a, g in s.gaps().items()]
    uneven = [(seed, a) for seed, a, g in gaps if not is_even(g)]
    avoidable = [(s.seed, sentence) for s in sites for sentence in s.avoidable()]
    near = min((min(g) for _, _, g in gaps), default=float("inf"))
    listener = min((s.nearest_listener() for s in sites), default=float("inf"))
    bounds = [s.proposal["bound"] / s.first["choice_cost"] for s in sites if s.meets and s.proposal["bound"]]
    above = [b for b in bounds if b > 1]
    seconds = sorted(s.seconds for s in sites)
    without = [s.seed for s in sites if s.first is None]
    yield "sites with a design", f"{n - len(without)} of {n} {without or ''}", not without
    yield "that meet the brief", f"{sum(s.meets for s in sites)} of {n}", None
    yield "findings that could be mended", f"{len(avoidable)} {avoidable or ''}", not avoidable
    yield "areas of one model on one tap", f"{len(areas) - len(unlike)} of {len(areas)} {unlike or ''}", len(unlike) <= max(1, 0.05 * len(areas))
    yield "areas of several, evenly spaced", f"{len(gaps) - len(uneven)} of {len(gaps)} {uneven or ''}", len(uneven) <= 0.05 * max(1, len(gaps))
    yield "least spacing", f"{near:.2f} m", near >= 1.49
    yield "nearest to where people listen", f"{listener:.2f} m", listener >= 0.49
    yield "bounds above what is chosen", f"{len(above)} of {len(bounds)}", not above
    if bounds:
        share = statistics.median(bounds)
        yield "bound over what is chosen, median, least", f"{share:.2f}, {min(bounds):.2f}", None
    if seconds:
        yield "seconds, median, most", f"{statistics.median(seconds):.1f}, {seconds[-1]:.1f}", None


def main():
    print(f"seed {SEED}, {SITES} sites", flush=True)
    sites = []
    with tempfile.TemporaryDirectory() as folder:
        for site in proposed(lambda: tempfile.mkdtemp(dir=folder)):
            sites.append(site)
            said = "meets the brief" if site.meets else "no design" if site.first is None else f"misses {len(site.first['unmet'])} wishes"
            print(f"  {site.seed}: {said}, {site.seconds:.1f} s", flush=True)
    missed = 0
    for what, value, good in figures(sites):
        print(f"{what:<42} {value} {'' if good is not False else '  << not as promised'}")
        missed += good is False
    sys.exit(1 if missed else 0)


if __name__ == "__main__":
    main()

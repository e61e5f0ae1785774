"""The ledger check: every fact of a job that has a name is the same wherever it stands. Command line (tables and `--json`), HTTP,
papers, spreadsheets, the phone's pack, the exported job and the live channel of the three examples and of the six whole jobs, in
metres and in feet; what they show has to be one value to the digits shown (see `ledger`). Second way of computing: each surface
makes its words and its rounding itself, and sums, ends and places are worked out again in `ledger_derived`.

A fact on one surface only is listed (`pytest -s`), and has to have a reason here.
"""

import collections
import dataclasses
import re

import pytest

from ledger import agree, told
from ledger_enter import entered
from ledger_jobs import NAMES, Surfaces
from test_server import Server

# Facts that are rightly on one surface only: surface, subject, quantity, reason.
ALONE = [(surface, re.compile(subject), re.compile(quantity), reason) for surface, subject, quantity, reason in [
    ("json", r"neighbour .*", r"receivers/.*", "each path's terms fill megabytes; over HTTP a loudspeaker is its level alone"),
    ("json", r"tuned", r"sections/.*|sample_rate_hz", "coefficients are for whoever has no other way to load a filter, at one sample rate"),
    ("json", r"proposed", r"written", "whether the command wrote is no fact of the job"),
    ("json", r"years", r".*", "series over the years are the command's; the app draws them from the readings it has"),
    ("json", r"cable .*", r"carries/.*|lead|tag|lines|laid_m|existing", "how a cable is made up; its lengths and ends are printed"),
    ("json", r"cable .*", r"cable|from|to|order_m", "existing cable is neither cut nor bought, so that no sheet lists it"),
    ("json", r"cables", r"itself|to cut", "a job of existing cable alone cuts none; where `route` is not asked nothing shows the sum"),
    ("json", r"drawing .*", r".*", "a list of the drawings' files"),
    ("json", r"item .*", r"code|group|unit|material|as_stated", "of a price before margin, and of words the papers have of their own"),
    ("json", r"joint .*", r".*", "sketched, not printed as text; test_whole_job_facts holds every conductor against phone and paper"),
    ("json", r"laying.*", r"itself|laying|shared_m", "what the bill's quantity is made of"),
    ("json", r"price", r"groups|labour_per_hour|margin|rounding|tax_rate", "the price book's own figures, which a client does not see"),
    ("json", r"spools of .*", r"cable|least_ordered_m|ordered_m|to_order|spools/.*/tag", "how the order of spools was chosen"),
    ("http", r"bass", r"workings/.*", "reasons the app shows when asked why"),
    ("http", r"tuned", r"curves/.*|frequencies_hz|reasons/.*", "curves and reasons the app draws"),
    ("http", r"tuned", r"order_spoken/.*", "the order of work in other languages than English, which is compared"),
    ("http", r"frequencies_hz", r"itself", "the axis of spectra the app draws"),
    ("http", r"proposed", r"summary/.*", "ground opened, each stretch once, and a price, for the app's question before it routes"),
    ("http", r"loudspeaker .*", r"pilot hole", "of a model on a stake that this job mounts in another way"),
    ("papers", r"rack .*", r"mains|circuit", "what no rack says is the job's, or goes with its units; test_built_where holds both ways in"),
    ("phone", r"order as set", r".*", "words of the order of work; the figures in them are facts of their own, as are the papers'"),
]]
SEEN, USED = set(), set()
# A job without surroundings is about half of what a job with neighbours has.
COMPARED, PRINTED, THREE = 1000, 300, 500


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    running = Server(tmp_path_factory.mktemp("jobs"))
    yield running
    running.stop()


@pytest.fixture(scope="module", params=NAMES)
def ledger(request, server, tmp_path_factory):
    return entered(Surfaces(request.param, tmp_path_factory.mktemp("ledger"), server))


def disagreements(ledger, proposed):
    wrong = {f: e for f, e in ledger.disagreements().items() if f[0].startswith("proposed") == proposed}
    return f"{len(wrong)} facts disagree:\n" + "\n".join(told(*one) for one in list(wrong.items())[:40]) if wrong else ""


def test_a_fact_is_one_figure_wherever_it_stands(ledger):
    wrong = disagreements(ledger, proposed=False)
    assert not wrong, wrong


def test_what_route_proposes_is_one_figure_wherever_it_stands(ledger):
    wrong = disagreements(ledger, proposed=True)
    assert not wrong, wrong


def test_everything_on_the_surfaces_has_a_name(ledger):
    """A table, a column or a row that no name is known for would be a fact left out of the comparison."""
    assert not ledger.problems, "\n".join(ledger.problems[:40])


def test_nothing_was_passed_over(ledger):
    """What each surface has to say of every thing of a job, so that a reader that no longer finds it is noticed."""
    subjects = collections.defaultdict(set)
    for subject, quantity in ledger.facts:
        subjects[subject.split(" ")[0]].add(subject)
    loaded = {s for s in subjects["line"] if (s, "minimum/impedance_ohm") in ledger.facts}
    expected = [
        (subjects["loudspeaker"], "joint_1khz_v", {"screen", "json", "http", "papers", "spreadsheet"}),
        (subjects["loudspeaker"], "power_1khz_w", {"screen", "json", "http"}),
        (subjects["loudspeaker"], "line", {"screen", "papers", "spreadsheet", "phone", "app"}),
        (loaded, "minimum/impedance_ohm", {"screen", "json", "http"}),
        (loaded, "readings/rack 1000/low_ohm", {"screen", "json", "http", "papers", "phone"}),
        (loaded, "readings/rack 0/high_ohm", {"screen", "json", "http", "papers", "phone"}),
        ({s for s in subjects["channel"] if (s, "headroom/db") in ledger.facts}, "headroom/db", {"screen", "json", "http", "papers"}),
        ({s for s in subjects["channel"] if (s, "gain") in ledger.facts}, "gain", {"papers", "http", "phone"}),
        (subjects["area"], "statistics/mean_dba", {"screen", "json", "http", "papers", "app"}),
        (subjects["item"], "amount", {"json", "papers", "spreadsheet"}),
        ({"price"}, "total", {"json", "papers", "spreadsheet"}),
        ({s for s in subjects["cable"] if (s, "path_m") in ledger.facts and (s, "existing") not in ledger.facts}, "order_m",
         {"json", "papers", "spreadsheet"}),
    ]
    missing = [(subject, quantity, surfaces - ledger.surfaces((subject, quantity)) if (subject, quantity) in ledger.facts else surfaces)
               for of, quantity, surfaces in expected for subject in sorted(of)
               if (subject, quantity) not in ledger.facts or surfaces - ledger.surfaces((subject, quantity))]
    assert not missing, missing


def test_enough_is_compared_for_a_disagreement_to_show(ledger):
    """Of which what a person reads, on paper, on screen or in a spreadsheet, is counted by itself."""
    printed = [fact for fact in ledger.compared() if {"screen", "papers", "spreadsheet"} & ledger.surfaces(fact)]
    assert len(printed) >= PRINTED and len(ledger.compared()) >= COMPARED and len(ledger.compared(3)) >= THREE
    everywhere = collections.Counter(surface for fact in ledger.compared() for surface in ledger.surfaces(fact))
    assert min(everywhere.values()) >= 10 and len(everywhere) == 7, everywhere


def test_a_fact_on_one_surface_alone_has_a_reason(ledger, request):
    reasons, without = collections.Counter(), []
    for fact in ledger.alone():
        [surface] = ledger.surfaces(fact)
        reason = next((why for of, s, q, why in ALONE if of == surface and s.fullmatch(fact[0]) and q.fullmatch(fact[1])), None)
        reasons[surface, reason] += 1
        without += [fact] if reason is None else []
    name = request.node.callspec.params["ledger"]
    print(f"\n{name}: {len(ledger.facts)} facts, {len(ledger.compared())} compared, {len(ledger.alone())} on one surface")
    for (surface, reason), count in reasons.most_common():
        print(f"  {count:6} {surface:6} {reason}")
    SEEN.add(name)
    USED.update(reasons)
    assert not without, "\n".join(told(fact, ledger.facts[fact]) for fact in without[:40])


def test_a_wrong_figure_is_found(ledger):
    """The comparison itself: a printed figure one and a half of its last digit off, and data off by a millionth, disagree."""
    moved = {"printed": 0, "data": 0}
    for fact in ledger.compared():
        entries = ledger.facts[fact]
        exact = [e for e in entries if isinstance(e.low, float) and e.low == e.high]
        for k, e in enumerate(entries):
            others = entries[:k] + entries[k + 1 :]
            if not isinstance(e.low, float) or len(exact) <= (e in exact):
                continue
            kind = "data" if e in exact else "printed"
            off = max(1.5 * (e.high - e.low), abs(e.low) * 1e-6, 1e-9)
            assert not agree([*others, dataclasses.replace(e, low=e.low + off, high=e.high + off)]), told(fact, entries)
            moved[kind] += 1
    assert min(moved.values()) > 300, moved


def test_no_reason_has_outlived_its_facts():
    if SEEN != set(NAMES):
        pytest.skip("not every job was walked")
    assert [reason for surface, _, _, reason in ALONE if (surface, reason) not in USED] == []

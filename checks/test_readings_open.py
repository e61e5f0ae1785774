"""A meter that shows an open line, typed as such: `dc = "open"`, `impedance = "open"`, on the terrace of terrace.py.

What is right follows from the circuit: two conductors that end carry no current, a finished line of loudspeakers does.
"""

import pytest
from terrace import answer, document, interval
from tool import run


def reading_of_a_line_being_built(folder, read, laid=("a1",), kind="building"):
    """A reading at the rack of line A, of which some runs are laid."""
    folder.mkdir()
    done = "".join(f'{run} = {{ work = "laid", line = "A", run = "{run}" }}\n' for run in laid)
    visit = f'\n[visits.V]\ndate = "2026-05-02"\nkind = "{kind}"\nreadings = {{ r = {{ line = "A", {read} }} }}\n'
    (folder / "job.toml").write_text(document([visit, f"\n[visits.V.done]\n{done}" if done else ""]))
    return folder


@pytest.mark.parametrize("read,said", [
    ('dc = "open"', ("good", "within")),
    ('impedance = "open", frequency = "1 kHz"', ("good", "within")),
    ('dc = "40 ohm"', ("bad", "low")),
])
def test_an_open_reading_is_right_where_there_is_cable_alone(read, said, tmp_path):
    """As far as J1 line A is two conductors that end: no loop, by Ohm's law no current."""
    [told] = answer("check", reading_of_a_line_being_built(tmp_path / "job", read))["readings"]
    assert (told["grade"], told["says"], told["stage"], told["expected"]) == (*said, "J1", "open")
    assert told["ohm"] == (40.0 if "40" in read else None)


def test_a_line_that_reads_as_half_built_is_doubtful_until_somebody_ticks_it_off(tmp_path):
    """A finished line that is cut behind L1 reads as one built as far as L1: by the same network, cut off there."""
    low, high = interval("A", until="a2")
    read = f'dc = "{(low * high) ** 0.5:.4g} ohm"'
    for name, laid, said in (("ticked", ("a1", "a2"), "good as far as L1"), ("not", (), "doubtful: right only as far as L1")):
        folder = reading_of_a_line_being_built(tmp_path / name, read, laid)
        [told] = answer("check", folder)["readings"]
        assert (told["verdict"], told["stage"]) == (said, "L1")
        noted = [f for f in answer("check", folder)["findings"] if told["sentence"] == f["sentence"]]
        assert bool(noted) == (name == "not")
        located = answer("locate", folder, "--line", "A", "--visit", "V")
        assert located["so_far"]["grade"] == said.split(":")[0].split()[0]
        assert located["so_far"]["sentence"] in " ".join(run("locate", folder, "--line", "A", "--visit", "V").stdout.split())
    assert "nothing ticked off" in located["so_far"]["sentence"]
    # With a reading beside the visit's it is the line as drawn that is asked about.
    other = answer("locate", folder, "--line", "A", "--visit", "V", "--reading", "z@1kHz=100ohm")
    assert other["so_far"] is None


def test_an_open_reading_is_that_of_a_meter_past_its_range(tmp_path):
    """20 kohm is the end of the range of the meter that is assumed: two ways to write one thing."""
    located = []
    for k, read in enumerate(('dc = "open"', 'dc = "20 kohm", above = true')):
        folder = reading_of_a_line_being_built(tmp_path / str(k), read, laid=(), kind="fault")
        [told] = answer("check", folder)["readings"]
        assert (told["grade"], told["says"]) == ("bad", "open")
        assert "reads open at the rack" in told["sentence"], told["sentence"]
        located.append(answer("locate", folder, "--line", "A", "--visit", "V")["located"]["diagnosis"]["answers"])
        assert "open" in run("years", folder).stdout
    typed = answer("locate", folder, "--line", "A", "--reading", "dc=open")["located"]["diagnosis"]["answers"]
    assert located[0] == located[1] == typed


@pytest.mark.parametrize("read,told", [
    ('dc = "opne"', "it is not a resistance"),
    ('dc = "open", above = true', "an open line is no value to be above"),
    ('leakage = "open"', "leakage"),
])
def test_what_an_open_reading_cannot_be_is_refused(read, told, tmp_path):
    done = run("check", reading_of_a_line_being_built(tmp_path / "job", read))
    assert done.returncode == 2 and (told in done.stderr or "opne" in done.stderr), done.stderr

"""The built program under attack by command line: small files and sites that ask for far more memory or time than there is. Each
must be refused with a sentence that names the number, or be worked out more coarsely with a note, within seconds and below
512 MB.

The bounds are those of docs/limits.md.
"""

import json

import pytest

from hostile import FILES, HEAD, job, one_line, run, site


@pytest.mark.parametrize("name", FILES)
def test_a_hostile_file_is_refused_with_its_number(tmp_path, name):
    text, words = FILES[name]
    done = run(tmp_path, "check", job(tmp_path, text))
    assert done.code == 2, done.told[-300:]
    for word in words:
        assert word in done.err, done.err[-600:]
    assert len(done.err) < 300_000


def test_a_report_as_json_counts_what_it_does_not_tell(tmp_path):
    done = run(tmp_path, "check", job(tmp_path, one_line(20_000)), "--json")
    report = json.loads(done.out)
    assert (len(report["problems"]), report["more"]) == (100, 19_900)


def test_a_file_without_end_is_not_read(tmp_path):
    folder = job(tmp_path, HEAD)
    with open(folder / "job.toml", "r+b") as file:
        file.truncate(40_000_000_000)
    done = run(tmp_path, "check", folder)
    assert done.code == 2 and "40 000 MB" in done.err and "4 MB" in done.err, done.err


def test_catalogues_are_bounded_together(tmp_path):
    big = "# remark\n" * 300_000
    done = run(tmp_path, "check", job(tmp_path, HEAD, {"a.toml": big, "b.toml": big}))
    assert done.code == 2 and "5.4 MB" in done.err and "4 MB" in done.err, done.err
    (tmp_path / "many").mkdir()
    done = run(tmp_path / "many", "check", job(tmp_path / "many", HEAD, {f"{i}.toml": "" for i in range(65)}))
    assert done.code == 2 and "65 catalogue files" in done.err, done.err
    (tmp_path / "line").mkdir()
    line = "loudspeakers = { " + ", ".join(f"k{i} = {{}}" for i in range(9_000)) + " }"
    done = run(tmp_path / "line", "check", job(tmp_path / "line", HEAD, {"own.toml": line}))
    assert done.code == 2 and "first 100" in done.err, done.err[-300:]


def test_price_books_are_bounded(tmp_path):
    folder = job(tmp_path, HEAD)
    book = tmp_path / "prices.csv"
    with open(book, "wb") as file:
        file.truncate(8_000_000_000)
    done = run(tmp_path, "pack", folder, "--prices", book, "--out", tmp_path / "out")
    assert done.code == 2 and "4 MB" in done.err, done.err
    book.write_text("code,price\n" + "x,y\n" * 900_000)
    done = run(tmp_path, "pack", folder, "--prices", book, "--out", tmp_path / "out")
    assert done.code == 2 and "900 000 lines are wrong" in done.err and len(done.err) < 50_000, done.err[-300:]
    done = run(tmp_path, "calc", "tap", "--input", "-", given="/dev/zero")
    assert done.code == 2 and "4 MB" in done.err, done.err


# Sites of kilometres.


@pytest.mark.parametrize("command", ["predict", "check", "tune", "bass"])
@pytest.mark.parametrize("model", ["stake-165-wide", "ground-sub-320"])
def test_three_kilometres_are_worked_out_coarsely_and_it_says_so(tmp_path, command, model):
    done = run(tmp_path, command, job(tmp_path, site(21, model, 3000)), "--json", seconds=60)
    assert done.code in (0, 1), done.told[-300:]
    told = " ".join(done.out.split())
    # Settings are worked out from coarser levels still, and say nothing of it; there is no bass without subwoofers.
    if command in ("predict", "check") or (command, model) == ("bass", "ground-sub-320"):
        assert "instead of every 2.0 m" in told and "9 000 000 m2" in told, told[-800:]


def test_many_areas_and_a_sliver(tmp_path):
    areas = "".join(
        f"[areas.a{i}]\noutline = [[{i}, 0], [{i}.5, 0], [{i + 9000}.5, 9000], [{i + 9000}, 9000]]\ntarget = 70\n"
        for i in range(60))
    done = run(tmp_path, "predict", job(tmp_path, site(20, "stake-165-wide", 100, areas)), "--json", seconds=60)
    assert done.code in (0, 1), done.told[-300:]


def test_a_boundary_round_the_world(tmp_path):
    line = ", ".join(f"[{90_000 * (-1) ** i}, {i * 40}]" for i in range(1000))
    fence = f"[neighbours.fence]\nday = 50\nline = [{line}]\n"
    done = run(tmp_path, "predict", job(tmp_path, site(21, "stake-165-wide", 40, fence)), "--json", seconds=60)
    assert "instead of every 2.0 m" in done.out and done.code in (0, 1), done.told[-300:]
    (tmp_path / "points").mkdir()
    points = "".join(
        f"[neighbours.n{k}]\nday = 50\npoints = [" + ", ".join(f"[{i}, 99]" for i in range(1000)) + "]\n"
        for k in range(20))
    folder = job(tmp_path / "points", site(21, "stake-165-wide", 40, points))
    done = run(tmp_path, "predict", folder, "--json", seconds=60)
    assert "at most 100 000 are worked out" in done.out and done.code == 1, done.told[-300:]

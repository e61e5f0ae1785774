"""The developer's page docs/api.md: the programs it shows are the files, they run, and what they print is what the page shows.
In Rust and over HTTP the example gets the same levels and the same design at the same price, which is what `loamline predict`
and `loamline propose` say, and the quotation of the design as written. And links between the pages lead to files. All of it is
the project's own contract, with no outside source.
"""

import json
import re
import subprocess
import sys
import urllib.parse

import pytest

from test_server import Server
from tool import ROOT, example, run

PAGE = (ROOT / "docs" / "api.md").read_text()
JOB = ROOT / "examples" / "guesthouse-garden"
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")])


def shown(language):
    """Blocks of the page in a language, in their order."""
    return re.findall(rf"^```{language}\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)


def answer(*arguments):
    done = run(*arguments, "--json")
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def in_rust():
    done = subprocess.run([example("loamline-propose", "whole_job"), JOB], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def over_http(tmp_path_factory):
    server = Server(tmp_path_factory.mktemp("jobs"))
    try:
        done = subprocess.run([sys.executable, ROOT / "examples" / "whole_job.py", f"{server.address}/", JOB / "job.toml"],
                              capture_output=True, text=True)
    finally:
        server.stop()
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_page_shows_the_programs_as_they_are():
    assert shown("rust") == [(ROOT / "crates" / "propose" / "examples" / "whole_job.rs").read_text()]
    assert shown("python") == [(ROOT / "examples" / "whole_job.py").read_text()]


def test_the_page_shows_what_they_print(in_rust, over_http):
    assert shown("text") == [in_rust, over_http]


def test_both_ways_give_what_the_command_line_gives(in_rust, over_http):
    areas = answer("predict", JOB)["report"]["levels"]["areas"].values()
    told = [f"{a['name']}: {a['statistics']['mean_dba']:.1f} dBA, wanted {a['target_dba']:.1f} dBA, "
            f"spread {a['statistics']['spread_db']:.1f} dB" for a in areas]
    proposal = answer("propose", JOB, "--option", "least-cost", "--time", "2s")["proposal"]
    figures = proposal["options"][0]["figures"]
    told.append(f"Proposed: {figures['loudspeakers']} loudspeakers, {figures['price']:.2f} {proposal['currency']}")
    assert len(told) >= 4
    assert in_rust.splitlines()[:-1] == told
    assert over_http.splitlines()[:-1] == told
    # The design costs when it stands in the job what was proposed.
    assert in_rust.splitlines()[-1] == f"Quoted as written: {figures['price']:.2f} {proposal['currency']}, tax included"


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_between_pages_lead_to_files(page):
    text = re.sub(r"^```.*?^```$", "", page.read_text(), flags=re.DOTALL | re.MULTILINE)
    for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", text):
        if not urllib.parse.urlsplit(target).scheme:
            assert (page.parent / target).exists(), target

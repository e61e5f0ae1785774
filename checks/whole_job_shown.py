"""The invented whole jobs as they are shown: over HTTP, in the tables of the command line, and figures as they are printed."""

import functools
import json
import re

import pytest

from over_http import imported_text, server  # noqa: F401 (fixture)
from test_server import ask
from whole_job_made import JOBS


@pytest.fixture(scope="module")
def sent(server):
    """What HTTP answers of a job, each asked once."""
    ids = functools.cache(lambda name: imported_text(server, JOBS[name]))

    @functools.cache
    def get(name, what):
        status, _, body = ask(server.address, "GET", f"/api/jobs/{ids(name)}/{what}")
        assert status == 200, body
        return json.loads(body)

    get.id = ids
    return get


def shows(text, value):
    """Whether a figure as printed is the value rounded to the digits printed; "open" beyond the meter's range."""
    if value is None:
        return text == "open"
    decimals = len(text.partition(".")[2])
    whole_digits = len(text.partition(".")[0]) if not decimals else 0
    step = 10.0 ** -decimals if whole_digits <= 3 else 10.0 ** (whole_digits - 4)
    return abs(float(text) - value) <= 0.5 * step * (1 + 1e-9)


def tables(text):
    """The tables of a command's answer as (heading above, columns, rows of cells), read off the rule under the columns."""
    lines, found, heading = text.splitlines(), [], ""
    for k, line in enumerate(lines):
        if re.fullmatch(r"-+(  -+)+", line):
            cuts = [m.span() for m in re.finditer(r"-+", line)]
            cells = lambda row: [row[a:b].strip() for a, b in cuts]  # noqa: E731
            rows = [cells(row) for row in lines[k + 1 : next((j for j in range(k + 1, len(lines)) if not lines[j]), None)]]
            found.append((heading, cells(lines[k - 1]), rows))
        elif line and not (k and lines[k - 1]) and not re.fullmatch(r"-+(  -+)+", lines[k + 1] if k + 1 < len(lines) else ""):
            heading = line
    return found

"""Writes docs/proposals.md: what `loamline propose` makes of the examples from the bare brief, beside a rule of thumb.

    LOAMLINE_BIN=... python3 checks/proposals.py

Takes a minute or two. `test_propose.py` holds the rows of the smallest example against what the tool gives now.
"""

import json

import tool

EXAMPLES = ["walled-courtyard", "guesthouse-garden", "quayside-hotel"]
PAGE = tool.ROOT / "docs" / "proposals.md"
HEAD = """# Proposals beside a rule of thumb

What `loamline propose JOB --compare` makes of the examples from the bare brief (everything that is not pinned is
proposed anew), beside a plan by rule of thumb: one loudspeaker every 5 m round the edge of each area, all on the middle
tap, the cheapest model that suits the ground, one subwoofer where bass is asked (common practice, no source). Both are
wired, routed, equalised, priced and measured by the same engines. Prices include tax and come from the invented price
book; "on target" is the least share of any area within the band the brief asks, where 95 % is wanted.

Written by `python3 checks/proposals.py`; run it again when the engines or the examples change.

| example | design | price | on target | largest spread | least neighbour margin | loudspeakers + subwoofers |
|---|---|---|---|---|---|---|
"""


def row(example, name, currency, f):
    """One line of the table."""
    margin = "-" if f["neighbour_margin_db"] is None else f"{f['neighbour_margin_db']:+.1f} dB"
    cells = [
        example, name, f"{f['price']:.0f} {currency}", f"{100 * f['worst_share_within']:.0f} %",
        f"{f['worst_spread_db']:.1f} dB", margin, f"{f['loudspeakers']} + {f['subwoofers']}",
    ]
    return "| " + " | ".join(cells) + " |\n"


def rows(example, answer=None):
    """Every line of an example."""
    if answer is None:
        done = tool.run("propose", tool.ROOT / "examples" / example, "--compare", "--json")
        assert done.returncode == 0, f"{example}: {done.stderr}"
        answer = json.loads(done.stdout)
    proposal = answer["proposal"]
    out = [
        row(example, ", ".join(o["kinds"]).replace("-", " "), proposal["currency"], o["figures"])
        for o in proposal["options"]
    ]
    return out + [row(example, "rule of thumb", proposal["currency"], answer["rule_of_thumb"])]


def main():
    PAGE.write_text(HEAD + "".join(line for example in EXAMPLES for line in rows(example)))


if __name__ == "__main__":
    main()

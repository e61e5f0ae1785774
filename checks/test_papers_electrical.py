"""The electrical notes: mains, heat and air of every rack, lines by supply with a line to write on for what the local code wants,
and what is tested; no class, no distance and no code is asserted.

Source of the method: poppler-utils for text; heat from `lines --json`; air by the rule of enclosure makers, 3.1 m3/h for each watt per
kelvin near sea level (from memory), within 6 %. What is to be tested is common practice, no source.
"""

import atexit
import json
import re

import papers
import pytest
import tool

atexit.register(papers.remove)


@pytest.fixture(scope="module", params=[(name, flags) for name in papers.EXAMPLES for flags in ([], ["--paper", "letter", "--units", "us"])], ids=str)
def notes(request):
    name, flags = request.param
    return name, papers.flowing(papers.packed(name, "--only", "electrical", *flags) / "electrical-notes.pdf"), bool(flags)


def test_every_rack_has_the_air_its_heat_wants(notes):
    name, text, american = notes
    racks = json.loads(tool.run("lines", papers.folder(name), "--json").stdout)["report"]["racks"]
    heats = [rack["eighth_heat_w"] for rack in racks.values() if rack["draws"]]
    unit = r"ft³/min" if american else r"m³/h"
    rise = r"18 °F" if american else r"10 K"
    told = re.findall(rf"(\d+) W of heat at one-eighth power: (\d+) {unit} of air carries it away, {rise} warmer", text)
    assert len(told) == len(heats) > 0
    for (heat, air), expected in zip(told, heats):
        assert abs(float(heat) - expected) <= 0.5
        cubic_metres = float(air) * (0.3048**3 * 60 if american else 1)
        assert abs(cubic_metres / (3.1 * expected / 10) - 1) < 0.06 + 1.7 / cubic_metres


def test_every_supply_has_its_lines_to_write_on(notes):
    name, text, _ = notes
    read = papers.job(name)
    named = re.findall(r"By the local code, for lines fed at (.*?): ((?:\w+, )*\w+)", text)
    lines = [line for _, listed in named for line in listed.split(", ")]
    assert sorted(lines) == sorted(read["lines"])
    assert text.count("Class of the amplifiers' outputs") == len(named)
    # Nothing is said of what the code has: no class by its number, no article.
    assert not re.search(r"[Cc]lass (\d|I)|NEC|Article|\bIEC\b", text)


def test_what_is_tested_stands_with_a_box(notes):
    name, text, _ = notes
    read = papers.job(name)
    for rack in read["racks"]:
        for test in (f"A disconnector for rack {rack} that can be locked off", f"Protective earth of rack {rack}"):
            assert test in text
        assert re.search(rf"ground-fault protection of the outlet that feeds rack {rack}: trips", text)
    assert "Insulation of every line at 250 V DC" in text
    assert "Local codes and licensed trades decide" in text

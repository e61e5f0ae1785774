"""One loudspeaker that sends alike in all directions, on a site of hard level ground with walls and houses: what `predict --at`
says of the ways its sound takes to an ear, and what a way loses by itself.

Amplitudes are told from a metre before the loudspeaker, so that what it is and how it is driven falls out. Air is PyPI acoustics'
(ISO 9613-1), the ground's spherical reflection coefficient that of `test_ground.py` (scipy.special.wofz).
"""

import functools
import json
import math
import warnings

import numpy as np

from test_ground import HZ, reference
from test_neighbours import houses_text, job, model, walls_text
from tool import run

warnings.simplefilter("ignore")
from acoustics.atmosphere import Atmosphere  # noqa: E402

# Class H of Nordtest ACOU 104, concrete and water; kPa s/m2. Site's air by default.
FLOW = 200_000
TEMPERATURE_C = 20.0
AIR_DB_PER_M = Atmosphere(temperature=293.15, pressure=101.325, relative_humidity=70.0).attenuation_coefficient(HZ)
C = 343.2 * math.sqrt((TEMPERATURE_C + 273.15) / 293.15)
FAR = (300, 300, 4)


class Way:
    """A way to the ear as the tool tells it; `db` is its level less that of the source at a metre, band by band."""

    def __init__(self, told, drive_db):
        self.words, self.length_m, self.arrival_s = told["way"], told["length_m"], told["arrival_s"]
        self.db = np.array(told["band_levels_db"]) - drive_db
        self.by_ground = "ground" in self.words
        self.by_face = self.words.startswith("by ") and not self.words.startswith("by the ground")


class Site:
    """A folder with such a job; `walls` and `houses` are keys of the job file."""

    def __init__(self, folder, source, walls=(), houses=()):
        (folder / "catalogue").mkdir(exist_ok=True)
        flat = model("plain", directivity='{ kind = "omnidirectional" }', response='{ "20 Hz" = 0, "20 kHz" = 0 }')
        (folder / "catalogue" / "own.toml").write_text(flat)
        self.folder, self.source = folder, np.array(source, float)
        self.text = job([(*source, 0, {})], FAR, site=walls_text(walls) + houses_text(houses)).replace('"lawn"', '"water"')
        (folder / "job.toml").write_text(self.text)
        self.bare = job([(*source, 0, {})], FAR).replace('"lawn"', '"water"')

    def at(self, ear):
        x, y, z = ear
        done = run("predict", self.folder, "--at", f"{x},{y}", "--ear", f"{z} m", "--json")
        assert done.returncode in (0, 1), (done.stderr, self.text)
        return json.loads(done.stdout)["at"]

    @functools.cached_property
    def drive_db(self):
        """Level at a metre in the open, band by band: of the straight way over nothing but ground."""
        (self.folder / "job.toml").write_text(self.bare)
        x, y, z = (round(float(v), 3) for v in self.source + (3, 0, 0))
        [straight] = [p for p in self.at((x, y, z))["loudspeakers"][0]["paths"] if p["way"] == "straight"]
        (self.folder / "job.toml").write_text(self.text)
        return np.array(straight["band_levels_db"]) + 20 * math.log10(3) + 3 * AIR_DB_PER_M

    def ways(self, ear):
        told = self.at(ear)
        assert not told["indoors"], self.text
        return [Way(p, self.drive_db) for p in told["loudspeakers"][0]["paths"]]

    def level_db(self, ear):
        """Of all ways together, less the source at a metre, band by band."""
        return np.array(self.at(ear)["band_levels_db"]) - self.drive_db


def spread_db(length_m):
    """What a way of some length leaves of the level at a metre."""
    return -20 * math.log10(length_m) - AIR_DB_PER_M * length_m


def ground_reflection(flat_m, source_m, ear_m):
    """Spherical reflection coefficient by way of the ground between two heights so far apart in plan."""
    return reference(source_m, ear_m, flat_m, FLOW, TEMPERATURE_C)[1]

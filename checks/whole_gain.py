"""Gain structure of a whole job, from its text and the catalogue alone: what arrives, the gain a channel needs, what is left
before anything clips, and the noise in front of the loudspeakers.

Sources: dBu is relative to 1 mW in 600 ohm, dBV to 1 V (definitions). An input's sensitivity drives an output to a full-scale
sine; a programme whose peaks reach full scale has the peak of that sine and an RMS value lower by its crest factor (definition).
Two sides that differ add by energy, alike by voltage. Level in front of a loudspeaker: sensitivity for 1 W, the voltage at its
terminals V^2/R, 20 lg 2 less where it was measured in half space, the inverse square law. Levels of outputs that state
none, -10 dBV unbalanced and +4 dBu balanced, 5 m for an unbalanced lead and 30 dBA for a quiet night are common practice, no
source. Two outputs bridged stand in series: alike signals add by voltage, noises of their own by energy. Voltages of the lines are those of ngspice (`whole_jobs.py`).
"""

import math

import spice_lines as spice
import whole_jobs
from whole_jobs import metres

ZERO_DBU_V = math.sqrt(1e-3 * 600)
UNIT_V = {"V": 1.0, "mV": 1e-3, "uV": 1e-6}
ZERO_V = {"dBV": 1.0, "dBu": ZERO_DBU_V}
USUAL = {"unbalanced": "-10 dBV", "balanced": "+4 dBu"}
LONGEST_UNBALANCED_M, QUIET_NIGHT_DBA, NEAREST_M, CREST_DB, HIGHEST_GAIN_DB = 5.0, 30.0, 0.5, 12.0, 12.0
MID_HZ = [1000 * 10 ** (n / 10) for n in range(-4, 5)]  # third octaves of the octaves 500 Hz to 2 kHz (IEC 61260-1)


def volts(text):
    figure, unit = text.split()
    return float(figure) * UNIT_V[unit] if unit in UNIT_V else ZERO_V[unit] * 10 ** (float(figure) / 20)


def db(ratio):
    return 20 * math.log10(ratio)


class Channel:
    """What a channel does with its sources."""

    def __init__(self, whole, name):
        job = whole.job
        self.whole, self.name, self.entry = whole, name, job["channels"][name]
        self.amplifier = whole.catalogue["amplifiers"][job["amplifiers"][self.entry["amplifier"]]["model"]]
        programme = self.entry.get("programme", next(iter(job["programmes"])))
        self.crest_db = spice.number(job["programmes"][programme].get("crest_factor", CREST_DB))
        self.lines = [line for key, line in whole.lines.items() if job["lines"][key]["channel"] == name]
        self.full_v, self.most_out_v = self.lines[0].full_scale_v, self.lines[0].drive_v
        bridged = self.entry.get("bridged", False)
        self.own_noise_v = volts(self.amplifier["noise"]) * (math.sqrt(2) if bridged else 1)
        # Each of two bridged outputs gives the line's voltage; on low impedance the pair's is full scale.
        self.at_sensitivity_v = self.full_v * (2 if bridged and self.lines[0].volts else 1)
        self.peak_v = math.sqrt(2) * self.full_v * 10 ** (spice.number(self.entry.get("gain", 0)) / 20)
        self.wanted_v = self.peak_v / 10 ** (self.crest_db / 20)
        self.leads = {id_: lead for id_, lead in job.get("leads", {}).items()
                      if lead["amplifier"] == self.entry["amplifier"] and lead["input"] in self.entry.get("inputs", [])}
        self.sources = {}
        for lead in self.leads.values():
            self.sources.setdefault(lead["source"], []).append(lead)

    def side_v(self, source):
        """Voltage of one side at an input; none of light."""
        return volts(source.get("nominal", USUAL[source["output"]])) if source["output"] in USUAL else None

    def output_v(self, source, inputs, input_v):
        """What one side drives the output to at a gain of 0 dB; light carries the peaks of a full-scale sine."""
        if source["output"] == "optical":
            return self.at_sensitivity_v * math.sqrt(2) / 10 ** (self.crest_db / 20)
        return self.at_sensitivity_v * input_v / volts(inputs["sensitivity"])

    def sides_v(self, name):
        """Voltages at the output at a gain of 0 dB, side by side."""
        source, inputs = self.whole.job["sources"][name], self.amplifier["inputs"]
        each = 2 if source["output"] == "optical" and source["signal"] == "stereo" else 1
        return [self.output_v(source, inputs, self.side_v(source)) for _ in self.sources[name] for _ in range(each)]

    def gain_db(self, name):
        return db(self.wanted_v / math.hypot(*self.sides_v(name)))

    @property
    def highest_gain_db(self):
        """What is to be set: as much as the weakest source needs."""
        return max((self.gain_db(name) for name in self.sources), default=None)

    @property
    def margin_db(self):
        """Peaks with both sides alike below those of the largest sine the output gives into what hangs on it."""
        alike = max([1.0, *(sum(v) / math.hypot(*v) for v in map(self.sides_v, self.sources))])
        return db(math.sqrt(2) * self.most_out_v / (self.peak_v * alike))

    def most_v(self, name):
        """Largest sine that arrives: as stated, else the one that has the programme's peaks."""
        source = self.whole.job["sources"][name]
        if source["output"] == "optical":
            return None
        stated = source.get("highest")
        return volts(stated) if stated else self.side_v(source) * 10 ** (self.crest_db / 20) / math.sqrt(2)

    def headroom_db(self, name):
        most = self.most_v(name)
        return None if most is None else db(volts(self.amplifier["inputs"]["greatest"]) / most)

    @property
    def source_noise_v(self):
        """Noise of all sides at the output, each behind the gain its signal gets, added by energy."""
        noises = []
        for name, leads in self.sources.items():
            source = self.whole.job["sources"][name]
            if "noise" in source:
                one = self.output_v(source, self.amplifier["inputs"], volts(source["noise"]))
                noises += [one * 10 ** (self.gain_db(name) / 20)] * len(leads)
        return math.hypot(*noises) if noises else None

    @property
    def noise_dba(self):
        """A-weighted, in front of the loudest loudspeaker: the mean of the bands where the ear is keen."""
        noise_v = math.hypot(self.source_noise_v or 0.0, self.own_noise_v)
        near_m = metres(self.whole.job["brief"].get("nearest_listener", NEAREST_M))
        levels = []
        for line in self.lines:
            for tag, at_v in whole_jobs.terminals(line, MID_HZ).items():
                load = line.loads[tag]
                model = self.whole.catalogue["loudspeakers"][load["model"]]
                bands = [10 * math.log10((v * noise_v / line.drive_v) ** 2 / load["wired"]) + response_db(model, f)
                         for v, f in zip(at_v, MID_HZ)]
                space_db = db(2) if model.get("reference") == "half space" else 0.0
                levels.append(spice.number(model["sensitivity"]) - space_db + sum(bands) / len(bands) - db(near_m))
        return max(levels)


def response_db(model, hz):
    """Straight over the logarithm of frequency between the points stated."""
    scale = {"Hz": 1.0, "kHz": 1000.0}
    points = sorted((float(k.split()[0]) * scale[k.split()[1]], float(v)) for k, v in model["response"].items())
    for (f0, v0), (f1, v1) in zip(points, points[1:]):
        if f0 <= hz <= f1:
            return v0 + (v1 - v0) * math.log(hz / f0) / math.log(f1 / f0)
    raise ValueError(hz)


def channels(whole):
    """Channels that say which inputs they add."""
    return {name: Channel(whole, name) for name, entry in whole.job["channels"].items() if entry.get("inputs")}


def findings(whole):
    """What is wrong, as (of what, which, what the sentence must say)."""
    job, found, own = whole.job, [], channels(whole)
    quiet = spice.number(job["brief"].get("quiet_night", QUIET_NIGHT_DBA))
    for id_, lead in job.get("leads", {}).items():
        source = job["sources"][lead["source"]]
        inputs = whole.catalogue["amplifiers"][job["amplifiers"][lead["amplifier"]]["model"]]["inputs"]
        voltage = source["output"] != "optical"
        long = "length" in lead and metres(lead["length"]) > LONGEST_UNBALANCED_M
        if long and voltage and (source["output"] == "unbalanced" or not inputs.get("balanced", True)):
            found.append(("leads", id_, f"{metres(lead['length']):.1f} m long and unbalanced; beyond 5 m it picks up hum"))
        fed = [c for c in own.values() if id_ in c.leads]
        if not fed:
            found.append(("leads", id_, "which no channel adds"))
        elif voltage and fed[0].headroom_db(lead["source"]) < 0:
            most, less = fed[0].most_v(lead["source"]), -fed[0].headroom_db(lead["source"])
            found.append(("leads", id_, f"{most:.2f} V arrives, and it takes {volts(inputs['greatest']):.2f} V without clipping, {less:.1f} dB less"))
    for name, c in own.items():
        for source, leads in c.sources.items():
            sides = {lead.get("side", "both") for lead in leads}
            if job["sources"][source]["signal"] == "stereo" and len(sides) == 1 and sides != {"both"}:
                found.append(("channels", name, f"gets the {sides.pop()} side of source {source} alone"))
            most = spice.number(c.amplifier["inputs"].get("highest_gain", HIGHEST_GAIN_DB))
            if c.gain_db(source) > most:
                found.append(("channels", name, f"too weak for channel {name}: {c.gain_db(source):+.1f} dB of gain is needed, and at most {most:+.1f} dB"))
        for number in c.entry["inputs"]:
            if all(lead["input"] != number for lead in c.leads.values()):
                found.append(("channels", name, f"adds input {number}, where no lead ends"))
        if c.margin_db < 0:
            found.append(("channels", name, f"{-c.margin_db:.1f} dB too much where both sides are alike"))
        if c.noise_dba > quiet:
            found.append(("channels", name, f"at the nearest listener, at most {quiet:.1f} dBA on a quiet night"))
    return found

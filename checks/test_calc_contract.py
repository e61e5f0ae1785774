"""Every calculator answers with the promised keys and refuses bad input with exit code 2 and a sentence; the names and
keys are this project's own contract, no outside source."""

import json

import pytest
from tool import calc, run

LINE = {
    "source": {"open_circuit_v": 70.7, "output_impedance_ohm": 0.05},
    "frequencies_hz": [1000],
    "runs": [
        {
            "from": "amp",
            "to": "J1",
            "length_m": 30,
            "cable": {
                "loop_resistance_ohm_per_m": 0.0166,
                "loop_inductance_h_per_m": 6.5e-7,
                "capacitance_f_per_m": 6e-11,
            },
        }
    ],
    "loads": [{"at": "J1", "loudspeaker": {"resistance_ohm": 166.6}}],
}

# Name: (inputs, keys of the results).
CONTRACT = {
    "air-absorption": ({"frequency": "1000,2000"}, ["attenuation_db_per_m"]),
    "sound-speed": ({"temperature": "20"}, ["speed_m_per_s"]),
    "weighting": ({"curve": "A", "frequency": "100,1000"}, ["gain_db"]),
    "level-at-distance": ({"level": "90", "reference": "1", "distance": "10"}, ["level_db"]),
    "level-sum": ({"levels": "80,80"}, ["level_db"]),
    "directivity-piston": (
        {"diameter": "0.165", "frequency": "2000", "angle": "30"},
        ["directivity_db", "directivity_index_db"],
    ),
    "ground-effect": (
        {
            "source_height": "0.5",
            "receiver_height": "1.2",
            "distance": "10",
            "flow_resistivity": "200",
            "frequency": "100,1000",
        },
        ["excess_db", "reflection_re", "reflection_im"],
    ),
    "screen": ({"path_difference": "0.3", "frequency": "1000"}, ["loss_db"]),
    "boundary-level": (None, ["receivers"]),
    "wire": ({"gauge": "14"}, ["resistance_ohm_per_km"]),
    "tap": ({"volts": "70.7", "watts": "30"}, ["impedance_ohm", "watts"]),
    "cable-loss": (
        {"gauge": "14", "length": "60", "volts": "70.7", "watts": "120"},
        ["loop_resistance_ohm", "load_voltage_v", "load_power_w", "loss_db"],
    ),
    "longest-run": ({"gauge": "14", "volts": "70.7", "watts": "120", "loss": "0.5"}, ["length_m"]),
    "line-load": ({"taps": "30,30,15", "rating": "120"}, ["total_w", "used_fraction", "fits"]),
    "line-network": (LINE, ["points"]),
    "loads-combined": ({"impedances": "8,8", "arrangement": "parallel"}, ["impedance_ohm"]),
    "conduit-fill": (
        {"conduit": "20mm", "cables": "8mm,8mm"},
        ["fill_fraction", "limit_fraction", "fits"],
    ),
    "delay": ({"distance": "34.32"}, ["delay_s"]),
    "filter": (
        {
            "kind": "butterworth",
            "response": "high-pass",
            "order": "4",
            "corner": "80",
            "sample_rate": "48000",
            "frequency": "80,1000",
        },
        ["gain_db", "phase_rad", "sections"],
    ),
    "limiter": (
        {"rated_power": "100", "impedance": "8"},
        ["threshold_v_rms", "threshold_v_peak", "threshold_dbu"],
    ),
    "exposure": ({"level": "94"}, ["permitted_s"]),
    "hole": (
        {"length": "0.6", "width": "0.5", "depth": "0.5", "overdig": "0.05", "gravel_depth": "0.1"},
        ["excavation_m3", "gravel_m3", "gravel_kg"],
    ),
    "short-distance": ({"loop_resistance": "0.83", "gauge": "14"}, ["distance_m", "low_m", "high_m"]),
    "spools": (
        {"lengths": "40,60,80", "spool": "100", "spare": "1"},
        ["spools", "cuts", "leftover_m"],
    ),
}


def listed():
    return json.loads(run("calc", "list", "--json").stdout)["calculators"]


def test_exactly_the_promised_names_are_listed():
    names = [entry["name"] for entry in listed()]
    assert sorted(names) == sorted(CONTRACT)


# The scene of boundary-level has a check of its own, test_boundary.py.
@pytest.mark.parametrize("name", [name for name in CONTRACT if name != "boundary-level"])
def test_the_promised_keys_are_answered(name):
    inputs, keys = CONTRACT[name]
    answer = calc(name, document=inputs) if name == "line-network" else calc(name, **inputs)
    assert list(answer) == ["calculator", "inputs", "results", "working", "sources"]
    assert answer["calculator"] == name
    assert set(keys) <= set(answer["results"])
    assert answer["working"] and answer["sources"]
    assert "null" not in json.dumps(answer["results"])


@pytest.mark.parametrize("entry", listed(), ids=lambda entry: entry["name"])
def test_bad_input_is_refused_with_a_sentence(entry):
    for wrong in ["nonsense=1", "notkeyvalue", f"{entry['inputs'][0]}=3 furlongs"]:
        done = run("calc", entry["name"], wrong, "--json")
        assert done.returncode == 2, (wrong, done)
        assert done.stdout == ""
        assert entry["name"] in done.stderr and "panicked" not in done.stderr
    done = run("calc", entry["name"], "--input", "-", text="{")
    assert done.returncode == 2 and "line 1" in done.stderr
    done = run("calc", entry["name"], "--input", "/nowhere/at/all.json")
    assert done.returncode == 2 and "/nowhere/at/all.json" in done.stderr


def test_a_misspelt_name_and_key_are_suggested():
    done = run("calc", "sund-speed")
    assert done.returncode == 2 and 'did you mean "sound-speed"?' in done.stderr
    done = run("calc", "sound-speed", "temprature=20")
    assert done.returncode == 2 and 'did you mean "temperature"?' in done.stderr


def test_every_problem_is_told_at_once():
    done = run("calc", "air-absorption", "temprature=20", "humidity=3 kg", "frequency=-5")
    assert done.returncode == 2
    assert all(word in done.stderr for word in ["temprature", "3 kg", "-5 Hz"])


def test_help_texts_name_every_input_and_result():
    for entry in listed():
        text = run("calc", "help", entry["name"]).stdout
        assert all(key in text for key in entry["inputs"] + entry["results"])
        assert max(map(len, text.split("Example")[0].splitlines())) <= 80, entry["name"]

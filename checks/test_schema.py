"""The shipped examples and the catalogue satisfy the published JSON Schemas, by the PyPI package jsonschema."""

import json
import pathlib
import tomllib

import jsonschema
import pytest

ROOT = pathlib.Path(__file__).resolve().parent.parent


def validator(name):
    schema = json.loads((ROOT / "docs" / "schema" / name).read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


JOBS = sorted((ROOT / "examples").glob("*/job.toml"))
CATALOGUES = sorted((ROOT / "catalogue").glob("*.toml"))


def test_there_is_something_to_check():
    assert JOBS and CATALOGUES


@pytest.mark.parametrize("path", JOBS, ids=lambda p: p.parent.name)
def test_examples_satisfy_the_job_schema(path):
    validator("job.schema.json").validate(tomllib.loads(path.read_text()))


@pytest.mark.parametrize("path", CATALOGUES, ids=lambda p: p.name)
def test_the_catalogue_satisfies_its_schema(path):
    validator("catalogue.schema.json").validate(tomllib.loads(path.read_text()))


def test_a_misspelt_key_and_a_missing_model_do_not():
    job = tomllib.loads(JOBS[0].read_text())
    tag = next(iter(job["loudspeakers"]))
    del job["loudspeakers"][tag]["model"]
    job["loudspeakers"][tag]["baering"] = 90
    found = {e.validator for e in validator("job.schema.json").iter_errors(job)}
    assert found == {"required", "additionalProperties"}

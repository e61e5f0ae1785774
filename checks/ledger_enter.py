"""A job's ledger: all that its data surfaces say, entered under its names."""

import ledger_data as data
from ledger import Ledger
from ledger_derived import derived
from ledger_jobs import COMMANDS
from ledger_papers import Papers, spreadsheets
from ledger_screen import screen


def entered(surfaces):
    ledger = Ledger()
    enter_data(ledger, surfaces)
    enter_paper(ledger, surfaces)
    derived(ledger, surfaces)
    return ledger


def enter_data(ledger, surfaces):
    """What the command line prints with `--json`, the server answers, the phone has and the pack's data say."""
    for command in COMMANDS:
        told = surfaces.data(command)
        if told is None:
            continue
        told = dict(told)
        told |= told.pop("report", {})
        for key in ("job", "errors", "warnings", "notes", "alike"):
            told.pop(key, None)
        data.findings(ledger, "json", f"{command} --json", told.pop("findings", []))
        answer(ledger, "json", f"{command} --json", command, told)
    enter_screen(ledger, surfaces)
    for path, command in (("levels", "predict"), ("neighbours", "predict"), ("bass", "bass"), ("lines", "lines"),
                          ("processing", "tune"), ("expect", "expect"), ("sources", "sources"), ("findings", "check"),
                          ("route", "route")):
        told = dict(surfaces.sent.get(path, {}))
        told.pop("revision", None)
        told.pop("alike", None)
        data.findings(ledger, "http", f"GET {path}", told.pop("findings", []))
        answer(ledger, "http", f"GET {path}", command, told)
    phone = surfaces.sent["visit-pack"]
    for key in ("runs", "holes"):
        data.walk(ledger, "phone", f"visit pack, {key}", phone[key], key)
    answer(ledger, "phone", "visit pack, expect", "expect", {"lines": phone["expect"], "readings": phone["readings"]})
    data.walk(ledger, "phone", "visit pack, order", phone["order"], "order as set")
    data.resolved(ledger, "phone", "visit pack, document", phone["resolved"])
    data.resolved(ledger, "http", "GET job", surfaces.sent["job"]["resolved"])
    data.document(ledger, "app", "job.toml as exported", surfaces.exported)
    data.document(ledger, "http", "GET job, document", surfaces.sent["job"]["document"])
    data.document(ledger, "phone", "visit pack, job", phone["document"])
    data.walk(ledger, "json", "pack.json", {k: v for k, v in surfaces.pack_data.items() if k != "job"})


def answer(ledger, surface, place, command, told):
    """An answer under what it is about: the same words mean another thing in another answer."""
    under = {"bass": "bass", "sources": "gain", "tune": "tuned", "route": "proposed"}.get(command, "")
    if command in ("expect", "years", "check"):
        for key in [k for k in told if k == "lines"]:
            data.walk(ledger, surface, place, told.pop(key), {"expect": "expected", "years": "years"}[command])
    data.walk(ledger, surface, place, told, under)


def enter_screen(ledger, surfaces):
    for (command, how), text in surfaces.said.items():
        if how != ("--json",):
            screen(ledger, command, how[1], text, surfaces.sent["job"]["resolved"])


def enter_paper(ledger, surfaces):
    for units in ("metric", "us"):
        Papers(ledger, surfaces, units).all()
        spreadsheets(ledger, surfaces, units)

"""Two checks run at a time: most wait for a browser or a server. Those that hold a time or a memory against a bound are marked
`alone` and run one by one afterwards. The longest file goes first, so that it is not what everybody waits for at the end.
"""

import pytest

# Files whose checks measure time or memory, and browser steps that follow a hand.
ALONE = {"test_budget.py", "test_hostile.py", "test_hostile_server.py", "test_connections.py", "test_queues.py",
         "test_readers.py", "test_random_jobs.py", "test_calm.py", "test_firm_servers.py", "test_firm_servers_accidents.py",
         "test_work_elsewhere.py", "test_firm_load.py"}
ALONE_STEPS = {"drag.spec.ts", "estate.spec.ts", "first.spec.ts", "hand.spec.ts", "speed.spec.ts"}
LONGEST_FIRST = ["test_web.py", "test_web_visits.py"]


def pytest_configure(config):
    config.addinivalue_line("markers", "alone: holds a time or a memory against a bound; runs by itself")


def pytest_collection_modifyitems(items):
    for item in items:
        spec = getattr(item, "callspec", None)
        if item.path.name in ALONE or (spec and spec.params.get("spec") in ALONE_STEPS):
            item.add_marker(pytest.mark.alone)
    place = {name: n for n, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: place.get(item.path.name, len(place)))

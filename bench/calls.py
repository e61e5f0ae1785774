"""What waking other servers costs: edits a second in PostgreSQL with the notice inside of each edit's transaction, with it
outside as loamline does it, and with a transaction of as many statements for comparison.

    ~/.cache/loamline/venv-*/bin/python bench/calls.py   # wants PostgreSQL 15 or newer; starts a cluster of its own

The edit is the store's own statement on one of 50 jobs of 30 kB; every commit reaches the disk.
"""

import pathlib
import re
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "checks"))

from postgres import Cluster  # noqa: E402 (found by the line above)

CLIENTS, SECONDS = (1, 8), 8
PICK = "\\set n random(1, 50)\n"
EDIT = """WITH changed AS (
  UPDATE loamline.jobs SET text = repeat('another text of job', 1500), revision = revision + 1, changed_at = '2026'
  WHERE id = 'j' || :n RETURNING id, revision
)
INSERT INTO loamline.edits SELECT id, revision, md5(random()::text), 'edit', NULL, 'Ann', '2026', NULL, 'note',
  repeat('{}', 100), repeat('{}', 100) FROM changed;
"""
WAYS = {
    "notice outside": PICK + EDIT,
    "notice inside": PICK + "BEGIN;\n" + EDIT + "SELECT pg_notify('loamline', 'me j' || :n);\nCOMMIT;\n",
    "as many statements, no notice": PICK + "BEGIN;\n" + EDIT + "SELECT 1;\nCOMMIT;\n",
}


def main():
    cluster = Cluster()
    try:
        cluster.database("calls")
        tables = (ROOT / "crates/server/src/store/postgres/tables.rs").read_text()
        cluster.sql("calls", "CREATE SCHEMA loamline;" + re.search(r'const TO_1: &str = r#"(.*?)"#;', tables, re.S)[1])
        cluster.sql("calls", "INSERT INTO loamline.jobs SELECT 'j' || n, repeat('some text of a job ', 1500), 0, 'n', 's',"
                             " '2026', 'x', NULL FROM generate_series(1, 50) n")
        script = cluster.folder / "edit.sql"
        for name, text in WAYS.items():
            script.write_text(text)
            for clients in CLIENTS:
                command = [cluster.programs / "pgbench", "-n", "-h", cluster.folder, "-U", "loamline", "-f", script,
                           "-c", str(clients), "-T", str(SECONDS), "calls"]
                said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
                print(f"{name:30} {clients} at once: {float(re.search(r'tps = ([0-9.]+)', said)[1]):6.0f} edits a second")
    finally:
        cluster.stop()


if __name__ == "__main__":
    main()

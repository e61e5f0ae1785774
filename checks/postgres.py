"""A PostgreSQL of its own for the checks: in a temporary folder, on a socket there and no port, as an ordinary user, gone at the
end. `LOAMLINE_POSTGRES=must` makes it a failure where none is installed.
"""

import os
import pathlib
import pwd
import shutil
import subprocess
import tempfile

import pytest

OLDEST = 15


def programs():
    """The folder of the newest PostgreSQL that is installed; none where there is none that is new enough."""
    there = [f for f in pathlib.Path("/usr/lib/postgresql").glob("*/bin") if (f / "initdb").exists()]
    new = [f for f in there if f.parent.name.isdigit() and int(f.parent.name) >= OLDEST]
    return max(new, key=lambda f: int(f.parent.name), default=None)


class Cluster:
    def __init__(self):
        self.programs = programs()
        if self.programs is None:
            told = f"PostgreSQL {OLDEST} or newer is not installed"
            assert os.environ.get("LOAMLINE_POSTGRES") != "must", told
            pytest.skip(told)
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="pg", dir="/tmp"))
        # The database refuses root.
        self.user = None
        if os.geteuid() == 0:
            known = {u.pw_name: u for u in pwd.getpwall()}
            self.user = known.get("postgres") or known["nobody"]
            os.chown(self.folder, self.user.pw_uid, self.user.pw_gid)
        # Acknowledged means on the disk, here too: -N only spares the disk while the cluster is made.
        self.run("initdb", "-D", "data", "-U", "loamline", "-A", "trust", "-E", "UTF8", "--locale=C", "-N")
        self.start()

    def run(self, program, *arguments):
        more = {"user": self.user.pw_uid, "group": self.user.pw_gid, "extra_groups": []} if self.user else {}
        done = subprocess.run(
            [self.programs / program, *arguments], cwd=self.folder, env={**os.environ, "LC_ALL": "C"},
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=120, **more)
        log = self.folder / "log"
        assert done.returncode == 0, (program, arguments, log.read_text()[-2000:] if log.exists() else "")

    def start(self):
        self.run("pg_ctl", "-D", "data", "-w", "-t", "60", "-l", "log", "-o",
                 f"-c listen_addresses='' -k {self.folder}", "start")

    def crash(self):
        """Ends it as the loss of power would."""
        self.run("pg_ctl", "-D", "data", "-w", "-m", "immediate", "stop")

    def database(self, name):
        """Address of an empty database of this name, made now."""
        self.run("createdb", "-h", str(self.folder), "-U", "loamline", "-E", "UTF8", "-T", "template0", name)
        return self.address(name)

    def address(self, name, user="loamline"):
        return f"postgres:///{name}?host={self.folder}&user={user}"

    def sql(self, name, statement):
        """Runs a statement in a database; its answer as text."""
        done = subprocess.run(
            [self.programs / "psql", "-X", "-A", "-t", "-q", "-v", "ON_ERROR_STOP=1", "-h", str(self.folder), "-U",
             "loamline", "-d", name, "-c", statement], capture_output=True, text=True, timeout=60)
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def stop(self):
        try:
            self.crash()
        finally:
            shutil.rmtree(self.folder, ignore_errors=True)


@pytest.fixture(scope="module")
def cluster():
    running = Cluster()
    yield running
    running.stop()

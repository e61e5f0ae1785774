"""Runs one command and tells what it alone took: exit, CPU seconds, megabytes, whether it had to be ended.

A small process of its own starts the command, because what the system counts for a child begins with what its parent had when
it was started: a test run that holds 600 MB would find 600 MB in every command.
"""

import json
import os
import pathlib
import resource
import signal
import subprocess
import sys
import threading
import time
from collections import namedtuple

MB = 1 << 20


Taken = namedtuple("Taken", "code cpu_s mb stopped")


def run(command, out, err, *, cpu_s, cap_mb):
    """`out` and `err` are files; CPU time ends the command, and ten times as long of standing still does."""
    told = subprocess.run([sys.executable, "-I", "-S", __file__, str(cpu_s), str(cap_mb), str(out.fileno()), str(err.fileno()),
                           *map(str, command)], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, check=True,
                          pass_fds=(out.fileno(), err.fileno()))
    return Taken(*json.loads(told.stdout))


def watch(process, seconds, ended):
    """Ends the process when it has used its time, or has stood still for ten times as long; says so in `ended`."""
    begun, tick = time.monotonic(), os.sysconf("SC_CLK_TCK")
    while process.returncode is None:
        time.sleep(0.1)
        try:
            fields = pathlib.Path(f"/proc/{process.pid}/stat").read_text().rsplit(") ", 1)[1].split()
        except OSError:
            return
        used = (int(fields[11]) + int(fields[12])) / tick
        if used > seconds or time.monotonic() - begun > 10 * seconds:
            ended.append(True)
            os.kill(process.pid, signal.SIGKILL)
            return


def main():
    seconds, cap_mb, out, err, *command = sys.argv[1:]
    cap = int(float(cap_mb) * MB)
    # In this process, so that nothing needs to be called between fork and exec; it needs little itself.
    resource.setrlimit(resource.RLIMIT_DATA, (cap, cap))
    ended = []
    process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=int(out), stderr=int(err))
    threading.Thread(target=watch, args=(process, float(seconds), ended), daemon=True).start()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    json.dump(Taken(process.returncode, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, bool(ended)), sys.stdout)


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""Start a Dask scheduler and workers as separate processes, for `recommender archive ... --scheduler`.

usage: scripts/archive_cluster.py [--workers 2] [--host 127.0.0.1] [--port 8786] [--scheduler ADDRESS]
                                  [--tls-ca FILE --tls-cert FILE --tls-key FILE]

Prints the address and runs until it is stopped (Ctrl-C). With --scheduler only workers are started, for a
scheduler that is there already: so a second machine joins. Whoever reaches the scheduler can run any code on
the workers. It listens on this machine alone unless --host says otherwise, and that is for a closed network
or with TLS: its protocol is not for open networks.
"""

import argparse
import os
import signal
import subprocess
import sys
import time

from recommender.archive.execution import WORKER_ENVIRONMENT

TLS = {"tls_ca": "--tls-ca-file", "tls_cert": "--tls-cert", "tls_key": "--tls-key"}
NO_DASHBOARD = ("--no-dashboard", "--dashboard-address", "127.0.0.1:0")
SETTINGS = {
    "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0",
    "DASK_DISTRIBUTED__SCHEDULER__HTTP__ROUTES": "[]",
    "DASK_DISTRIBUTED__WORKER__HTTP__ROUTES": "[]",
    "DASK_DISTRIBUTED__WORKER__PROFILE__ENABLED": "False",
}
"""A run decides itself what is done again; nothing is served over HTTP or profiled."""


def commands(given: argparse.Namespace) -> tuple[str, list[list[str]]]:
    """Return the address of the scheduler, and the processes to start."""
    files = {flag: getattr(given, name) for name, flag in TLS.items() if getattr(given, name)}
    tls = [word for pair in files.items() for word in pair]
    protocol = "tls" if tls else "tcp"
    address = given.scheduler or f"{protocol}://{given.host}:{given.port}"
    dask = [sys.executable, "-m", "dask"]
    found = []
    if not given.scheduler:
        where = ["--host", f"{protocol}://{given.host}", "--port", str(given.port)]
        found.append([*dask, "scheduler", *where, *NO_DASHBOARD, *tls])
    own = ["--host", given.host, "--nworkers", "1", "--nthreads", "1"]
    found += [[*dask, "worker", address, *own, *NO_DASHBOARD, *tls]] * given.workers
    return address, found


def main() -> int:
    """Start everything, and end it together."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=8786)
    parser.add_argument("--scheduler", help="the address of one that is there")
    for name in TLS:
        parser.add_argument(f"--{name.replace('_', '-')}", metavar="FILE")
    given = parser.parse_args()
    address, found = commands(given)
    environment = {**os.environ, **WORKER_ENVIRONMENT, **SETTINGS}
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    begun: list[subprocess.Popen[bytes]] = []
    try:
        begun += [subprocess.Popen(command, env=environment) for command in found]
        print(address, flush=True)
        while all(one.poll() is None for one in begun):
            time.sleep(0.5)
        print("one of the processes has ended; the others end too", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 0
    finally:
        for one in reversed(begun):
            one.terminate()
        for one in reversed(begun):
            try:
                one.wait(5)
            except subprocess.TimeoutExpired:  # a worker may wait for a scheduler that is gone
                one.kill()


if __name__ == "__main__":
    sys.exit(main())

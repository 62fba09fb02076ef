"""Two workers against one, on a machine with two cores or more: answers a second, and what the load itself takes.

Run it with `python tests/bench/bench_workers.py`; it prints one JSON line. The load comes from this process, whose
share of one processor is printed beside each figure: where it nears 1, the load and not the service is measured.
"""

from __future__ import annotations

import http.client
import json
import os
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
SECONDS, CONNECTIONS, ROUNDS = 6, 8, 3

from tests.bench.bench_evaluate import TOKEN, free_port, signed_in, wait_for  # noqa: E402


def load(port: int, cookie: str) -> tuple[float, float]:
    """Ask for the list of cards over several connections; return answers a second and this process's share."""
    answered, stop = [0] * CONNECTIONS, time.monotonic() + SECONDS

    def ask(place: int) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        while time.monotonic() < stop:
            connection.request("GET", "/api/cards/", headers={"Cookie": cookie, "X-CSRFToken": TOKEN})
            answer = connection.getresponse()
            answer.read()
            if answer.status != 200:
                raise SystemExit(f"answered {answer.status}")
            answered[place] += 1

    begin, used = time.monotonic(), time.process_time()
    threads = [threading.Thread(target=ask, args=(place,)) for place in range(CONNECTIONS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    took = time.monotonic() - begin
    return sum(answered) / took, (time.process_time() - used) / took


def served(workers: int, cookie: str, folder: str) -> tuple[float, float]:
    """Return `load` of a server with so many workers."""
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "shops.site.wsgi:application", "--bind", f"127.0.0.1:{port}"]
    command += ["--workers", str(workers), "--worker-class", "gthread", "--threads", "4", "--log-level", "warning"]
    server = subprocess.Popen([*command, "--worker-tmp-dir", folder], cwd=ROOT, start_new_session=True)
    try:
        wait_for(port, server).close()
        load(port, cookie)
        return load(port, cookie)
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait(30)


def main(folder: str) -> None:
    """Measure one and two workers in turn, and print one line."""
    cookie = signed_in()
    found: dict[int, list[tuple[float, float]]] = {1: [], 2: []}
    for _ in range(ROUNDS):
        for workers, each in found.items():
            each.append(served(workers, cookie, folder))
    rate = {workers: statistics.median(one[0] for one in each) for workers, each in found.items()}
    share = {workers: statistics.median(one[1] for one in each) for workers, each in found.items()}
    told = {
        "bench": "workers",
        "cores": os.cpu_count(),
        "answers_per_s": {workers: round(value, 1) for workers, value in rate.items()},
        "load_share_of_a_core": {workers: round(value, 2) for workers, value in share.items()},
        "two_against_one": round(rate[2] / rate[1], 2),
    }
    print(json.dumps(told))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as kept:
        os.environ |= {"COILBOOK_DATA": kept, "DJANGO_SETTINGS_MODULE": "shops.site.settings"}
        os.environ.pop("DATABASE_URL", None)
        main(kept)

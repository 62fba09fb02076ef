"""Two workers against one, on a machine with two cores or more: answers a second, and what the load itself takes.

Run it with `python tests/bench/bench_workers.py`; it prints one JSON line. The load comes from this process, whose
share of one processor is printed beside each figure, as is the workers': together they can have no more than the
machine's cores less what else it does. What an answer costs the workers, in processor time, tells on a busy machine
too whether two of them hinder each other.
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


def workers_time(master: int) -> float:
    """Return the processor time that gunicorn's workers have used, s (Linux)."""
    ticks = 0
    for worker in Path(f"/proc/{master}/task/{master}/children").read_text().split():
        fields = Path(f"/proc/{worker}/stat").read_text().rsplit(")", 1)[1].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def load(port: int, cookie: str, master: int) -> dict[str, float]:
    """Ask for the list of cards over several connections; return answers a second, and who used the processor."""
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

    begin, used, theirs = time.monotonic(), time.process_time(), workers_time(master)
    threads = [threading.Thread(target=ask, args=(place,)) for place in range(CONNECTIONS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    took = time.monotonic() - begin
    theirs = workers_time(master) - theirs
    return {
        "answers_per_s": sum(answered) / took,
        "load_share_of_a_core": (time.process_time() - used) / took,
        "workers_share_of_a_core": theirs / took,
        "processor_ms_an_answer": theirs / sum(answered) * 1000,
    }


def served(workers: int, cookie: str, folder: str) -> dict[str, float]:
    """Return `load` of a server with so many workers."""
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "shops.site.wsgi:application", "--bind", f"127.0.0.1:{port}"]
    command += ["--workers", str(workers), "--worker-class", "gthread", "--threads", "4", "--log-level", "warning"]
    server = subprocess.Popen([*command, "--worker-tmp-dir", folder], cwd=ROOT, start_new_session=True)
    try:
        wait_for(port, server).close()
        load(port, cookie, server.pid)
        return load(port, cookie, server.pid)
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait(30)


def main(folder: str) -> None:
    """Measure one and two workers in turn, and print one line."""
    cookie = signed_in()
    found: dict[int, list[dict[str, float]]] = {1: [], 2: []}
    for _ in range(ROUNDS):
        for workers, each in found.items():
            each.append(served(workers, cookie, folder))
    median = {
        workers: {name: round(statistics.median(one[name] for one in each), 2) for name in each[0]}
        for workers, each in found.items()
    }
    told = {
        "bench": "workers",
        "cores": os.cpu_count(),
        "load_of_the_machine": [round(one, 1) for one in os.getloadavg()],
        "by_workers": median,
        "two_against_one": round(median[2]["answers_per_s"] / median[1]["answers_per_s"], 2),
    }
    print(json.dumps(told))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as kept:
        os.environ |= {"COILBOOK_DATA": kept, "DJANGO_SETTINGS_MODULE": "shops.site.settings"}
        os.environ.pop("DATABASE_URL", None)
        main(kept)

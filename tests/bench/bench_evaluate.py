"""What `evaluate/` costs over HTTP, against an empty view of the same server, signed in alike.

Run it with `python tests/bench/bench_evaluate.py`; it prints one JSON line. Server and database live in a
folder of their own and are gone afterwards. Nothing here is asserted by a test, for times are a machine's own.
"""

from __future__ import annotations

import http.client
import json
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.sample import FRONT, REAR

ROOT = Path(__file__).resolve().parents[2]
ROUNDS, WARM_UP, PATIENCE_S = 300, 20, 60
TOKEN = "b" * 32
BIKE = {"front": FRONT, "rear": {**REAR, "spring": {"kind": "straight", "rate_n_per_mm": 74}}}


def signed_in() -> str:
    """Make the database with one technician in it, and return the cookie of a session of theirs."""
    # Settings read the environment when they are first used, which must not be before the folder is made.
    import django  # noqa: PLC0415
    from django.core.management import call_command  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    django.setup()
    from tests.factories import PersonFactory  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    client = Client()
    client.force_login(PersonFactory())
    return f"sessionid={client.cookies['sessionid'].value}; csrftoken={TOKEN}"


def free_port() -> int:
    """Return a port that nothing listens at."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def wait_for(port: int, server: subprocess.Popen[bytes]) -> http.client.HTTPConnection:
    """Return a connection to the server once it answers."""
    begin = time.monotonic()
    while time.monotonic() - begin < PATIENCE_S:
        if server.poll() is not None:
            raise SystemExit(f"The server stopped with {server.returncode} before it answered.")
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        try:
            connection.request("GET", "/healthz")
            connection.getresponse().read()
        except OSError:
            time.sleep(0.2)
        else:
            return connection
    raise SystemExit(f"The server did not answer within {PATIENCE_S} s.")


def timed(connection: http.client.HTTPConnection, path: str, cookie: str) -> float:
    """Return how long one POST of the bike takes, s; anything but a 200 ends the run."""
    headers = {"Content-Type": "application/json", "Cookie": cookie, "X-CSRFToken": TOKEN}
    body = json.dumps(BIKE)
    begin = time.perf_counter()
    connection.request("POST", path, body, headers)
    answer = connection.getresponse()
    content = answer.read()
    took = time.perf_counter() - begin
    if answer.status != 200:
        raise SystemExit(f"{path} answered {answer.status}: {content[:300]!r}")
    return took


def measure(port: int, server: subprocess.Popen[bytes], cookie: str) -> dict[str, object]:
    """Return both medians and their ratio, the two views asked in turn over one connection."""
    connection = wait_for(port, server)
    paths = {"empty": "/api/empty/", "evaluate": "/api/calc/evaluate/"}
    times: dict[str, list[float]] = {name: [] for name in paths}
    for number in range(WARM_UP + ROUNDS):
        for name, path in paths.items():
            took = timed(connection, path, cookie)
            if number >= WARM_UP:
                times[name].append(took)
    connection.close()
    median = {name: statistics.median(each) for name, each in times.items()}
    return {
        "bench": "evaluate",
        "rounds": ROUNDS,
        "empty_ms": round(median["empty"] * 1000, 3),
        "evaluate_ms": round(median["evaluate"] * 1000, 3),
        "ratio": round(median["evaluate"] / median["empty"], 2),
    }


def main() -> None:
    """Serve, measure, stop, and print one line."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"COILBOOK_DATA": folder, "DJANGO_SETTINGS_MODULE": "shops.site.settings"}
        os.environ.pop("DATABASE_URL", None)
        cookie, port = signed_in(), free_port()
        command = [sys.executable, "-m", "gunicorn", "tests.bench.served:with_bench_views()"]
        command += ["--bind", f"127.0.0.1:{port}", "--worker-class", "gthread", "--threads", "2"]
        command += ["--log-level", "warning", "--worker-tmp-dir", folder]
        server = subprocess.Popen(command, cwd=ROOT)
        try:
            print(json.dumps(measure(port, server, cookie)))
        finally:
            server.terminate()
            server.wait(30)


if __name__ == "__main__":
    main()

"""A server that is written to and killed, again and again, and what must be true of its database afterwards.

Gunicorn runs as it does in earnest, in a process group of its own. Four writers open cards, take readings, change
customers and seal, each remembering what was acknowledged. At a random moment SIGKILL ends the server; what the
database then holds is compared with what was acknowledged, by `keeper`, a process of its own that nobody kills.
"""

from __future__ import annotations

import http.client
import itertools
import json
import os
import random
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 120
TOKEN = "k" * 32
READINGS = 4


def environment(folder: Path, database: str | None) -> dict[str, str]:
    """Return the environment of a server: its database in `folder`, or at the address `database`."""
    ours = ("COILBOOK_", "DATABASE_", "MIGRATE_", "DJANGO_", "PYTEST")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
    kept |= {"COILBOOK_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "shops.site.settings"}
    return kept | ({} if database is None else {"DATABASE_URL": database})


def free_port() -> int:
    """Return a port that nothing listens at."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


class Server:
    """Gunicorn in a process group of its own: a master that has loaded the service, and one worker."""

    def __init__(self, folder: Path, environ: dict[str, str]) -> None:
        self.port = free_port()
        command = [sys.executable, "-m", "gunicorn", "shops.site.wsgi:application", "--preload"]
        command += ["--bind", f"127.0.0.1:{self.port}", "--worker-class", "gthread", "--threads", "6"]
        command += ["--log-level", "critical", "--worker-tmp-dir", str(folder)]
        self.process = subprocess.Popen(
            command, cwd=ROOT, env=environ, start_new_session=True, stderr=subprocess.DEVNULL
        )

    def wait(self) -> None:
        """Wait until it answers."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            if self.process.poll() is not None:
                raise RuntimeError(f"The server ended with {self.process.returncode}.")
            try:
                status, _ = ask(http.client.HTTPConnection("127.0.0.1", self.port, timeout=5), "GET", "/healthz")
            except (OSError, http.client.HTTPException):
                time.sleep(0.02)
            else:
                if status == 200:
                    return
        raise RuntimeError(f"The server did not answer within {PATIENCE_S} s.")

    def kill(self, *, whole: bool) -> None:
        """End the worker with SIGKILL (the master starts another), or the whole group."""
        if whole:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            return
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        for child in children:
            os.kill(int(child), signal.SIGKILL)


def ask(
    connection: http.client.HTTPConnection, method: str, path: str, body: Any = None, headers: Any = None
) -> tuple[int, Any]:
    """Return status and parsed body of one request; what breaks off raises OSError or HTTPException."""
    text = None if body is None else json.dumps(body)
    connection.request(method, path, text, {"Content-Type": "application/json", **(headers or {})})
    answer = connection.getresponse()
    content = answer.read()
    return answer.status, json.loads(content) if content[:1] in (b"{", b"[") else None


class Keeper:
    """The process that makes the database, and later says what it holds."""

    def __init__(self, environ: dict[str, str]) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.keeper"],
            cwd=ROOT, env=environ, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip

    def __call__(self, **command: Any) -> Any:
        """Have one command done and return its answer."""
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(json.dumps(command) + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        if not line:
            raise RuntimeError(f"The keeper ended at {command['do']}.")
        return json.loads(line)

    def end(self) -> None:
        """Let it end."""
        assert self.process.stdin
        self.process.stdin.close()
        self.process.wait(30)


class Writers:
    """Who writes until the server is gone; `done` is what was acknowledged, `open` what was under way then."""

    def __init__(self, seed: dict[str, Any]) -> None:
        self.seed = seed
        self.cookie = f"sessionid={seed['session']}; csrftoken={TOKEN}"
        self.done: list[dict[str, Any]] = []
        self.open: list[dict[str, Any]] = []
        self.counter = itertools.count(1)
        self.versions = dict.fromkeys(seed["customers"], 1)
        self.ready = list(seed["ready"])
        self.refused: list[str] = []

    def write(self, port: int, stop: threading.Event) -> list[threading.Thread]:
        """Start the writers on the server at `port`."""
        work = (self.opening, self.reading, self.changing, self.sealing)
        threads = [threading.Thread(target=self._until_gone, args=(each, port, stop)) for each in work]
        for thread in threads:
            thread.start()
        return threads

    def again(self, port: int) -> None:
        """Send once more, with its key, whatever nobody acknowledged."""
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        waiting, self.open = self.open, []
        for one in waiting:
            self._send(connection, one)

    def _until_gone(self, work: Any, port: int, stop: threading.Event) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        while not stop.is_set():
            wanted = work()
            if wanted is None:
                return
            try:
                self._send(connection, wanted)
            except (OSError, http.client.HTTPException):
                self.open.append(wanted)
                return

    def _send(self, connection: http.client.HTTPConnection, one: dict[str, Any]) -> None:
        headers = {"Cookie": self.cookie, "X-CSRFToken": TOKEN, **one.get("headers", {})}
        if one["method"] == "POST":
            headers["Idempotency-Key"] = one["key"]
        status, body = ask(connection, one["method"], one["path"], one["body"], headers)
        if status == 412 and one["what"] == "customer":
            # The change was saved, only its acknowledgement was lost.
            self.versions[one["customer"]] = body["theirs"]["version"]
        elif status in (200, 201):
            if one["what"] == "customer":
                self.versions[one["customer"]] = body["version"]
            if one["what"] == "seal":
                one = one | {"number": body["record"]["number"], "head": body["record"]["head"]}
            self.done.append({key: value for key, value in one.items() if key not in ("headers", "body")})
        else:
            self.refused.append(f"{one['method']} {one['path']}: {status} {body}")

    def _post(self, what: str, path: str, body: Any, **more: Any) -> dict[str, Any]:
        return {"what": what, "method": "POST", "path": path, "body": body, **more}

    def opening(self) -> dict[str, Any]:
        """Return the opening of a card: settings as received, the shop's counter and the trail go with it."""
        key = f"card-{next(self.counter)}"
        return self._post("card", "/api/cards/", {"bike": self.seed["bike"], "complaint": key}, key=key)

    def reading(self) -> dict[str, Any]:
        """Return a batch of readings, all of which are kept or none."""
        key = f"tape-{next(self.counter)}"
        lengths = [
            {"stage": "received", "end": end, "quantity": quantity, "value": 600, "instrument": key}
            for end in ("front", "rear")
            for quantity in ("wheel_free_mm", "alone_from_above_mm")
        ]
        path = f"/api/cards/{self.seed['card']}/readings/"
        return self._post("readings", path, {"readings": lengths}, key=key)

    def changing(self) -> dict[str, Any]:
        """Return the change of a customer, by the version last acknowledged."""
        customer = random.choice(list(self.versions))  # noqa: S311  # no secret
        key, version = f"note-{next(self.counter)}", self.versions[customer]
        return {
            "what": "customer", "method": "PATCH", "path": f"/api/customers/{customer}/", "body": {"notes": key},
            "key": key, "customer": customer, "version": version + 1, "headers": {"If-Match": f'"{version}"'},
        }  # fmt: skip

    def sealing(self) -> dict[str, Any] | None:
        """Return the sealing of the next card that is ready, None when none is left."""
        if not self.ready:
            return None
        card = self.ready.pop()
        return self._post("seal", f"/api/cards/{card}/seal/", {}, key=f"seal-{card}", card=card)


def kill_again_and_again(
    kills: int, folder: Path, database: str | None = None, *, whole_every: int = 1, crash: Any = None, ready: int = 0,
    say: Any = None,
) -> dict[str, Any]:  # fmt: skip
    """Kill a server `kills` times while it is written to, and return what was acknowledged and what is wrong.

    Every `whole_every`-th kill ends the whole process group, the others the worker alone. `crash` (if any) is called
    at every tenth kill to break the database server off, too. `ready` cards wait to be sealed. `say` (if any) is told
    how far it is.
    """
    environ = environment(folder, database)
    keeper = Keeper(environ)
    server = None
    try:
        seed = keeper(do="seed", ready=ready)
        writers, draw, problems = Writers(seed), random.Random(20), []  # noqa: S311  # no secret
        for kill in range(kills):
            whole = kill % whole_every == whole_every - 1
            if server is None:
                server = Server(folder, environ)
            server.wait()
            writers.again(server.port)
            stop = threading.Event()
            threads = writers.write(server.port, stop)
            time.sleep(draw.uniform(0.05, 0.6))
            server.kill(whole=whole)
            if whole:
                server = None
            stop.set()
            for thread in threads:
                thread.join()
            if crash is not None and kill % 10 == 9:
                crash()
            problems += keeper(do="check", done=writers.done, under_way=[one["key"] for one in writers.open])
            if say is not None:
                say(f"{kill + 1} kills, {len(writers.done)} writes acknowledged, {len(problems)} problems")
        server = server or Server(folder, environ)
        server.wait()
        writers.again(server.port)
        problems += keeper(do="check", done=writers.done, under_way=[], last=True)
        kinds = ("card", "readings", "customer", "seal")
        counts = {what: sum(one["what"] == what for one in writers.done) for what in kinds}
        return {"kills": kills, "acknowledged": counts, "problems": problems, "refused": writers.refused}
    finally:
        if server is not None and server.process.poll() is None:
            server.kill(whole=True)
        keeper.end()


@contextmanager
def postgresql() -> Iterator[tuple[str, Any]]:
    """Lend a PostgreSQL of its own, fsync on: its address, and what breaks it off and starts it again."""
    binaries = sorted(Path("/usr/lib/postgresql").glob("*/bin"))[-1]
    as_postgres = ["setpriv", "--reuid=postgres", "--regid=postgres", "--init-groups"] if os.geteuid() == 0 else []
    port = free_port()
    with tempfile.TemporaryDirectory() as folder:
        if as_postgres:
            subprocess.run(["chown", "postgres:postgres", folder], check=True)

        def run(name: str, *words: str) -> None:
            command = [*as_postgres, str(binaries / name), *words]
            subprocess.run(command, check=True, cwd=folder, stdout=subprocess.DEVNULL)

        data = f"{folder}/data"
        options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c fsync=on"

        def start() -> None:
            run("pg_ctl", "-D", data, "-w", "-l", f"{folder}/log", "-o", options, "start")

        def crash() -> None:
            run("pg_ctl", "-D", data, "-m", "immediate", "stop")  # as after a power cut: recovery by its log
            start()

        run("initdb", "-A", "trust", "-U", "coilbook", "-E", "UTF8", "--locale=C.UTF-8", "-D", data)
        start()
        try:
            run("createdb", "-h", "127.0.0.1", "-p", str(port), "-U", "coilbook", "coilbook")
            yield f"postgresql://coilbook@127.0.0.1:{port}/coilbook", crash
        finally:
            run("pg_ctl", "-D", data, "-m", "immediate", "stop")

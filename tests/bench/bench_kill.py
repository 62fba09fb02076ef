"""Two hundred times SIGKILL in the midst of writing, on SQLite and on PostgreSQL with fsync on.

Run it with `python tests/bench/bench_kill.py [sqlite|postgresql] [kills]`; it prints one JSON line for each database.
Every second kill ends the whole process group, the others the worker alone; every tenth also breaks PostgreSQL off.
The tests do twenty of them.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.killing import kill_again_and_again, postgresql

KILLS = 200


def progress(text: str) -> None:
    """Print how far it is, apart from the result."""
    print(text, file=sys.stderr, flush=True)


def main(*names: str) -> None:
    """Kill, and print what was acknowledged and what was found wrong."""
    kills = int(next((name for name in names if name.isdigit()), KILLS))
    for name in [name for name in names if not name.isdigit()] or ["sqlite", "postgresql"]:
        begin = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            if name == "sqlite":
                told = kill_again_and_again(kills, Path(folder), whole_every=2, ready=kills, say=progress)
            else:
                with postgresql() as (database, crash):
                    told = kill_again_and_again(
                        kills, Path(folder), database, whole_every=2, crash=crash, ready=kills, say=progress
                    )
        told |= {"refused": len(told["refused"]), "first_refused": told["refused"][:1]}
        print(json.dumps({"bench": "kill", "database": name, **told, "took_s": round(time.monotonic() - begin)}))


if __name__ == "__main__":
    main(*sys.argv[1:])

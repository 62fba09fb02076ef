"""SIGKILL in the midst of writing: nothing acknowledged is lost, nothing is half-written, no chain is broken.

Twenty times here, with a seed of its own for the moments; `tests/bench/bench_kill.py` does it two hundred times on
either database.
"""

from __future__ import annotations

import pytest
from django.db import connection

from tests.bench.killing import kill_again_and_again, postgresql

KILLS = 20


@pytest.mark.own_database
def test_a_server_killed_twenty_times_loses_nothing_that_it_acknowledged(tmp_path):
    if connection.vendor == "sqlite":
        told = kill_again_and_again(KILLS, tmp_path, whole_every=5, ready=KILLS)
    else:
        with postgresql() as (database, crash):
            told = kill_again_and_again(KILLS, tmp_path, database, whole_every=5, crash=crash, ready=KILLS)
    assert told["problems"] == []
    assert told["refused"] == []
    # It was written to, in every way, or nothing would have been tried.
    assert min(told["acknowledged"].values()) >= 5, told["acknowledged"]

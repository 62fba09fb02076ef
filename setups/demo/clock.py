"""The demo's past: verbs run as at a stated moment, so that a card sealed two years ago carries that date."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, tzinfo

from django.utils import timezone


@contextmanager
def standing_at(moment: datetime) -> Iterator[None]:
    """Let Django's clock stand at `moment` (aware) inside the block; only for a command that serves nobody.

    Every verb and every field default asks `django.utils.timezone.now`, which asks the class replaced here.
    """

    class Standing(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]  # a plain datetime, not ours
            return moment.astimezone(tz)

    moving = timezone.datetime  # type: ignore[attr-defined]  # the module's own import
    timezone.datetime = Standing  # type: ignore[attr-defined]
    try:
        yield
    finally:
        timezone.datetime = moving  # type: ignore[attr-defined]

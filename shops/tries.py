"""So many tries in so long a time, counted in the database: every worker sees the same count."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.db.models import F
from django.utils import timezone
from django.utils.crypto import salted_hmac

from shops.keys import Tries

KEPT = timedelta(days=2)


def _key(what: str, who: str) -> str:
    # Keyed with the installation's secret: addresses and e-mails are not kept in the clear.
    return salted_hmac("shops.tries", f"{what}\n{who}", algorithm="sha256").hexdigest()


def count(what: str, who: str, window: timedelta) -> int:
    """Count one try of `what` by `who` and return how many there are in this `window`, this one included."""
    key, now = _key(what, who), timezone.now()
    Tries.objects.filter(key=key, began_at__lte=now - window).update(began_at=now, count=0)
    _, made = Tries.objects.get_or_create(key=key, defaults={"began_at": now})
    if made:
        Tries.objects.filter(began_at__lt=now - KEPT).delete()
    Tries.objects.filter(key=key).update(count=F("count") + 1)
    return _standing(what, who, window)


def take_back(what: str, who: str, window: timedelta) -> None:
    """Take one counted try back: it was right."""
    standing = Tries.objects.filter(key=_key(what, who), began_at__gt=timezone.now() - window, count__gt=0)
    standing.update(count=F("count") - 1)


def wait_s(what: str, who: str, window: timedelta) -> float:
    """Return in how many seconds the count of `who` begins anew."""
    row = _row(what, who, window)
    return 0.0 if row is None else max(0.0, (row.began_at + window - timezone.now()).total_seconds())


def _standing(what: str, who: str, window: timedelta) -> int:
    row = _row(what, who, window)
    return 0 if row is None else int(row.count)


def _row(what: str, who: str, window: timedelta) -> Any:
    return Tries.objects.filter(key=_key(what, who), began_at__gt=timezone.now() - window).first()

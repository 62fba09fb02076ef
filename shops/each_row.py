"""A condition that a database asks of each row it meets, where a list is read no further than its page needs."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, Subquery
from django.db.models.lookups import IsNull


def has_any(inner: Any) -> Q:
    """Return the condition that `inner`, a query with OuterRef, finds a row for this one.

    It says the same as Exists. But for that PostgreSQL may first gather all rows of the inner query, however many they
    are, because it does not see that the outer list ends after a page.
    """
    return Q(IsNull(Subquery(inner.order_by().values("pk")[:1]), False))

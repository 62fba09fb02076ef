"""The one door: every query for a business's rows passes here.

A model that belongs to a business derives from `Scoped`. Its manager answers nothing by itself: evaluating a
query that came neither through `rows` (what a person may read), `rows_to_change` (what a person may change),
`everywhere` (with a reason stated) nor from a row already held (`card.readings.all()`) raises UnscopedQuery.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterable, Iterator
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from django.db import models

if TYPE_CHECKING:
    from shops.models import Person

M = TypeVar("M", bound="Scoped")


class UnscopedQuery(RuntimeError):
    """A query for a business's rows was about to run without saying whose rows are meant."""


class ScopedQuerySet(models.QuerySet[M]):
    """A queryset that refuses to reach the database until its scope is declared."""

    _scoped = False

    def _clone(self) -> ScopedQuerySet[M]:
        clone: ScopedQuerySet[M] = super()._clone()  # type: ignore[misc]  # private in the stubs
        clone._scoped = self._scoped
        return clone

    def declare_scope(self) -> ScopedQuerySet[M]:
        """Mark the query as scoped; only this module calls it."""
        clone = self._clone()
        clone._scoped = True
        return clone

    def _require_scope(self) -> None:
        # A related manager hints at the row that it starts from: who holds that row came through the door.
        if not self._scoped and "instance" not in self._hints:  # type: ignore[attr-defined]
            raise UnscopedQuery(f"{self.model.__name__}: use shops.access.rows(…) instead of a bare query.")

    def resolve_expression(self, *args: Any, **kwargs: Any) -> Any:
        """Refuse to become the inner query of another one unless scoped."""
        self._require_scope()
        return super().resolve_expression(*args, **kwargs)

    def _combined_with(self, others: Iterable[Any]) -> None:
        # Whatever joins a scoped query must be scoped itself, else it would carry foreign rows in.
        for query in (self, *others):
            query._require_scope()

    def __or__(self, other: Any) -> Any:
        self._combined_with([other])
        return super().__or__(other)

    def __and__(self, other: Any) -> Any:
        self._combined_with([other])
        return super().__and__(other)

    def __xor__(self, other: Any) -> Any:
        self._combined_with([other])
        return super().__xor__(other)

    def _combinator_query(self, combinator: str, *others: Any, **kwargs: Any) -> Any:
        self._combined_with(others)
        return super()._combinator_query(combinator, *others, **kwargs)  # type: ignore[misc]  # private in the stubs

    def raw(self, *args: Any, **kwargs: Any) -> Any:
        """Refuse: hand-written SQL cannot show its scope."""
        raise UnscopedQuery(f"{self.model.__name__}: raw SQL has no scope.")

    def _fetch_all(self) -> None:
        self._require_scope()
        super()._fetch_all()

    def aiterator(self, *args: Any, **kwargs: Any) -> AsyncIterator[M]:
        """Iterate asynchronously over the rows of a scoped query."""
        self._require_scope()
        return super().aiterator(*args, **kwargs)

    def iterator(self, *args: Any, **kwargs: Any) -> Iterator[M]:
        """Iterate over the rows of a scoped query."""
        self._require_scope()
        return super().iterator(*args, **kwargs)

    def count(self) -> int:
        """Count the rows of a scoped query."""
        self._require_scope()
        return super().count()

    def exists(self) -> bool:
        """Tell whether a scoped query has rows."""
        self._require_scope()
        return super().exists()

    def aggregate(self, *args: Any, **kwargs: Any) -> dict[str, Any]:
        """Aggregate over the rows of a scoped query."""
        self._require_scope()
        return super().aggregate(*args, **kwargs)

    def update(self, **kwargs: Any) -> int:
        """Update the rows of a scoped query."""
        self._require_scope()
        return super().update(**kwargs)

    def delete(self) -> tuple[int, dict[str, int]]:
        """Delete the rows of a scoped query."""
        self._require_scope()
        return super().delete()


class ScopedManager(models.Manager.from_queryset(ScopedQuerySet)):  # type: ignore[misc]
    """The default manager of every business's rows."""


class Scoped(models.Model):
    """A row that belongs to one business.

    `business_path` is the look-up from the row to its business, `shop_path` the one to the shop that works on
    it (None: the whole business shares it, as it does its customers and bikes). `personal_fields` names what
    belongs to a person: the audit trail, which nobody can erase, says that such a field changed, but never
    keeps its value.
    """

    business_path = "business"
    shop_path: str | None = None
    personal_fields: ClassVar[frozenset[str]] = frozenset()

    objects = ScopedManager()

    class Meta:
        abstract = True


def rows(model: type[M], person: Person) -> ScopedQuerySet[M]:
    """Return the rows of `model` that `person` may read: those of the person's own business, no others."""
    queryset: ScopedQuerySet[M] = model.objects.all().declare_scope()
    if not person.is_active:
        return queryset.none()
    return queryset.filter(**{model.business_path: person.business_id})


def rows_to_change(model: type[M], person: Person) -> ScopedQuerySet[M]:
    """Return the rows that `person` may change: the own shop's; for an owner the whole business's."""
    queryset = rows(model, person)
    if model.shop_path is None or person.role == person.Role.OWNER:
        return queryset
    return queryset.filter(**{model.shop_path: person.shop_id})


def everywhere(model: type[M], why: str) -> ScopedQuerySet[M]:
    """Return the rows of all businesses, for the few tasks that know no person: sign-in, a link, upkeep.

    `why` is for the reader of the call and must not be empty.
    """
    if not why:
        raise UnscopedQuery(f"{model.__name__}: say why every business's rows are needed.")
    return model.objects.all().declare_scope()

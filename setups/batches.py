"""Which batches of springs, oil and parts a card put into a bike, so that a recall finds every one of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from calc.words import mark
from setups.models import BatchUse, JobCard, PartLine, Setting
from setups.sums import holders
from shops.access import everywhere
from shops.models import StockSpring

_HELD = "what a card already held was built with"


def batch_key(batch: str) -> str:
    """Return what two ways of typing one batch have in common: no case, no spaces."""
    return "".join(batch.split()).casefold()[:40]


def note(card: JobCard) -> None:
    """Bring the card's batches up to its as-built settings and its fitted parts; part of those verbs."""
    card.batch_uses.all().delete()
    built = list(everywhere(Setting, why=_HELD).filter(card=card, stage=Setting.Stage.BUILT))
    fitted = list(
        everywhere(PartLine, why=_HELD)
        .filter(card=card, direction=PartLine.Direction.FITTED)
        .select_related("spring")
    )
    used = [*_springs(card, built), *_oil(built), *_parts(fitted)]
    BatchUse.objects.bulk_create(
        BatchUse(
            business_id=card.business_id, shop_id=card.shop_id, card=card, batch_key=batch_key(one["batch"]), **one
        )
        for one in {(one["what"], one["end"], one["batch"], one["label"]): one for one in used}.values()
    )


def _springs(card: JobCard, built: Iterable[Setting]) -> Iterator[dict[str, Any]]:
    """Yield the batches of the list's springs named in settings.

    A setting may name any id: another business's spring tells nothing.
    """
    held = [(one.end, holder.get("stock_spring")) for one in built for holder in holders(one.body, one.end)]
    named = [(end, pk) for end, pk in held if pk is not None]
    if not named:
        return
    ids = {pk for _, pk in named}
    found = everywhere(StockSpring, why=_HELD).filter(pk__in=ids, shop__business_id=card.business_id)
    by_id = {spring.pk: spring for spring in found.exclude(batch="")}
    for end, pk in named:
        if pk in by_id:
            yield {"what": "spring", "end": end, "batch": by_id[pk].batch, "label": str(by_id[pk])[:200]}


def _oil(built: Iterable[Setting]) -> Iterator[dict[str, Any]]:
    for one in built:
        if one.body.get("oil_batch"):
            label = one.body.get("oil_grade") or mark("fork oil")
            yield {"what": "oil", "end": one.end, "batch": one.body["oil_batch"], "label": label}


def _parts(fitted: Iterable[PartLine]) -> Iterator[dict[str, Any]]:
    for part in fitted:
        batch = part.batch or (part.spring.batch if part.spring is not None else "")
        if batch:
            yield {"what": "part", "end": "", "batch": batch, "label": part.description}

"""What is forgotten of a customer: every row that leads to one is found by its references, and its personal fields go.

The sealed record stays as it was sealed: its digests and its technical part. Of the values that it only commits to,
words about the person among them, value and salt go, so that the commitment tells nothing any more. Of a photo that
it names by its digest only that digest stays.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.apps import apps
from django.db import models
from django.db.models import F
from django.utils import timezone

from setups.approval_models import EstimateAsk, EstimateOpening
from setups.data.inventory import Model
from setups.models import (
    Bike,
    Customer,
    CustomerLink,
    Erasure,
    JobCard,
    LinkOpening,
    PersonalValue,
    Reading,
    Rider,
    SealedRecord,
    StoredPdf,
)
from setups.photo_models import Photo
from setups.search import forget_words, keep_words
from setups.search_models import SearchWord
from shops.access import Scoped, everywhere
from shops.models import Business, IdempotentReply, Person, Shop

ERASED = "(erased)"
WHY = "personal data are erased wherever they are"
_LOADS = (Reading.Quantity.AXLE_ALONE, Reading.Quantity.AXLE_RIDER)
# A reference to one of these leads away from the customer.
_ELSEWHERE = {Business, Shop, Person, Erasure}


def _values(rows: Any) -> int:
    return int(rows.filter(erased_at=None).update(value=None, salt="", erased_at=timezone.now()))


def _deleted(rows: Any) -> int:
    return int(rows.delete()[0])


def _loads_deleted(rows: Any) -> int:
    return int(rows.filter(quantity__in=_LOADS).delete()[0])


def _revoked(rows: Any) -> int:
    return int(rows.filter(revoked_at=None).update(revoked_at=timezone.now()))


def _addresses(rows: Any) -> int:
    return int(rows.exclude(address=None).update(address=None))


def _asks_closed(rows: Any) -> int:
    rows.update(answered_from=None)
    return _revoked(rows)


def _photos_emptied(rows: Any) -> int:
    """Delete the photos; of one that a sealed record names by its digest only that digest stays."""
    sealed = models.Q(card__step=JobCard.Step.SEALED)
    gone = _deleted(rows.exclude(sealed))
    return gone + empty_photos(rows.filter(sealed))


def empty_photos(rows: Any) -> int:
    """Erase picture and caption of photos that a sealed record names; return of how many."""
    now, standing = timezone.now(), rows.filter(erased_at=None)
    ids = list(standing.values_list("pk", flat=True))
    standing.filter(struck_at=None).update(struck_at=now)
    _everywhere(Photo).filter(pk__in=ids).update(content=b"", small=b"", caption="", erased_at=now)
    return len(ids)


def _kept(rows: Any) -> int:
    return 0


SPECIAL: Mapping[Model, Callable[[Any], int]] = {
    PersonalValue: _values,
    StoredPdf: _deleted,  # laid out anew without the names when it is asked for
    Reading: _loads_deleted,  # axle loads are the rider's mass in other words
    CustomerLink: _revoked,
    LinkOpening: _addresses,
    EstimateAsk: _asks_closed,
    EstimateOpening: _addresses,
    Photo: _photos_emptied,
    SearchWord: _kept,  # forgotten row by row below
    SealedRecord: _kept,
}
"""What is done to rows otherwise than by blanking their personal fields."""

ASIDE = frozenset({"setups.OwnerChange.new"})
"""References that do not make a row the customer's: an owner's change keeps what was noted under the former one."""


def paths(target: Model) -> dict[Model, list[str]]:
    """Return every model whose rows lead to a row of `target`, with its shortest look-ups to it."""
    found: dict[Model, list[str]] = {target: ["pk"]}
    ring = [target]
    models_here = sorted(apps.get_models(), key=lambda model: model._meta.label)
    while ring:
        reached: dict[Model, list[str]] = {}
        for model in models_here:
            if model in found or model in _ELSEWHERE or not issubclass(model, Scoped):
                continue
            for field in model._meta.concrete_fields:
                if field.is_relation and field.related_model in ring and _leads(field):
                    onward = [path for path in found[field.related_model] if path != "pk"] or [""]
                    reached.setdefault(model, []).extend(f"{field.name}__{path}".removesuffix("__") for path in onward)
        found |= reached
        ring = list(reached)
    return found


def _leads(field: Any) -> bool:
    return f"{field.model._meta.label}.{field.name}" not in ASIDE


def forget_customer(customer: Customer) -> dict[str, int]:
    """Erase all that is personal of the customer; return how many rows of which table were touched.

    Erasing what is erased already changes nothing. Call it inside the erasure's transaction.
    """
    counts = {}
    for model, ways in paths(Customer).items():
        which = models.Q()
        for way in ways:
            which |= models.Q(**{way: customer.pk})
        # By their ids: an update or a deletion goes by one table alone.
        rows = _everywhere(model).filter(pk__in=list(_everywhere(model).filter(which).values_list("pk", flat=True)))
        counts[str(model._meta.model_name)] = SPECIAL[model](rows) if model in SPECIAL else _blank(model, rows)
    _everywhere(Customer).filter(pk=customer.pk, erased_at=None).update(erased_at=timezone.now())
    forget_words(customer)
    for bike in _everywhere(Bike).filter(owner=customer.pk):
        keep_words(bike)
    forget_answers(customer.business_id)
    return {name: count for name, count in counts.items() if count}


def forget_record(card: JobCard) -> int:
    """Erase the personal values that a card's record commits to; return how many.

    What the card itself still says of the person goes too: its words, the loads, the photos, the stored PDFs.
    """
    _everywhere(StoredPdf).filter(record__card=card).delete()
    _blank(JobCard, _everywhere(JobCard).filter(pk=card.pk))
    _loads_deleted(_everywhere(Reading).filter(card=card))
    empty_photos(_everywhere(Photo).filter(card=card))
    forget_answers(card.business_id)
    return _values(_everywhere(PersonalValue).filter(record__card=card))


def forget_photo(photo: Photo) -> int:
    """Erase one photo of a sealed card, and the caption that the record commits to; return 1, or 0 if it was gone."""
    mine = _everywhere(Photo).filter(card=photo.card_id).order_by("pk")
    place = list(mine.values_list("pk", flat=True)).index(photo.pk)
    captions = _everywhere(PersonalValue).filter(record__card=photo.card_id, path=f"public.photos.{place}.caption")
    _values(captions)
    forget_answers(photo.card.business_id)
    return empty_photos(mine.filter(pk=photo.pk))


def forget_answers(business_id: int) -> None:
    """Erase what is kept of answers for retries; a retry is then told that it was done, and never done twice."""
    replies = _everywhere(IdempotentReply).filter(person__business_id=business_id)
    replies.update(body={}, status=0)


def _everywhere(model: Any) -> Any:
    return everywhere(model, why=WHY)


def _blank(model: Any, rows: Any) -> int:
    """Blank the personal fields of the rows, where they are not blank; count their versions up."""
    values = {name: blank_of(model._meta.get_field(name)) for name in sorted(model.personal_fields)}
    if not values:
        return 0
    if any(field.name == "version" for field in model._meta.concrete_fields):
        values["version"] = F("version") + 1
    standing = models.Q()
    for name in model.personal_fields:
        blank = {f"{name}__isnull": True} if values[name] is None else {name: values[name]}
        standing |= ~models.Q(**blank)
    return int(rows.filter(standing).update(**values))


def blank_of(field: Any) -> Any:
    """Return what stands in a personal field once it is erased."""
    if field.null:
        return None
    if isinstance(field, models.CharField | models.TextField):
        return "" if field.blank else ERASED
    if isinstance(field, models.BinaryField):
        return b""
    if isinstance(field, models.JSONField):
        return field.get_default()  # an empty list or object
    raise TypeError(f"{field} is personal, but there is no blank for it: make it nullable.")


def ids_of(erasure: Erasure) -> dict[str, list[int]]:
    """Return the ids of the rows of which a device may hold copies: it forgets them."""
    if erasure.customer_id is None:
        card = erasure.card_id if erasure.photo is None else erasure.photo.card_id
        return {"customers": [], "riders": [], "bikes": [], "cards": [] if card is None else [card]}
    of = {
        "riders": _everywhere(Rider).filter(customer_id=erasure.customer_id),
        "bikes": _everywhere(Bike).filter(owner_id=erasure.customer_id),
        "cards": _everywhere(JobCard).filter(customer_id=erasure.customer_id),
    }
    found = {name: sorted(rows.values_list("pk", flat=True)) for name, rows in of.items()}
    return {"customers": [erasure.customer_id], **found}

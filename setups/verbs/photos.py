"""Photos on a card: kept, and taken off again; from a sealed card none goes, it is struck, or erased for good."""

from __future__ import annotations

import hashlib

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from calc.words import say
from setups import pictures
from setups.data import journal
from setups.data.forgetting import forget_photo
from setups.models import Erasure, JobCard, Reading
from setups.naming import require_nobody_named
from setups.photo_models import Photo
from setups.verbs.guard import hold
from setups.verbs.ownership import said
from shops import trail
from shops.access import everywhere
from shops.refusals import blocked
from shops.trail import Actor

MOST = 24
"""How many photos a card holds: at 300 kB each 7 MB."""


def add_photo(
    actor: Actor, card: JobCard, sent: bytes, *, about: str, reading: Reading | None = None, caption: str = ""
) -> Photo:
    """Keep a photo of a reading, a defect or a part on an open card; the same file again is the same photo.

    Of the file only what can be seen is kept (see `setups.pictures`). Raises Refusal for what is no photo,
    Blocked for one more than a card holds and for a sealed card.
    """
    sent_digest = hashlib.sha256(sent).hexdigest()
    # Decoding takes its time: it is done before the card is locked.
    picture = pictures.read(sent)
    with transaction.atomic():
        hold(card)
        photos = everywhere(Photo, why="a card already held").filter(card=card)
        known = photos.filter(sent_sha256=sent_digest).first()
        if known is not None:
            return known
        if photos.count() >= MOST:
            raise blocked("too_many_photos", say("A card holds {most} photos: remove one first.", most=MOST))
        photo = Photo.objects.create(
            card=card,
            about=about,
            reading=reading,
            caption=caption,
            content=picture.content,
            small=picture.small,
            width_px=picture.width_px,
            height_px=picture.height_px,
            sha256=hashlib.sha256(picture.content).hexdigest(),
            sent_sha256=sent_digest,
            taken_by=actor.person,
        )
        after = {"card": card, "about": about, "sha256": photo.sha256, "caption": caption}
        trail.record(actor, "add photo", photo, None, after)
    return photo


@transaction.atomic
def remove_photo(actor: Actor, photo: Photo, reason: str) -> None:
    """Take a photo off its card, with a reason that stays in the trail: of a sealed card it is struck and kept.

    The card's record holds the digest of a sealed photo, so that striking it shows and deleting it would too.
    """
    why = said(reason)
    card = _held(photo)
    require_nobody_named(card, why, "reason")
    before = {"card": card.pk, "sha256": photo.sha256}
    if card.step == JobCard.Step.SEALED:
        if photo.struck_at is not None:
            raise blocked("struck", say("This photo is struck already."))
        photo.struck_at, photo.struck_by = timezone.now(), actor.person
        photo.save(update_fields=["struck_at", "struck_by"])
        trail.record(actor, "strike photo", photo, before, None, reason=why)
        return
    pk = photo.pk
    photo.delete()
    photo.pk = pk
    trail.record(actor, "remove photo", photo, before, None, reason=why)


@transaction.atomic
def erase_photo(actor: Actor, photo: Photo, reason: str) -> None:
    """Erase the picture and the caption of a sealed card's photo for good, because of whom it shows.

    Its digest stays, in the record and here, so that the record holds on. A restored backup follows. Raises Refusal
    without a reason or for one that names the customer, Blocked for an open card, from which it is taken off instead.
    """
    why = said(reason)
    card = _held(photo)
    require_nobody_named(card, why, "reason")
    if card.step != JobCard.Step.SEALED:
        text = _("Card {card} is not sealed: remove the photo, and nothing of it stays.").format(card=card.number)
        raise blocked("not_sealed", text)
    if not forget_photo(photo):
        raise blocked("erased", _("This photo is erased already."))
    journal.note(Erasure.objects.create(business_id=card.business_id, photo=photo, by=actor.person))
    trail.record(actor, "erase photo", photo, {"card": card.pk, "sha256": photo.sha256}, None, reason=why)


def _held(photo: Photo) -> JobCard:
    return everywhere(JobCard, why="the card of a photo already held").select_for_update().get(pk=photo.card_id)

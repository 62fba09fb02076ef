"""Writing down how an end stands: as received, as chosen, as built."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from calc.words import say
from setups import batches, bodies, measured, ranking, sums
from setups.models import JobCard, Setting
from setups.verbs.guard import hold
from shops import trail, versions
from shops.models import StockSpring
from shops.refusals import wrong
from shops.trail import Actor


@transaction.atomic
def write_setting(
    actor: Actor, card: JobCard, stage: str, end: str, body: Any, version: int | None
) -> Setting:
    """Save the body of a stage and end. `version` is that of the setting being replaced, None for a first
    one.

    Raises Refusal for a body that cannot be, `Stale` when somebody else has written it meanwhile.
    """
    hold(card)
    _check_end(card, end)
    bodies.check_setting(body, end, stage, measured.end_data(card, end))
    return _write(actor, "write setting", card, stage, end, dict(body), version)


@transaction.atomic
def fit(
    actor: Actor, card: JobCard, end: str, spring: StockSpring, preload_mm: float | None = None
) -> Setting:
    """Write the chosen setting with a spring of the shop's list: preload, corrected gap, spacer and label."""
    hold(card)
    _check_end(card, end)
    if spring.end != end:
        raise wrong(
            "stock_spring",
            "other_end",
            say(
                "{label} is a {end} spring, not for this end.",
                label=spring.label, end=spring.get_end_display(),
            ),
        )
    if spring.shop_id != card.shop_id:
        raise wrong(
            "stock_spring",
            "other_shop",
            say("{label} is on another shop's list; have it sent over first.", label=spring.label),
        )
    body = ranking.fitted(card, end, spring, preload_mm)
    bodies.check_setting(body, end, "chosen", measured.end_data(card, end))
    present = sums.setting_of(card, "chosen", end)
    return _write(actor, "fit spring", card, "chosen", end, body, present.version if present else None)


@transaction.atomic
def copy_to_built(actor: Actor, card: JobCard, end: str) -> Setting:
    """Start the as-built setting from the chosen one; the technician then writes what was really built."""
    hold(card)
    chosen = sums.setting_of(card, "chosen", end)
    if chosen is None:
        raise wrong(
            "end", "nothing_chosen", say(
                "Nothing is chosen for the {end} yet; choose a setting first.",
                end=say(end),
            ), end
        )
    present = sums.setting_of(card, "built", end)
    return _write(
        actor, "copy to built", card, "built", end, dict(chosen.body), present.version if present else None
    )


def _check_end(card: JobCard, end: str) -> None:
    if not measured.has_end(card, end):
        raise wrong(
            "end",
            "no_such_end",
            say(
                "This card is about a {part}: it has no {end} end.",
                part=card.get_loose_display(), end=say(end),
            ),
            end,
        )


def _write(
    actor: Actor, verb: str, card: JobCard, stage: str, end: str, body: dict[str, Any], version: int | None
) -> Setting:
    present = sums.setting_of(card, stage, end)
    if present is None:
        if version is not None:
            raise wrong(
                "If-Match",
                "no_setting",
                say("There is no such setting yet; send If-None-Match: * to write the first."),
            )
        setting = Setting.objects.create(card=card, stage=stage, end=end, body=body)
        before = None
    else:
        if version is None:
            raise versions.Stale(present)
        setting, before = present, {f"{stage}.{end}": present.body}
        setting.body = body
        versions.save(setting, version, ["body"])
    if stage == Setting.Stage.BUILT:
        batches.note(card)
    trail.record(actor, verb, card, before, {f"{stage}.{end}": body})
    return setting

"""The estimate of a card: written, sent to the customer through a link, answered by the customer on his phone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from calc.refusal import Problem, Refusal
from calc.words import say
from setups import estimates
from setups.approval_models import Estimate, EstimateAsk, EstimateOpening
from setups.models import JobCard
from setups.secret_links import WHY
from setups.verbs.guard import change, hold
from shops import money, tokens, trail, versions
from shops.access import everywhere
from shops.refusals import blocked, wrong
from shops.trail import Actor

MOST_LINES = 40


@transaction.atomic
def write_estimate(
    actor: Actor, card: JobCard, version: int | None, *, needs_approval: bool, lines: Sequence[Mapping[str, Any]]
) -> Estimate:
    """Write the estimate: its lines (kind, text, amount_minor) and whether work waits for the customer's yes.

    `version` is that of the estimate replaced, None for the first. A changed estimate needs a new approval. Its
    amounts are in the estimate's own currency as long as it has lines, else in the business's.
    """
    hold(card)
    kept = [{name: line[name] for name in ("kind", "text", "amount_minor")} for line in lines]
    _check(kept)
    estimate = everywhere(Estimate, why="a card already held").filter(card=card).first()
    standing = estimate.currency if estimate is not None and estimate.lines else ""
    currency = (standing or card.business.currency) if kept else ""
    wanted = {"needs_approval": needs_approval, "lines": kept, "currency": currency}
    if estimate is not None:
        if version is None:
            raise versions.Stale(estimate)
        return change(actor, "write estimate", estimate, version, wanted)
    if version is not None:
        raise blocked("no_estimate", say(
            "There is no estimate yet to replace: send If-None-Match: * for the first one.",
        ))
    try:
        with transaction.atomic():
            estimate = Estimate.objects.create(card=card, **wanted)
    except IntegrityError:
        raise versions.Stale(everywhere(Estimate, why="a card already held").get(card=card)) from None
    trail.record(actor, "write estimate", estimate, None, {"card": card, **wanted})
    return estimate


@transaction.atomic
def ask_approval(actor: Actor, card: JobCard, *, days: int) -> tuple[EstimateAsk, str]:
    """Freeze the estimate as it stands into a link for the customer; return it with its secret, shown this once.

    Earlier links that were not answered are revoked: only one estimate at a time can be agreed to. The secret has
    256 random bits. Raises Refusal for `days` outside 1 to 60, Blocked without lines.
    """
    hold(card)
    until = EstimateAsk.end_after(days)
    estimate = everywhere(Estimate, why="a card already held").filter(card=card).first()
    if estimate is None or not estimate.lines:
        raise blocked("no_estimate", say("The estimate has no line yet: there is nothing to agree to."))
    now, currency = timezone.now(), estimate.currency or card.business.currency
    card.asks.filter(answer="", revoked_at=None).update(revoked_at=now)
    secret = tokens.new_secret()
    ask = EstimateAsk.objects.create(
        card=card,
        secret_sha256=tokens.digest(secret),
        lines=estimate.lines,
        currency=currency,
        digest=estimates.digest_of(estimate.lines, currency),
        expires_at=until,
        made_by=actor.person,
        made_at=now,
    )
    after = {"card": card.pk, "expires_at": ask.expires_at.isoformat(), "digest": ask.digest}
    trail.record(actor, "ask for approval", ask, None, after)
    return ask, secret


@transaction.atomic
def revoke_ask(actor: Actor, ask: EstimateAsk) -> EstimateAsk:
    """Revoke an estimate's link at once; an answer given through it stands. Revoking twice changes nothing."""
    if ask.revoke() is not None:
        trail.record(actor, "revoke estimate link", ask, None, {"card": ask.card_id})
    return ask


@transaction.atomic
def open_ask(secret: str, address: str | None) -> EstimateAsk | None:
    """Return the ask that `secret` opens and log the opening; None, whether unknown, expired or revoked."""
    ask = _found(secret)
    if ask is not None:
        EstimateOpening.objects.create(ask=ask, address=address)
    return ask


@transaction.atomic
def answer_ask(secret: str, answer: str, address: str | None) -> EstimateAsk | None:
    """Keep the customer's answer with its time and address; None where the secret opens nothing.

    Once given it stands: another needs a new link. Raises Blocked for a second answer, for an estimate that the
    shop has changed since, and on a sealed card. The trail says that it was answered, never from where.
    """
    ask = _found(secret)
    if ask is None:
        return None
    hold(ask.card)
    ask = everywhere(EstimateAsk, why=WHY).select_for_update().select_related("card__business").get(pk=ask.pk)
    if ask.answer:
        raise blocked("answered", say(
            "This estimate was answered already; ask the workshop for a new one to change it.",
        ))
    if ask.digest != estimates.present_digest(ask.card):
        raise blocked("changed", say("The workshop has changed this estimate since: ask for the new one."))
    if answer not in (EstimateAsk.Answer.APPROVED, EstimateAsk.Answer.DECLINED):
        raise wrong("answer", "unknown_choice", say("Approve or decline."), answer)
    ask.answer, ask.answered_at, ask.answered_from = answer, timezone.now(), address
    ask.save(update_fields=["answer", "answered_at", "answered_from"])
    trail.record_of_customer(f"estimate {answer}", ask, {"card": ask.card_id, "digest": ask.digest})
    return ask


def _found(secret: str) -> EstimateAsk | None:
    return EstimateAsk.opened_by(secret).select_related("card__shop", "card__business", "card__bike").first()


def _check(lines: Sequence[Mapping[str, Any]]) -> None:
    problems = []
    if len(lines) > MOST_LINES:
        problems.append(Problem("lines", "too_many", say(
            "{count} lines: at most {most_lines} fit.",
            count=len(lines), most_lines=MOST_LINES,
        ), len(lines)))
    for place, line in enumerate(lines):
        if line["kind"] not in estimates.KINDS:
            problems.append(Problem(f"lines.{place}.kind", "unknown_choice", say("Labour or parts."), line["kind"]))
        if not line["text"].strip():
            problems.append(Problem(f"lines.{place}.text", "blank", say("Say what this line is for.")))
        if not 0 <= line["amount_minor"] <= money.LARGEST:
            text = say(
                "{amount_minor} is no amount of a line: give 0 to {largest} in the smallest unit.",
                amount_minor=line["amount_minor"], largest=money.LARGEST,
            )
            problems.append(
                Problem(f"lines.{place}.amount_minor", "out_of_band", text, line["amount_minor"], "", 0, money.LARGEST)
            )
    if problems:
        raise Refusal(*problems)

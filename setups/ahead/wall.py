"""The ladder of an end on one page, for a shop to hang on the wall: nothing personal stands on it."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe

from calc.ladder import ladder
from calc.refusal import Problem, Refusal
from calc.words import mark, number, say
from setups import measured
from setups.ahead.standing import standing
from setups.ahead.suits import SIGNS, whom
from setups.figures import as_read, redrawn, retold
from setups.measured import Band
from setups.models import JobCard
from setups.record.pdf import NoPrinterError
from setups.whole_card import bike_title
from setups.writing import written_for
from shops.language import here

NAMES = {"front": mark("Fork springs"), "rear": mark("Shock springs")}


def wall_pdf(card: JobCard, end: str, today: date) -> bytes:
    """Return the PDF of the ladder of `end`, on the shop's paper; `today` is printed on it.

    Raises Refusal where the ladder cannot be drawn, saying what is missing; NoPrinterError where the layout
    libraries are.
    """
    try:
        from weasyprint import HTML  # noqa: PLC0415  # the service must start without Pango
        from weasyprint.urls import FatalURLFetchingError, URLFetcher  # noqa: PLC0415
    except OSError as error:
        raise NoPrinterError from error

    class Nothing(URLFetcher):
        def fetch(self, url: str, headers: Any = None) -> Any:
            raise FatalURLFetchingError(f"{url[:80]!r} is not asked for by this page.")

    content: bytes = HTML(string=wall_html(card, end, today), url_fetcher=Nothing()).write_pdf(pdf_tags=True)
    return content


def wall_html(card: JobCard, end: str, today: date) -> str:
    """Return the page that the PDF is made of, in the shop's units; raises Refusal where the ladder cannot be drawn."""
    with as_read(here(), card.shop.units):
        return _wall_html(card, end, today)


def _wall_html(card: JobCard, end: str, today: date) -> str:
    writing = written_for(card.shop.units)
    found = whom(card, end, writing)
    if found["svg"] is None:
        text = "; ".join((*(problem["text"] for problem in found["problems"]), *found["missing"]))
        said = say("There is no ladder to print yet. Still needed: {text}.", text=text)
        raise Refusal(Problem("end", "nothing_to_draw", said, end))
    rungs = [_for_anybody(rung) for rung in found["bands"] if rung["rider_mass_kg"] is not None]
    bike, svg = card.bike, redrawn(ladder(end, rungs, writing=writing))
    return render_to_string(
        "ahead/wall.html",
        {
            "title": say("{names} over rider mass", names=say(NAMES[end])),
            "of": bike_title(bike) if bike is not None else card.get_loose_display(),
            "shop": f"{card.business.name}, {card.shop.name}",
            "paper": card.shop.paper,
            "on": today,
            "day": say("j F Y"),
            "language": here(),
            "bars": retold(_bars(card, end)),
            "basis": found["basis"],
            "beware": _beware(card),
            "picture": mark_safe(svg),  # noqa: S308  # drawn by calc, which escapes every text in it
        },
    )


def _bars(card: JobCard, end: str) -> str:
    """Say what a bar shows, and for which sags."""
    targets = measured.targets_of(card, end)
    stroke = standing(card, end).request.get("stroke_mm" if end == "front" else "wheel_travel_mm")
    axis = say("along the fork") if end == "front" else say("straight up at the axle")
    return say(
        "Each bar: the rider masses, in full kit, for which this spring brings both sags into band by preload alone. "
        "Rider sag {rider} mm, static sag {static} mm, read {axis}{travel}.",
        rider=_span(targets.rider) if targets else "",
        static=_span(targets.static) if targets else "",
        axis=axis,
        travel=say(", of {stroke} mm travel", stroke=_short(stroke)) if stroke else "",
    )


def _beware(card: JobCard) -> str:
    text = say(
        "Computed from this bike's own figures: read the sags before you believe a bar's end, and weigh a rider who "
        "sits near one. The maker's manual comes first."
    )
    altitude = card.altitude_m
    return say("Altitude {altitude} m.", altitude=_short(altitude)) + f" {text}" if altitude else text


def _span(band: Band) -> str:
    return say("{low} to {high}", low=_short(band.low), high=_short(band.high))


def _short(value: float) -> str:
    """Write a figure to a tenth, without a nought behind the decimal sign."""
    return number(round(float(value), 1), "g")


def _for_anybody(rung: dict[str, Any]) -> dict[str, Any]:
    """Return a rung without the marks of this one job."""
    label = rung["label"]
    for sign in SIGNS.values():
        label = label.replace(f" {sign}", "")
    return {**rung, "label": label}

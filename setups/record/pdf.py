"""The PDF of a sealed record: laid out from the sealed texts, rendered once, served unchanged ever after."""

from __future__ import annotations

import hashlib
import itertools
import warnings
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import transaction
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.refusal import Problem, Refusal
from setups import former_owner
from setups.figures import as_read, converts, figure, retold, typed
from setups.models import Kind, SealedRecord, StoredPdf
from setups.record import layout
from setups.record.forces import forces
from setups.record.reading import Sealed, erased_words, links_of, read
from shops.access import everywhere, rows
from shops.models import Person

STYLES = Path(__file__).resolve().parents[1] / "templates" / "record"
ASSETS = {"coilbook:pdf.css": (STYLES / "pdf.css", "text/css")}
"""The only things that a PDF's text may fetch, by name."""
SIGNAL_WORDS = {
    "DANGER": gettext_lazy("DANGER"),
    "WARNING": gettext_lazy("WARNING"),
    "CAUTION": gettext_lazy("CAUTION"),
    "NOTICE": gettext_lazy("NOTICE"),
}
LEVELS = {"DANGER": "danger", "WARNING": "warning", "CAUTION": "caution-level", "NOTICE": "notice"}
END_NAMES = {"front": gettext_lazy("Front: the fork"), "rear": gettext_lazy("Rear: the shock")}
SHORTER = "margin-top: 12mm; margin-bottom: 11mm;"
LOOSE = {"fork": gettext_lazy("loose fork"), "shock": gettext_lazy("loose shock")}
PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"


class NoPrinterError(RuntimeError):
    """The machine lacks a library that lays out text; the message names the packages to install."""

    def __init__(self) -> None:
        """Name the packages."""
        text = _(
            "This server cannot make PDFs: the text layout libraries are missing. Install the packages {packages} and "
            "start the service again; nothing of the record is lost."
        )
        super().__init__(text.format(packages=PACKAGES))


def pdf_of(record: SealedRecord, address: str) -> bytes:
    """Return the PDF of the card sealed in `record`, or, for an amendment, of the card as amended up to it.

    It is rendered and stored at the first request. `address` ("https://host/record") is where its code leads.
    Raises NoPrinterError where the layout libraries are missing.
    """
    held = everywhere(StoredPdf, why="the caller holds the record")
    stored = held.filter(record=record).first()
    if stored is None:
        links = [link for link in links_of(record.card) if link.number <= record.number]
        content = render(read(links), address)
        with transaction.atomic():
            # Two first requests may both have rendered: the one that was stored first is what both answer.
            whole = {"content": content, "content_digest": hashlib.sha256(content).hexdigest()}
            stored, _ = held.get_or_create(record=record, defaults=whole)
    return bytes(stored.content)


def stored_for(person: Person, card_id: int, number: int | None) -> tuple[str, bytes] | None:
    """Return the number of a card that `person` may read, and its record's stored PDF, in one query.

    None where nothing is stored, or the card may be a former owner's: whoever calls looks closer then. The PDF is
    that of the newest link, or of the link `number`.
    """
    found = rows(SealedRecord, person).filter(card=card_id)
    if number is not None:
        found = found.filter(number=number)
    columns = ("card__number", "pdf__content", "card__bike", "card__customer", "card__bike__owner")
    for card_number, content, bike, customer, owner in found.order_by("-number").values_list(*columns)[:1]:
        if content is not None and (bike is None or customer == owner or not former_owner.is_kept_from(person)):
            return card_number, bytes(content)
    return None


def record_to_print(card: Any, number: int | None) -> SealedRecord:
    """Return the card's link of that number, or without one its newest; raises Refusal where there is
    none."""
    links = links_of(card)
    if not links:
        text = _("Card {card} is not sealed; there is no PDF of a draft.").format(card=card.number)
        raise Refusal(Problem("", "not_sealed", text))
    if number is None:
        return links[-1]
    found = next((link for link in links if link.number == number), None)
    if found is None:
        numbers = ", ".join(str(link.number) for link in links)
        text = _("Card {card} has no record number {number}; its numbers: {numbers}.").format(
            card=card.number, number=number, numbers=numbers
        )
        raise Refusal(Problem("number", "no_such_number", text, number))
    return found


def render(sealed: Sealed, address: str) -> bytes:
    """Lay out a sealed card as an archival, tagged PDF/A-3a on the shop's paper, with the sealed texts
    attached.

    It is in the record's own language and units. Its times are the record's own, so that the same record gives the
    same bytes. Raises NoPrinterError.
    """
    try:
        from weasyprint import CSS, HTML, Attachment  # noqa: PLC0415  # the service must start without Pango
    except OSError as error:
        raise NoPrinterError from error
    at = datetime.fromisoformat(sealed.record["record"]["sealed_at"])
    paper = sealed.record["shop"]["paper"]
    page = CSS(string=f"@page {{ size: {paper}; {SHORTER if paper == 'Letter' else ''} }}", url_fetcher=_fetcher())
    style = CSS(url="coilbook:pdf.css", url_fetcher=_fetcher())
    attachments = [
        Attachment(
            string=text.encode("utf-8"),
            name=name,
            description="Public part of the sealed record, RFC 8785 JSON",
            created=at,
            modified=at,
            relationship="Source",
        )
        for name, text in sealed.texts.items()
    ]
    html = HTML(string=laid_out(sealed, address), url_fetcher=_fetcher())
    identifier = sealed.head[:32].encode("ascii")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        content: bytes = html.write_pdf(
            stylesheets=[style, page],
            attachments=attachments,
            pdf_variant="pdf/a-3a",
            pdf_tags=True,
            pdf_identifier=identifier,
        )
    return content


def laid_out(sealed: Sealed, address: str) -> str:
    """Return the record's pages as HTML, in its language and units."""
    with as_read(sealed.language, sealed.shown_in):
        return render_to_string("record/pdf.html", context(sealed, address))


def _fetcher() -> Any:
    """Return a fetcher that gives out the project's own named files, and nothing else from anywhere."""
    from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse  # noqa: PLC0415

    class OwnFiles(URLFetcher):
        def fetch(self, url: str, headers: Any = None) -> Any:
            if url not in ASSETS:
                raise FatalURLFetchingError(f"{url[:80]!r} is not one of this project's own files.")
            path, kind = ASSETS[url]
            return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})

    return OwnFiles()


def context(sealed: Sealed, address: str) -> dict[str, Any]:
    """Return what the PDF's template lays out."""
    record = sealed.record
    zone = record["shop"]["time_zone"]
    shown = ends(record)
    return {
        "title": _("Suspension record {number}, card {card}").format(
            number=record["record"]["number"], card=record["card"]["number"]
        ),
        "language": sealed.language,
        "converted": converts(),
        "planned": any(is_planned(svg) for svg in (record["pictures"][end] for end in END_NAMES)),
        "record": record,
        "link": {"number": sealed.number, "head": sealed.head, "public_digest": sealed.public_digest},
        "sealed_on": layout.when(record["record"]["sealed_at"], zone),
        "sealed_at": layout.when(record["record"]["sealed_at"], zone, with_time=True),
        "amendments": sealed.amendments,
        "facts": facts(record, sealed.personal),
        "ends": shown,
        "attitude": drawing(record["pictures"].get("attitude")),
        "set": list(itertools.zip_longest(*(end["rows"] for end in shown))),
        "computed": list(itertools.zip_longest(*(end["results"] for end in shown))),
        "targets_source": retold((record["targets"] or {}).get("source", "")),
        "bike_sources": layout.sources(record),
        "readings": layout.readings(record),
        "spring_work": layout.spring_work(record),
        "load_cases": layout.load_cases(record),
        "shop_lines": shop_lines(record["shop"]),
        "torques": torques(record["torques"], zone),
        "columns": columns(record),
        "cautions": cautions(record, zone),
        "overrides": overrides(record, zone),
        "photos": len(record.get("photos", [])),
        "sign_offs": [one | {"on": layout.when(one["at"], zone)} for one in record["sign_offs"]],
        "attached": bool(sealed.texts),
        "qr": code(f"{address}#v.{sealed.number}.{sealed.head}"),
    }


def facts(record: Mapping[str, Any], personal: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return what heads the record: bike, owner, distance, days; blanks and erased values are left out."""
    bike, loose, card = record["bike"], record["loose"], record["card"]
    zone = record["shop"]["time_zone"]
    found: list[tuple[str, Any]] = []
    if bike:
        year = f" {bike['year']}" if bike["year"] else ""
        found += [(_("Bike"), f"{bike['make']} {bike['model']}{year}"), (_("Kind"), kind_words(bike["kind"]))]
        found += [
            (_("Plate"), personal.get("public.bike.plate")),
            (_("Frame number"), personal.get("public.bike.frame_number")),
        ]
    if loose:
        described = f", {loose['description']}" if loose["description"] else ""
        found.append((_("Brought in"), f"{loose_words(loose['what'])}{described}"))
    rider, owner = personal.get("public.rider.name"), personal.get("public.customer.name")
    if owner is None and record["customer"]["name"] is not None:
        owner = erased_words()
    found.append((_("Customer and rider") if rider and rider == owner else _("Customer"), owner))
    if rider not in (None, owner):
        found.append((_("Rider"), rider))
    if card["distance_km"] is not None:
        found.append((_("Distance"), f"{typed(card['distance_km'])} km"))
    if card["hours"] is not None:
        found.append((_("Running time"), f"{typed(card['hours'])} h"))
    found.append((_("Received"), layout.when(card["opened_at"], zone)))
    if card["altitude_m"]:
        found.append((_("Set up for an altitude of"), f"{typed(card['altitude_m'])} m"))
    return [(name, value) for name, value in found if value]


def kind_words(kind: str) -> str:
    """Name a kind of bike; one of an older version as it was written."""
    return str(Kind(kind).label) if kind in Kind.values else kind


def loose_words(what: str) -> str:
    """Name a part that came without its bike."""
    return str(LOOSE.get(what, what))


def batch_words(batch: str) -> str:
    """Name a batch."""
    return _("batch {batch}").format(batch=batch)


def ends(record: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return each end that the record says something about: its rows, verdicts and picture."""
    found = []
    for end, name in END_NAMES.items():
        rows, results, said = (
            layout.table(record, end),
            layout.results(record, end),
            layout.verdicts(record, end),
        )
        if rows or results:
            picture = drawing(record["pictures"][end])
            shown = {"picture": picture, "forces": forces(record["pictures"][end])}
            found.append({"name": str(name), "rows": rows, "results": results, "verdicts": said, **shown})
    return found


def drawing(svg: str | None) -> SafeString | None:
    """Return a sealed picture as markup: calc.picture escapes every text in it, and the seal keeps it as it
    was."""
    return mark_safe(svg) if svg else None  # noqa: S308


def is_planned(svg: str | None) -> bool:
    """Tell whether a sealed picture shows what was chosen too."""
    return svg is not None and "pic-chosen" in svg


def shop_lines(shop: Mapping[str, Any]) -> str:
    """Return the shop's name, address and telephone on two lines."""
    address = ", ".join(line.strip() for line in shop["address"].splitlines() if line.strip())
    return "\n".join(part for part in (", ".join((shop["name"], address)).strip(", "), shop["phone"]) if part)


def torques(lines: list[Mapping[str, Any]], zone: str) -> dict[str, Any]:
    """Return the torque lines as words; editions and wrenches are named once, below, and referred to by a
    sign."""
    editions = list(dict.fromkeys(line["source_edition"] for line in lines if line["source_edition"]))
    wrenches = list(dict.fromkeys(_wrench(line, zone) for line in lines if line["wrench_name"]))
    return {
        "lines": [_torque(line, zone, editions, wrenches) for line in lines],
        "sources": "; ".join(f"[{sign}] {name}" for sign, name in zip(_letters(), editions, strict=False))
        or _("none named"),
        "wrenches": "; ".join(f"[{place}] {name}" for place, name in enumerate(wrenches, 1)) or _("none named"),
    }


def _letters() -> Iterator[str]:
    """Yield A to Z, then AA to AZ and so on."""
    for count in itertools.count():
        yield (chr(64 + count // 26) if count >= 26 else "") + chr(65 + count % 26)


def _wrench(line: Mapping[str, Any], zone: str) -> str:
    if not line["calibration_due"]:
        return str(line["wrench_name"])
    due = layout.when(line["calibration_due"], zone)
    return _("{wrench}, calibration due {day}").format(wrench=line["wrench_name"], day=due)


def overrides(record: Mapping[str, Any], zone: str) -> list[dict[str, str]]:
    """Return what was overridden, why and by whom; a record sealed before there were overrides has none."""
    found = record.get("overrides", [])
    return [
        {**one, "text": retold(one["text"]), "on": layout.when(one["at"], zone, with_time=True)} for one in found
    ]


def _torque(line: Mapping[str, Any], zone: str, editions: list[str], wrenches: list[str]) -> dict[str, str]:
    """Return one torque line as words; a blank value is said to be one."""
    signs = dict(zip(editions, _letters(), strict=False))
    source = f"[{signs[line['source_edition']]}]" if line["source_edition"] else _("none named")
    return {
        "fastener": f"{line['count']} × {line['fastener']}" if line.get("count", 1) > 1 else line["fastener"],
        "value": _("blank") if line["value_nm"] is None else figure(line["value_nm"], "N·m"),
        "source": source + (f", {layout.page_words(line['source_page'])}" if line["source_page"] else ""),
        "wrench": f"[{wrenches.index(_wrench(line, zone)) + 1}]" if line["wrench_name"] else _("none named"),
        "tightened": _by(line, "tightened", zone) or _("nobody"),
        "checked": _by(line, "checked", zone) or (_("nobody") if line["needs_second_check"] else _("not required")),
    }


def _by(line: Mapping[str, Any], what: str, zone: str) -> str:
    name = line[f"{what}_by_name"]
    return f"{name}, {layout.when(line[f'{what}_at'], zone, short=True)}" if name else ""


def columns(record: Mapping[str, Any], *, for_customer: bool = False) -> list[tuple[str, list[str]]]:
    """Return the parts fitted, the parts given back (each with its quantity and batch) and the next
    service."""
    found = []
    for direction, title in (("fitted", _("Parts fitted")), ("given_back", _("Given back to the customer"))):
        words = [
            f"{line['quantity']} × {line['description']}"
            + (f" ({batch_words(line['batch'])})" if line["batch"] else "")
            for line in record["parts"]
            if line["direction"] == direction
        ]
        if words:
            found.append((title, words))
    if due := next_service(record):
        found.append((_("When to come back") if for_customer else _("Next service"), [due]))
    return found


def cautions(record: Mapping[str, Any], zone: str) -> dict[str, Any]:
    """Return the cautions, gravest first, with who read each before its step: once, where it was always the
    same."""
    lines = [
        {
            "word": one["word"],
            "said": SIGNAL_WORDS[one["word"]],
            "level": LEVELS[one["word"]],
            "text": one["text"],
            "read": f"{one['read_by_name']}, {layout.when(one['read_at'], zone)}" if one["read_by_name"] else "",
        }
        for one in layout.cautions_by_word(record["cautions"])
    ]
    readers = {line["read"] for line in lines}
    return {"lines": lines, "all_read": readers.pop() if len(readers) == 1 else ""}


def next_service(record: Mapping[str, Any]) -> str:
    """Return when to come back, in words; empty when nothing was agreed."""
    due = record["next_service"]
    words = [layout.when(due["on"], "UTC") if due["on"] else "", due["note"]]
    return ", ".join(part for part in words if part)


def code(text: str) -> SafeString:
    """Return a QR code (ISO/IEC 18004) as SVG."""
    import segno  # noqa: PLC0415  # only a first PDF needs it

    svg = segno.make(text, error="m").svg_inline(
        omitsize=True, svgclass=None, lineclass=None, title=_("Is this record valid?")
    )
    return mark_safe(svg)  # noqa: S308  # drawn by segno from an address and a digest

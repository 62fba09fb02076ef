"""The PDFs of many records given out as one file."""

from __future__ import annotations

import zipfile
from typing import IO, Any

from django.utils.translation import gettext as _

from calc.refusal import Problem, Refusal
from setups.audit import records
from setups.audit.asked import Asked
from setups.record import pdf
from shops import trail
from shops.trail import Actor

MOST = 500


def give_pdfs_out(actor: Actor, asked: Asked, narrowed: dict[str, Any], address: str, file: IO[bytes]) -> int:
    """Write the newest PDF of every record asked for into `file`, a ZIP; note it in the trail; return their number.

    `narrowed` is what was asked, as the trail keeps it. Raises Refusal where there are none or more than `MOST`.
    """
    found = list(records.find(asked)[: MOST + 1])
    if not found:
        raise Refusal(Problem("", "none", _("No record was sealed in these days.")))
    if len(found) > MOST:
        text = _("More than {most} records were sealed in these days: choose fewer days, or one shop.")
        raise Refusal(Problem("since", "too_many", text.format(most=MOST)))
    # A PDF is compressed already.
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as packed:
        for record in found:
            content = pdf.pdf_of(pdf.record_to_print(record.card, None), address)
            packed.writestr(f"{record.card.shop.code}-{record.number:06}-{record.card.number}.pdf", content)
    trail.record(actor, "give list out", actor.person.shop, None, {"list": "pdfs", "pdfs": len(found), **narrowed})
    return len(found)

"""A sealed record's PDF: its first rendering against WeasyPrint alone, a later request against a static file.

Run it with `python tests/bench/bench_pdf.py`; it prints one JSON line. Both pairs are measured in turn in one
process; the later request goes through every middleware, and so does the static file, which has as many bytes.
"""

from __future__ import annotations

import json
import os
import statistics
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
RENDERINGS, REQUESTS = 12, 200
ADDRESS = "http://testserver/record"


def timed(do: Callable[[], Any]) -> float:
    """Return how long `do` takes, s."""
    begin = time.perf_counter()
    do()
    return time.perf_counter() - begin


def alone(text: str, paper: str) -> bytes:
    """Lay the same HTML out with WeasyPrint and nothing of ours around it."""
    from weasyprint import CSS, HTML  # noqa: PLC0415

    from setups.record.pdf import STYLES  # noqa: PLC0415

    styles = [CSS(filename=STYLES / "pdf.css"), CSS(string=f"@page {{ size: {paper} }}")]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        made: bytes = HTML(string=text).write_pdf(stylesheets=styles, pdf_variant="pdf/a-3a", pdf_tags=True)
    return made


def main(folder: Path) -> None:
    """Seal a record, measure, and print one line."""
    import django  # noqa: PLC0415  # the database's folder must be named first

    django.setup()
    from django.core.management import call_command  # noqa: PLC0415
    from django.template.loader import render_to_string  # noqa: PLC0415
    from django.test import Client, override_settings  # noqa: PLC0415

    from setups.record import pdf, reading, seal  # noqa: PLC0415
    from shops.trail import Actor  # noqa: PLC0415
    from tests import factories  # noqa: PLC0415
    from tests.setups.record.conftest import ready_card_maker  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    shop = factories.ShopFactory()
    technician, second = factories.PersonFactory(shop=shop), factories.PersonFactory(shop=shop)
    record = seal.seal(Actor(technician), ready_card_maker(shop, technician, second)())
    sealed = reading.read([record])
    text = render_to_string("record/pdf.html", pdf.context(sealed, ADDRESS))
    paper = sealed.record["shop"]["paper"]
    first: dict[str, list[float]] = {"ours": [], "alone": []}
    pdf.render(sealed, ADDRESS)
    for _ in range(RENDERINGS):
        first["ours"].append(timed(lambda: pdf.render(sealed, ADDRESS)))
        first["alone"].append(timed(lambda: alone(text, paper)))
    (folder / "static").mkdir()
    (folder / "static" / "same.pdf").write_bytes(pdf.pdf_of(record, ADDRESS))
    later: dict[str, list[float]] = {"stored": [], "static": []}
    with override_settings(STATICFILES_DIRS=[folder / "static"]):
        client = Client()
        client.force_login(technician)
        paths = {"stored": f"/api/cards/{record.card_id}/record.pdf", "static": "/static/same.pdf"}
        for number in range(REQUESTS + 20):
            for name, path in paths.items():
                begin = time.perf_counter()
                answer = client.get(path)
                size = len(b"".join(answer)) if answer.streaming else len(answer.content)
                took = time.perf_counter() - begin
                if answer.status_code != 200 or size < 1000:
                    raise SystemExit(f"{path} answered {answer.status_code} and {size} bytes")
                if number >= 20:
                    later[name].append(took)
    median = {name: statistics.median(each) * 1000 for name, each in {**first, **later}.items()}
    print(
        json.dumps(
            {
                "bench": "pdf",
                **{f"{name}_ms": round(value, 2) for name, value in median.items()},
                "first_ratio": round(median["ours"] / median["alone"], 3),
                "later_ratio": round(median["stored"] / median["static"], 2),
            }
        )
    )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as kept:
        os.environ |= {"COILBOOK_DATA": kept, "DJANGO_SETTINGS_MODULE": "shops.site.settings"}
        os.environ.pop("DATABASE_URL", None)
        main(Path(kept))

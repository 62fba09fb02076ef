"""A sealed record's PDF: its first rendering against WeasyPrint alone, a later request against a static file.

Run it with `python tests/bench/bench_pdf.py`; it prints one JSON line. The first rendering is all that the first
request does: read the sealed texts, lay them out, store the PDF; against it WeasyPrint lays out the same HTML in the
same process, in turn; the processor time of both is compared. The later request is asked over HTTP, in turn with the
same bytes as a file on the disk, both from one server, over one connection, behind the same middlewares and the same
sign-in. `public_ratio` compares it with the file as a public one, for which nobody is asked who they are and no
database is read.
"""

from __future__ import annotations

import gc
import http.client
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.bench.bench_evaluate import TOKEN, free_port, wait_for  # noqa: E402
from tests.bench.served import FILE  # noqa: E402

RENDERINGS, REQUESTS, WARM_UP = 12, 400, 40
ADDRESS = "http://127.0.0.1/record"


def timed(do: Callable[[], Any]) -> float:
    """Return the processor time that `do` takes, s: laying out waits for nobody, and others may use the machine."""
    gc.collect()
    begin = time.process_time()
    do()
    return time.process_time() - begin


def alone(text: str, paper: str) -> bytes:
    """Lay the same HTML out with WeasyPrint and nothing of ours around it."""
    from weasyprint import CSS, HTML  # noqa: PLC0415

    from setups.record.pdf import STYLES  # noqa: PLC0415

    styles = [CSS(filename=STYLES / "pdf.css"), CSS(string=f"@page {{ size: {paper} }}")]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        made: bytes = HTML(string=text).write_pdf(stylesheets=styles, pdf_variant="pdf/a-3a", pdf_tags=True)
    return made


def sealed_record() -> tuple[Any, str]:
    """Seal a card in an empty database; return its record and the cookie of a session that may read it."""
    import django  # noqa: PLC0415  # the database's folder must be named first

    django.setup()
    from django.core.management import call_command  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    from setups.record import seal  # noqa: PLC0415
    from shops.trail import Actor  # noqa: PLC0415
    from tests import factories  # noqa: PLC0415
    from tests.setups.record.conftest import ready_card_maker  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    shop = factories.ShopFactory()
    technician, second = factories.PersonFactory(shop=shop), factories.PersonFactory(shop=shop)
    record = seal.seal(Actor(technician), ready_card_maker(shop, technician, second)())
    client = Client()
    client.force_login(technician)
    return record, f"sessionid={client.cookies['sessionid'].value}; csrftoken={TOKEN}"


def first_renderings(record: Any) -> dict[str, list[float]]:
    """Return how long the first request's work takes, and WeasyPrint alone on the same HTML, s."""
    from setups.models import StoredPdf  # noqa: PLC0415
    from setups.record import pdf, reading  # noqa: PLC0415
    from shops.access import everywhere  # noqa: PLC0415

    sealed = reading.read([record])
    text, paper = pdf.laid_out(sealed, ADDRESS), sealed.record["shop"]["paper"]
    stored = everywhere(StoredPdf, why="the bench renders it again")
    taken: dict[str, list[float]] = {"first": [], "alone": []}
    for number in range(RENDERINGS + 1):
        stored.all().delete()
        both = {"first": lambda: pdf.pdf_of(record, ADDRESS), "alone": lambda: alone(text, paper)}
        # Now the one begins, now the other: what is warm helps both.
        pair = {name: timed(both[name]) for name in sorted(both, reverse=bool(number % 2))}
        if number:
            for name, took in pair.items():
                taken[name].append(took)
    return taken


def later_requests(folder: Path, paths: dict[str, str], cookie: str, size: int) -> dict[str, list[float]]:
    """Return how long each address takes over HTTP, s, asked in turn over one connection."""
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "tests.bench.served:with_bench_views()"]
    command += ["--bind", f"127.0.0.1:{port}", "--worker-class", "gthread", "--threads", "2"]
    server = subprocess.Popen([*command, "--log-level", "warning", "--worker-tmp-dir", str(folder)], cwd=ROOT)
    taken: dict[str, list[float]] = {name: [] for name in paths}
    try:
        connection = wait_for(port, server)
        for number in range(WARM_UP + REQUESTS):
            for name, path in paths.items():
                begin = time.perf_counter()
                connection.request("GET", path, headers={"Cookie": cookie})
                answer = connection.getresponse()
                content = answer.read()
                took = time.perf_counter() - begin
                if answer.status != http.client.OK or len(content) != size:
                    raise SystemExit(f"{path} answered {answer.status} and {len(content)} bytes, not {size}.")
                if number >= WARM_UP:
                    taken[name].append(took)
        connection.close()
    finally:
        server.terminate()
        server.wait(30)
    return taken


def main(folder: Path) -> None:
    """Seal a record, measure, and print one line."""
    record, cookie = sealed_record()
    taken = first_renderings(record)
    from setups.record import pdf  # noqa: PLC0415

    content = pdf.pdf_of(record, ADDRESS)
    public = folder / "public"
    public.mkdir()
    (public / "same.pdf").write_bytes(content)
    os.environ[FILE] = str(public / "same.pdf")
    paths = {
        "later": f"/api/cards/{record.card_id}/record.pdf", "file": "/api/file/", "public": "/static/same.pdf",
    }  # fmt: skip
    taken |= later_requests(folder, paths, cookie, len(content))
    median = {name: statistics.median(each) * 1000 for name, each in taken.items()}
    told = {
        "bench": "pdf",
        "bytes": len(content),
        **{f"{name}_ms": round(value, 2) for name, value in median.items()},
        "first_ratio": round(median["first"] / median["alone"], 3),
        "later_ratio": round(median["later"] / median["file"], 2),
        "public_ratio": round(median["later"] / median["public"], 2),
        "load_of_the_machine": [round(one, 1) for one in os.getloadavg()],
    }
    print(json.dumps(told))


if __name__ == "__main__":
    kept = tempfile.mkdtemp()
    try:
        os.environ |= {"COILBOOK_DATA": kept, "DJANGO_SETTINGS_MODULE": "shops.site.settings"}
        os.environ.pop("DATABASE_URL", None)
        main(Path(kept))
    finally:
        shutil.rmtree(kept)

"""The PDF, read back by an independent reader (pypdf): its numbers, its attachment, its bytes."""

from __future__ import annotations

import builtins
import io
import json
import re
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

import pypdf
import pytest
from weasyprint.urls import FatalURLFetchingError

from calc.evaluate import evaluate
from setups.models import StoredPdf
from setups.record import layout, pdf, seal
from setups.record.canonical import canonical, digest
from setups.record.reading import Sealed, filled
from tests.setups.record import invented

pytestmark = pytest.mark.pdf


def text_of(content):
    """Everything that the pages say, with single spaces."""
    pages = pypdf.PdfReader(io.BytesIO(content)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def sealed_of(documents, amendments=()):
    """A sealed card as the PDF is laid out from it, without a database: card and chain are invented."""
    public = canonical(documents.public)
    personal = {kept.path: kept.value for kept in documents.personal}
    return Sealed(
        record=filled(json.loads(public), "public", personal),
        number=12,
        head=digest("an invented head"),
        public_digest=digest(public),
        amendments=list(amendments),
        personal=personal,
        texts={"record-12.json": public},
    )


ADDRESS = "https://shop.example/record"


@pytest.fixture(scope="module")
def ordinary():
    """An ordinary job on both ends: every usual fastener, every caution."""
    return sealed_of(invented.documents())


@pytest.fixture(scope="module")
def content(ordinary):
    return pdf.render(ordinary, ADDRESS)


@pytest.fixture(scope="module")
def said(content):
    return text_of(content)


def test_an_ordinary_job_fits_two_pages_of_the_shops_paper(content):
    reader = pypdf.PdfReader(io.BytesIO(content))
    assert len(reader.pages) <= 2
    # ISO 216: A4 is 210 mm by 297 mm.
    assert [round(float(side) / 72 * 25.4) for side in reader.pages[0].mediabox[2:]] == [210, 297]


def structure(content):
    """Yield every element of a tagged PDF in reading order (ISO 32000-1, 14.7): its kind, and whether it is empty."""
    nodes = [pypdf.PdfReader(io.BytesIO(content)).trailer["/Root"]["/StructTreeRoot"]]
    while nodes:
        node = nodes.pop(0).get_object()
        inside = node.get("/K", []) if isinstance(node, dict) else node if isinstance(node, list) else []
        inside = inside.get_object() if hasattr(inside, "get_object") else inside
        if isinstance(node, dict) and "/S" in node:
            yield node["/S"], inside in ([], None)
        nodes[:0] = [one for one in (inside if isinstance(inside, list) else [inside]) if hasattr(one, "get_object")]


def test_its_first_heading_is_the_first_level_and_no_cell_is_empty(content):
    """As PDF/UA-1 (ISO 14289-1, 7.4) asks of headings."""
    found = list(structure(content))
    headings = [kind for kind, _ in found if re.fullmatch("/H[1-6]", kind)]
    assert headings[0] == "/H1"
    assert headings.count("/H1") == 1
    cells = [empty for kind, empty in found if kind in ("/TD", "/TH")]
    assert len(cells) > 100
    assert not any(cells)


def test_letter_paper_is_used_where_the_shop_has_it():
    reader = pypdf.PdfReader(io.BytesIO(pdf.render(sealed_of(invented.documents(paper="Letter")), ADDRESS)))
    # ANSI/ASME Y14.1: size A is 8.5 in by 11 in.
    assert [round(float(side) / 72, 2) for side in reader.pages[0].mediabox[2:]] == [8.5, 11]
    assert len(reader.pages) <= 2


def test_every_result_of_the_public_document_is_printed(said, ordinary):
    units = {
        "breakaway_n": "N",
        "wheel_rate_n_per_mm": "N/mm",
        "full_stroke_n": "N",
        "energy_to_stop_j": "J",
    }
    for stage in ("received", "built"):
        for end in ("front", "rear"):
            for key, unit in units.items():
                printed = layout.number(ordinary.record["results"][stage][end][key])
                assert f"{printed} {unit}" in said, (stage, end, key)


def test_what_tells_a_load_is_not_printed(said, ordinary):
    for stage in ("received", "built"):
        for end in ("front", "rear"):
            result = evaluate({end: invented.request(stage, end)})[end]
            assert f"{layout.number(result['frequency_hz'])} Hz" not in said
            assert f"{layout.number(result['fall_to_stop_mm'])} mm" not in said
    for word in ("Hz", "requency", "times the sprung load", "Fall to the stop"):
        assert word not in said


def test_sags_torques_settings_readings_and_people_are_printed(said, ordinary):
    public = ordinary.record
    for stage in ("received", "built"):
        for end in ("front", "rear"):
            for key in ("static_sag_mm", "rider_sag_mm"):
                # To the digit of its uncertainty (JCGM 100:2008, 7.2.6), which a tape makes a millimetre or two.
                whole = Decimal(str(public["sag"][stage][end][key])).quantize(Decimal(1), ROUND_HALF_UP)
                assert f"{whole} ± 2 mm" in said
    for line in public["torques"]:
        assert line["fastener"] in said
        assert f"{line['value_nm']:g} N·m" in said
        assert f"p. {line['source_page']}" in said
        assert f"{line['tightened_by_name']}, 2 Apr 2031" in said
    for reading in public["readings"]:
        assert f"{reading['value']:g}" in said
    for words in ("owner's manual, 2nd edition", "calibration due 30 September 2031", "10 clicks out"):
        assert words in said
    for words in ("105 kPa (1.05 bar)", "SAE 5W, 612 cm³ per leg", "Jonas Feld", "stamped", "assumed", "counted"):
        assert words in said


def test_the_oil_that_a_smaller_gap_takes_is_printed(said):
    """π/4 · 42² mm² · 2 mm = 2.77 cm³: the volume of a cylinder."""
    assert "2.8 cm³ more oil in a bore of 42 mm" in said


def test_the_cautions_stand_in_full_with_their_signal_words(said, ordinary):
    for caution in ordinary.record["cautions"]:
        assert caution["word"] in said
        assert caution["text"] in said


def test_number_head_and_digest_are_printed(said, content, ordinary):
    pages = len(pypdf.PdfReader(io.BytesIO(content)).pages)
    for words in ("No. 12", ordinary.head, ordinary.public_digest, f"page 1 of {pages}", f"page {pages} of {pages}"):
        assert words in said


def test_neither_mass_nor_axle_loads_are_printed(said):
    for kilograms in (invented.MASS_KG, *invented.AXLE_KG["front"], *invented.AXLE_KG["rear"]):
        assert f"{kilograms} kg" not in said


def test_the_attachment_is_the_sealed_public_text_byte_for_byte(content, ordinary):
    attached = pypdf.PdfReader(io.BytesIO(content)).attachments["record-12.json"]
    assert attached == [ordinary.texts["record-12.json"].encode("utf-8")]
    assert digest(attached[0].decode("utf-8")) == ordinary.public_digest


def test_rendering_anew_gives_the_same_bytes(content, ordinary):
    assert pdf.render(ordinary, ADDRESS) == content


def test_what_people_typed_is_escaped(ordinary):
    typed = "<img src='file:///etc/passwd'><b>x</b> & y"
    hostile = replace(ordinary, record={**ordinary.record, "complaint": typed})
    assert typed in text_of(pdf.render(hostile, ADDRESS))


def test_a_loose_fork_is_printed_without_a_rear_end_and_with_each_leg_by_itself():
    said = text_of(pdf.render(sealed_of(invented.loose_fork()), ADDRESS))
    for words in ("loose fork, 48 mm, closed cartridge", "left: 3.2, from 120 mm 4.4 N/mm", "3.2 rising to 4.4 N/mm"):
        assert words in said
    assert "Rear: the shock" not in said


def test_it_says_that_it_is_tagged_and_pdf_a_3a(content):
    """ISO 19005-3: the conformance claim stands in the metadata."""
    reader = pypdf.PdfReader(io.BytesIO(content))
    xmp = reader.trailer["/Root"]["/Metadata"].get_data().decode()
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert re.search(r"part>3<|part=\"3\"", xmp)
    assert re.search(r"conformance>A<|conformance=\"A\"", xmp)


@pytest.mark.django_db
def test_the_second_request_answers_the_same_bytes_and_renders_nothing(sealed, monkeypatch):
    first = pdf.pdf_of(sealed, ADDRESS)
    assert pypdf.PdfReader(io.BytesIO(first)).attachments["record-1.json"] == [sealed.public.encode("utf-8")]
    monkeypatch.setattr(pdf, "render", lambda *args: pytest.fail("rendered again"))
    assert pdf.pdf_of(sealed, "https://elsewhere.example/record") == first


@pytest.mark.django_db
def test_an_amendment_has_a_pdf_of_its_own_that_prints_old_and_new(sealed, ready_card, actor):
    added = seal.amend(actor, ready_card, path="torques.0.value_nm", new=95, why="Misread the page.")
    said = text_of(pdf.pdf_of(added, "https://shop.example/record"))

    assert "Corrected after sealing" in said
    assert "95 N·m instead of 90 N·m" in said
    assert "Misread the page." in said
    assert added.head in said


@pytest.mark.django_db
def test_a_missing_layout_library_is_named_and_nothing_is_stored(sealed, manager_client, monkeypatch):
    real = builtins.__import__

    def without_pango(name, *args, **rest):
        if name.startswith("weasyprint"):
            raise OSError("cannot load library 'libpango-1.0-0'")
        return real(name, *args, **rest)

    monkeypatch.setattr(builtins, "__import__", without_pango)
    answer = manager_client.get(f"/api/cards/{sealed.card_id}/record.pdf")

    assert answer.status_code == 503
    text = answer.json()["problems"][0]["text"]
    for package in ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"):
        assert package in text
    assert not StoredPdf.objects.filter(record=sealed).declare_scope().exists()


@pytest.mark.django_db
def test_there_is_no_pdf_of_a_draft(ready_card, manager_client):
    answer = manager_client.get(f"/api/cards/{ready_card.pk}/record.pdf")
    assert answer.status_code in (400, 404, 409)
    assert answer["Content-Type"] == "application/json"


@pytest.mark.parametrize("url", ["file:///etc/passwd", "http://127.0.0.1:9/", "data:text/plain,x", "coilbook:other"])
def test_nothing_but_the_projects_own_files_can_be_fetched(url):
    with pytest.raises(FatalURLFetchingError):
        pdf._fetcher().fetch(url)

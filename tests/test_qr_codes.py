"""The QR codes that people point a camera at, read back by a reader of another make (ZXing) from what is rendered.

ISO/IEC 18004 is read by the library; the form of a code app's address is its de facto convention (from memory).
"""

from __future__ import annotations

import base64
import io
import subprocess
from urllib.parse import parse_qs, unquote, urlsplit

import pytest
import zxingcpp
from django_otp.oath import TOTP
from PIL import Image
from rest_framework.test import APIClient

from setups.record import pdf, seal
from shops import second_factor
from shops.trail import Actor
from tests.setups.record import conftest as invented_record

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]
make_ready_card = invented_record.make_ready_card
DPI = 150
"""A camera at arm's length sees a sheet of paper no finer than that."""


def read_codes(content):
    """Return what every QR code on the pages of a PDF says."""
    found = []
    for page in range(1, 9):
        command = ["pdftoppm", "-r", str(DPI), "-f", str(page), "-l", str(page), "-png", "-"]
        drawn = subprocess.run(command, input=content, capture_output=True, check=False).stdout
        if not drawn:
            break
        with Image.open(io.BytesIO(drawn)) as image:
            found += [one.text for one in zxingcpp.read_barcodes(image) if one.format == zxingcpp.BarcodeFormat.QRCode]
    return found


def test_the_records_code_leads_to_the_page_that_says_it_is_valid(make_ready_card, technician):
    sealed = seal.seal(Actor(technician), make_ready_card())
    [said] = read_codes(pdf.pdf_of(sealed, "https://shop.example/record"))
    parts = urlsplit(said)
    assert (parts.scheme, parts.netloc, parts.path, parts.query) == ("https", "shop.example", "/record", "")
    kind, number, head = parts.fragment.split(".")
    assert (kind, number, head) == ("v", str(sealed.number), sealed.head)
    # The page asks this of the server; nobody is signed in there.
    visitor = APIClient()
    told = visitor.post("/api/record/check/", {"number": number, "head": head}).json()
    forged = visitor.post("/api/record/check/", {"number": number, "head": "0" * 64}).json()
    assert (told["title"], forged["title"]) == ("Valid", "No such record")


def test_the_second_factors_code_makes_the_codes_that_open_the_door(technician):
    from weasyprint import HTML  # noqa: PLC0415  # as the service does: only where it is needed

    begun = second_factor.begin(Actor(technician))
    [said] = read_codes(HTML(string=second_factor.drawn(begun)).write_pdf())
    parts = urlsplit(said)
    asked = {name: values[0] for name, values in parse_qs(parts.query).items()}
    assert (parts.scheme, parts.netloc) == ("otpauth", "totp")
    assert unquote(parts.path) == f"/Coilbook:{technician.email}"
    key = base64.b32decode(asked["secret"])
    device = TOTP(key, step=int(asked["period"]), digits=int(asked["digits"]))
    codes = second_factor.turn_on(Actor(technician), f"{device.token():06d}")
    assert len(codes) == second_factor.CODES

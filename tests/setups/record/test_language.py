"""A record in the shop's language and units: sealed, printed, shown to the customer, mailed.

Independent of the code under test: Babel (numbers and days by CLDR), pint (units), pypdf (what the PDF says).
"""

from __future__ import annotations

import datetime
import io
import json
import re
from typing import ClassVar

import pint
import pypdf
import pytest
from babel.dates import format_date
from babel.messages.pofile import read_po
from babel.numbers import format_decimal
from django.utils import translation

from calc.units import FACTORS
from setups import figures
from setups.record import estimate_page, links, page, pdf, seal, validity
from setups.record.reading import links_of, read
from setups.record.verify import verify_shop
from shops import letters
from shops.models import default_units
from shops.site import compiled
from tests.factories import EstimateAskFactory, InvitationFactory, JobCardFactory
from tests.setups.record import invented
from tests.setups.record.test_pdf import ADDRESS, sealed_of, text_of

INCHES = page.INCHES_AND_POUNDS


def english_of_the_catalogue():
    """Every run of words that stands in English in a message and not in its German translation."""
    with (compiled.folder("de") / "django.po").open("rb") as text:
        catalogue = read_po(text, locale="de")
    for message in catalogue:
        ids = message.id if isinstance(message.id, tuple) else (message.id,)
        german = " ".join(message.string) if isinstance(message.string, tuple) else message.string
        for text in ids:
            for piece in re.split(r"\{[^}]*\}|%\(\w+\)s|<[^>]+>|[.;:]\s|\s\s|\n", text):
                words = piece.strip(" .,;:()“”")
                if len(words) > 9 and " " in words and words not in german:
                    yield words


def assert_german(said):
    for line in invented.card()["torques"]:
        said = said.replace(line["fastener"], "")  # typed by a person
    found = [words for words in set(english_of_the_catalogue()) if re.search(rf"\b{re.escape(words)}\b", said)]
    assert not found


def in_german(value, decimals=1):
    """Write a number as CLDR says that German does."""
    return format_decimal(value, format="0." + "#" * decimals, locale="de")


@pytest.fixture
def german_shop(shop):
    shop.language, shop.time_zone = "de", "Etc/UTC"
    shop.save()
    return shop


@pytest.fixture
def german(german_shop, make_ready_card, actor):
    """A record of a German shop, sealed by somebody who is spoken to in English."""
    explanation, complaint = "Beide Federn sind jetzt hart genug.", "Taucht beim Bremsen ein."
    card = make_ready_card(explanation=explanation, complaint=complaint, next_service_note="Öl wechseln")
    with translation.override("en"):
        return seal.seal(actor, card)


@pytest.mark.django_db
@pytest.mark.pdf
def test_a_german_shops_pdf_is_german_throughout(german):
    content = pdf.pdf_of(german, ADDRESS)
    said, record = text_of(content), json.loads(german.public)

    assert record["language"] == "de"
    assert_german(said.replace("-\n", ""))
    assert pypdf.PdfReader(io.BytesIO(content)).trailer["/Root"]["/Lang"] == "de"
    for stage in ("received", "built"):
        for end in ("front", "rear"):
            assert f"{round(record['sag'][stage][end]['rider_sag_mm'] + 1e-9)} ± 1 mm" in said
    assert f"{in_german(invented.SETTINGS['built']['front']['legs'][0]['preload_mm'])} mm" in said
    sealed_on = datetime.datetime.fromisoformat(record["record"]["sealed_at"]).date()
    assert format_date(sealed_on, "long", locale="de") in said
    assert "Fahrwerksprotokoll" in said
    assert "Seite 1 von 2" in said


@pytest.mark.django_db
def test_the_customers_page_and_its_own_words_are_german(german, actor):
    link, _ = links.share(actor, german.card, days=30, share_mass=True)
    with translation.override("en"):
        answer = page.page_of(link)
    for html in (answer["html"], answer["other"]):
        told = re.sub(r"<title>.*?</title>|<desc>.*?</desc>|<[^>]+>", " ", html)
        assert_german(told)
    assert answer["language"] == "de"
    assert f"{in_german(invented.MASS_KG, 2)} kg" in answer["html"]


@pytest.mark.django_db
def test_the_draft_for_the_rider_is_in_the_shops_language_and_units(
    german_shop, make_ready_card, technician, technician_client
):
    """The customer reads it: an English technician's own language and units do not matter. pint converts beside us."""
    card = make_ready_card(complaint="Taucht beim Bremsen ein.", next_service_note="nach 30 Stunden")
    answer = technician_client.get(f"/api/cards/{card.pk}/draft/").json()
    assert (technician.language, answer["language"]) == ("", "de")
    german_shop.units = {**default_units(), "rate": "kgf/mm", "length": "in"}
    german_shop.save()
    technician.language = "en"
    technician.save()
    answer = technician_client.get(f"/api/cards/{card.pk}/draft/").json()
    said = answer["text"]
    assert answer["language"] == "de"
    assert_german(said)
    assert said.startswith("Sie haben uns gesagt: Taucht beim Bremsen ein.")
    assert format_date(datetime.date.fromisoformat(card.next_service_on), "long", locale="de") in said
    assert "nach 30 Stunden" in said
    ureg = pint.UnitRegistry()
    for stage in ("received", "built"):
        for held in (invented.SETTINGS[stage]["front"]["legs"][0], invented.SETTINGS[stage]["rear"]):
            rate = ureg.Quantity(held["spring"]["rate_n_per_mm"], "N/mm").to("kilogram_force/mm").magnitude
            told = [float(text.replace(",", ".")) for text in re.findall(r"([\d,]+) kgf/mm", said)]
            assert any(value == pytest.approx(rate, rel=0.02) for value in told), rate
    assert not re.search(r"\d (mm|N/mm)\b", said)


@pytest.mark.django_db
def test_whoever_scans_the_code_reads_the_shops_language(german, german_shop):
    with translation.override("en"):
        answer = validity.validity(german.number, german.head)
    assert answer["language"] == "de"
    assert_german(answer["html"])
    assert "unverändert" in answer["html"]


@pytest.mark.django_db
def test_a_german_record_verifies_and_stays_german_when_the_shop_changes_its_language(german, german_shop):
    german_shop.language = "en"
    german_shop.save()
    assert verify_shop(german_shop).failure is None
    assert "Was gemacht wurde" in page.html(read(links_of(german.card)))


def test_a_record_from_before_there_were_languages_is_english_and_metric():
    documents = invented.documents()
    del documents.public["language"], documents.public["shown_in"]
    with translation.override("de"):
        said = page.html(sealed_of(documents))
    assert "Suspension record no. 12" in said
    assert "8.5 mm" in said
    assert " in (" not in said


@pytest.mark.django_db
@pytest.mark.parametrize("write", ["invitation", "new_password"])
def test_mails_are_in_the_readers_language(write, german_shop, technician):
    technician.shop = german_shop
    reader = InvitationFactory(shop=german_shop, made_by=technician) if write == "invitation" else technician
    with translation.override("en"):
        subject, text = getattr(letters, write)(reader, "https://shop.example/#/x/y")
    assert_german(f"{subject} {text}")
    assert "https://shop.example/#/x/y" in text


class TestUnits:
    """Against pint's own table of units."""

    ureg = pint.UnitRegistry()
    NAMES: ClassVar = {
        "mm": ("mm", "in", "inch"),
        "N/mm": ("N/mm", "lbf/in", "force_pound/inch"),
        "N·m": ("N*m", "lbf·ft", "force_pound*foot"),
        "kPa": ("kPa", "psi", "psi"),
        "cm³": ("cm**3", "fl oz", "US_fluid_ounce"),
        "kg": ("kg", "lb", "pound"),
        "N": ("N", "lbf", "force_pound"),
    }

    def converted(self, value, unit):
        metric, _, other = self.NAMES[unit]
        return self.ureg.Quantity(value, metric).to(other).magnitude

    @pytest.mark.parametrize("unit", NAMES)
    @pytest.mark.parametrize("value", [8.5, 36.5, 110, 612])
    def test_a_figure_is_converted_as_finely_as_it_was_and_the_metric_one_follows(self, unit, value):
        with figures.as_read("en", INCHES):
            said = figures.figure(value, unit).replace("\u00a0", " ")
        found = re.fullmatch(r"([\d.]+) (.+) \(([\d.]+) (.+)\)", said)
        assert (found[2], float(found[3]), found[4]) == (self.NAMES[unit][1], value, unit)
        decimals = len(found[1].partition(".")[2])
        assert float(found[1]) == pytest.approx(self.converted(value, unit), abs=0.501 * 10**-decimals)
        assert float(found[1]) == pytest.approx(self.converted(value, unit), rel=0.03)

    def test_a_value_that_was_typed_in_the_other_unit_comes_back_as_typed(self):
        with figures.as_read("en", INCHES):
            said = figures.figure(18 * FACTORS["torque"]["lbf·ft"], "N·m")
        assert said.replace("\u00a0", " ") == "18 lbf·ft (24.4 N·m)"

    @pytest.mark.parametrize("language", ["en", "de"])
    def test_a_sealed_sentence_is_told_in_the_readers_units(self, language):
        sentence = {
            "en": "1,234 N; sag 81.5 mm is over 68 to 78 mm, 2 clicks",
            "de": "1.234 N; 81,5 mm statt 68 bis 78 mm, 2 Klicks",
        }
        low, high, sag = (round(self.converted(value, "mm"), 2) for value in (68, 78, 81.5))
        with figures.as_read(language, INCHES):
            said = figures.retold(sentence[language])
        said = said.replace(",", ".") if language == "de" else said
        assert f"{low} {'to' if language == 'en' else 'bis'} {high} in" in said
        assert f"{sag} in" in said
        assert f"{self.converted(1234, 'N'):.1f} lbf" in said
        assert "mm" not in said
        assert re.search(r"2 (clicks|Klicks)", said)

    def test_two_rates_of_one_spring_are_both_converted(self):
        soft, hard = (f"{self.converted(rate, 'N/mm'):.1f}".removesuffix(".0") for rate in (4.4, 4.9))
        with figures.as_read("en", INCHES):
            assert figures.retold("as received: 4.4/4.9 N/mm dual") == f"as received: {soft}/{hard} lbf/in dual"

    def test_metric_readers_read_the_sentence_as_it_was_sealed(self):
        with figures.as_read("en", default_units()):
            assert figures.retold("rider sag 81.5 mm") == "rider sag 81.5 mm"


@pytest.mark.pdf
def test_an_imperial_shops_pdf_tells_every_figure_in_its_units_with_the_metric_one():
    sealed = sealed_of(invented.documents(paper="Letter", units=INCHES))
    content = pdf.render(sealed, ADDRESS)
    said = text_of(content)

    assert len(pypdf.PdfReader(io.BytesIO(content)).pages) <= 2
    ureg = pint.UnitRegistry()
    for line in sealed.record["torques"]:
        feet = ureg.Quantity(line["value_nm"], "N*m").to("force_pound*foot").magnitude
        assert f"{feet:.1f}".removesuffix(".0") + f" lbf·ft ({line['value_nm']:g} N·m)" in said
    rate = ureg.Quantity(52, "N/mm").to("force_pound/inch").magnitude
    assert f"{rate:.0f} lbf/in (52 N/mm)" in said
    assert "in brackets stand its own figures" in said
    # No length stands in millimetres alone (the pictures have a test of their own).
    outside = re.sub(r"<svg.*?</svg>", "", pdf.laid_out(sealed, ADDRESS), flags=re.DOTALL)
    assert not re.findall(r"(?<![(\d.±])(?<!±\s)(?<!to\s)\b[\d.]+\smm\b", outside)


def test_the_customer_switches_between_the_units_in_place():
    metric = sealed_of(invented.documents())
    other = page.html(sealed_of(invented.documents(units=INCHES))).replace("\u00a0", " ")
    own = page.html(metric)
    assert "Show in inches and pounds" in own
    assert "4 N/mm" in own
    assert "23 lbf/in (4 N/mm)" in other
    assert "Show in millimetres and newtons" in other
    assert "how many pounds of force it takes to press the spring in by one inch" in other


@pytest.mark.django_db
def test_an_estimate_is_asked_for_in_the_shops_language_with_its_signs(german_shop):
    card = JobCardFactory(shop=german_shop)
    lines = [{"kind": "labour", "text": "Gabel überholen", "amount_minor": 123456}]
    ask = EstimateAskFactory(card=card, lines=lines, currency="EUR")
    with translation.override("en"):
        answer = estimate_page.page_of(ask)
    assert answer["language"] == "de"
    assert_german(re.sub(r"<[^>]+>", " ", f"{answer['title']} {answer['html']}"))
    assert f"{format_decimal(1234.56, locale='de')} EUR" in answer["html"]

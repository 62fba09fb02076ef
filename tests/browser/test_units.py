"""What people type and read, in every unit.

Factors: the international inch of 25.4 mm and pound of 0.45359237 kg, standard gravity 9.80665 m/s² and the
pound-force that follows from them are exact by definition (NIST Special Publication 811, 2008 edition,
Appendix B.8).
"""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.factories import BikeFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

KGF = 9.80665
POUND = 0.45359237
INCH = 25.4
FORK_RATE = "leg_spring.rate_n_per_mm"


@pytest.fixture
def units(enter, technician):
    """Return a way to call a function of units.js in the page of a signed-in person."""
    page = enter(technician)

    def call(expression, *arguments):
        # The page's own is inside its pack; this one does not know yet who is here.
        load = """const store = await import("/static/js/store.js"), units = await import("/static/js/units.js");
            store.setPerson(store.lastPerson()); await units.loadUnits();"""
        return page.evaluate(f"async (given) => {{ {load} return ({expression})(...given); }}", list(arguments))

    return call


READ = "(text, quantity, band) => units.read(text, quantity, {band: band ? units.bandOf(band) : null})"


def test_a_decimal_comma_is_a_point(units):
    typed = {
        "4.6": 4.6, "4,6": 4.6, " 4.6 ": 4.6, "0,460": 0.46, "1.234,5": 1234.5, "1,234.5": 1234.5,
        "1 234.5": 1234.5, "−3": -3, "": None, "12,5": 12.5,
    }  # fmt: skip
    assert {each: units(READ, each, "length", None)["value"] for each in typed} == typed


def test_what_is_no_number_is_refused_with_what_was_read(units):
    for typed in ("four", "4.6.1", "1,2,3", "4..", "--4", "4 stone"):
        assert typed in units(READ, typed, "length", None)["problem"]


def test_a_comma_before_three_digits_is_asked_about(units):
    answer = units(READ, "1,000", "length", None)
    assert "1 or 1000" in answer["ask"]
    assert [choice["value"] for choice in answer["choices"]] == [1, 1000]


def test_a_unit_typed_behind_the_number_counts(units):
    for typed, quantity, metric in (
        ("0.47 kgf/mm", "rate", 0.47 * KGF),
        ("26 lbf/in", "rate", 26 * POUND * KGF / INCH),
        ("4.5in", "length", 4.5 * INCH),
        ("180 lb", "mass", 180 * POUND),
        ("2 bar", "pressure", 200),
    ):
        assert units(READ, typed, quantity, None)["value"] == pytest.approx(metric, rel=1e-9)


def test_a_slipped_decimal_point_is_a_question(units):
    answer = units(READ, "46", "rate", FORK_RATE)
    assert "did you mean 4.6 N/mm" in answer["ask"]
    values = [choice["value"] for choice in answer["choices"]]
    assert values[0] == pytest.approx(4.6)
    assert values[-1] == 46, "what was typed can be kept: a question is no block"


def test_a_value_that_fits_in_another_unit_is_a_question(units):
    for typed, unit, metric in (("0.47", "kgf/mm", 0.47 * KGF), ("26", "lbf/in", 26 * POUND * KGF / INCH)):
        answer = units(READ, typed, "rate", FORK_RATE)
        meant = {choice["text"]: choice["value"] for choice in answer["choices"]}
        assert meant[f"{typed} {unit}"] == pytest.approx(metric, rel=1e-9)


def test_steps_are_easy_to_count_in_every_unit(units):
    step = "(unit) => { units.chooseUnit('rate', unit); return units.stepOf(0.1, 'rate'); }"
    steps = {unit: units(step, unit) for unit in ("N/mm", "kgf/mm", "lbf/in")}
    assert steps == pytest.approx({"N/mm": 0.1, "kgf/mm": 0.01, "lbf/in": 0.5})


def test_every_unit_reads_back_what_it_shows(units):
    shown = units(
        """() => ["rate", "length", "mass", "volume", "pressure", "torque", "force"].flatMap((quantity) =>
        units.unitsOf(quantity).map((unit) => {
          units.chooseUnit(quantity, unit);
          const {text} = units.inUnit(123, quantity, {decimals: 9});
          return [unit, units.read(text, quantity).value];
        }))"""
    )
    assert len(shown) > 10
    for unit, value in shown:
        assert value == pytest.approx(123, rel=1e-6), unit


def test_touching_a_unit_changes_it_everywhere_and_for_good(enter, technician):
    bike = BikeFactory(business=technician.business)
    page = enter(technician, f"#/bikes/{bike.pk}")
    stroke = page.locator("dl.facts > div", has_text="Stroke")
    expect(stroke).to_contain_text("300 mm")
    with page.expect_response("**/api/session/units/") as sent:
        stroke.get_by_role("button").click()
    assert sent.value.ok
    inches = 300 / INCH
    expect(stroke).to_contain_text(f"{inches:.3f} in")
    expect(page.locator("dl.facts > div", has_text="Wheel travel")).to_contain_text(f"{inches:.3f} in")
    page.reload()
    expect(page.locator("dl.facts > div", has_text="Stroke")).to_contain_text(f"{inches:.3f} in")
    bike.refresh_from_db()
    assert bike.front["stroke_mm"] == 300, "what is stored stays metric"

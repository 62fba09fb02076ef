"""Load cases, damping to match, grip and ride: on a card, against statics and a closed form written anew."""

from __future__ import annotations

import math

import pytest

from setups.models import JobCard
from setups.record import document, layout, reading
from setups.record.gather import gather
from shops.access import everywhere
from shops.models import AuditEntry
from tests.factories import StockSpringFactory
from tests.setups import test_ahead
from tests.setups.technician import straight

pytestmark = pytest.mark.django_db
bench, weighed = test_ahead.bench, test_ahead.weighed
look, G = test_ahead.look, test_ahead.G
RATIO, GAS, UNSPRUNG = test_ahead.RATIO, test_ahead.GAS, test_ahead.UNSPRUNG
PILLION = {"label": "pillion", "mass_kg": 70, "rear_share": 0.8}
LUGGAGE = {"label": "luggage", "mass_kg": 20, "rear_share": 1.1}


def keep(bench, *cases):
    version = bench.client.get(bench.address).json()["version"]
    return bench.client.patch(bench.address, {"cases": list(cases)}, HTTP_IF_MATCH=f'"{version}"')


def fit(bench, rate, preload=5):
    spring = StockSpringFactory(shop=bench.shop, end="rear", spring=straight(rate))
    answer = bench.client.post(
        f"{bench.address}fit/", {"end": "rear", "stock_spring": spring.pk, "preload_mm": preload}
    )
    assert answer.status_code == 200, answer.content


# Load cases ---------------------------------------------------------------------------------------


def test_each_case_needs_the_preload_that_statics_gives(weighed):
    assert keep(weighed, PILLION, LUGGAGE).status_code == 200
    fit(weighed, 80)
    found = look(weighed, "cases")
    assert found["stage"] == "chosen"
    assert [row["label"] for row in found["cases"]] == ["rider alone", "pillion", "luggage"]
    aim = sum(test_ahead.targets(weighed)["rider_sag_mm"]) / 2
    for row, added in zip(found["cases"], (0, 0.8 * 70, 1.1 * 20), strict=True):
        force = (112 + added - UNSPRUNG) * G
        preload = (force * RATIO - GAS) / 80 - aim / RATIO
        assert row["preload_mm"] == pytest.approx(preload, abs=0.01)
        held = min(max(preload, 0), 25)
        assert row["set_to_mm"] == pytest.approx(held, abs=0.01)
        assert row["reached"] is (held == preload)
        assert row["rider_sag_mm"] == pytest.approx(RATIO * ((force * RATIO - GAS) / 80 - held), abs=0.01)


def test_what_lies_behind_the_rear_axle_takes_load_off_the_front(weighed):
    keep(weighed, LUGGAGE)
    solo, luggage = look(weighed, "cases", "front")["cases"]
    assert luggage["preload_mm"] < solo["preload_mm"]


def test_the_cases_are_kept_with_the_card_and_out_of_the_trail(weighed):
    answer = keep(weighed, PILLION)
    assert answer.json()["cases"] == [PILLION]
    line = everywhere(AuditEntry, why="this test").filter(verb="change card").order_by("-pk").first()
    assert line.after == {"cases": "(personal)"}


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"mass_kg": 2500}, "cases.0.mass_kg"),
        ({"mass_kg": 0}, "cases.0.mass_kg"),
        ({"rear_share": 80}, "cases.0.rear_share"),
        ({"label": " "}, "cases.0.label"),
    ],
)
def test_a_case_that_cannot_be_is_refused_and_nothing_kept(weighed, changed, field):
    answer = keep(weighed, {**PILLION, **changed})
    assert answer.status_code == 400
    assert [problem["field"] for problem in answer.json()["problems"]] == [field]
    assert everywhere(JobCard, why="this test").get(pk=weighed.card.pk).cases == []


def test_two_cases_of_one_name_are_refused(weighed):
    answer = keep(weighed, PILLION, {**PILLION, "label": "Pillion"})
    assert answer.json()["problems"][0]["code"] == "named_twice"


def test_without_loads_nothing_is_said_but_what_is_missing(bench):
    found = look(bench, "cases")
    assert (found["cases"], found["text"]) == ([], None)
    assert found["missing"] == ["load of the bike alone at the rear axle"]


def test_the_record_says_the_preloads_and_only_commits_to_the_mass(weighed):
    keep(weighed, PILLION)
    fit(weighed, 80)
    weighed.client.post(f"{weighed.address}as-built/", {"end": "rear"})
    card = everywhere(JobCard, why="this test").get(pk=weighed.card.pk)
    heading = document.Heading(number=1, sealed_at="2026-01-05T08:00:00Z", sealed_by="Odo Fenwright")
    frozen = document.build(gather(card), heading)
    [added] = frozen.public["load_cases"]["added"]
    assert added["mass_kg"] not in (None, 70)
    assert any(one.value == 70 for one in frozen.personal)
    wanted = look(weighed, "cases")["cases"]
    kept = {one.path: one.value for one in frozen.personal}
    said = layout.load_cases(reading.filled(frozen.public, "public", kept))
    assert len(said) == 2  # the rear is built; the front is not
    halves = round(2 * wanted[1]["set_to_mm"]) / 2  # as a collar is set: common practice, no source
    assert f"pillion: {layout.typed(halves)} mm of preload" in said[1]


def test_a_record_from_before_there_were_load_cases_says_nothing_of_them():
    assert layout.load_cases({}) == []


# Damping to match ---------------------------------------------------------------------------------


def test_a_stiffer_wheel_wants_more_rebound_by_the_square_root(weighed):
    fit(weighed, 64)
    side = weighed.client.get(f"{weighed.address}sides/").json()["chosen"]["rear"]
    assert side["damping"]["percent"] == pytest.approx(100 * (math.sqrt(64 / 52) - 1), abs=0.05)
    assert "about 11 % more rebound" in side["damping"]["text"]
    assert "starting point" in side["damping"]["text"]


@pytest.mark.parametrize(("rate", "word"), [(52, None), (52.5, None), (44, "less")])
def test_the_same_wheel_rate_wants_nothing_and_a_softer_less(weighed, rate, word):
    fit(weighed, rate)
    damping = weighed.client.get(f"{weighed.address}sides/").json()["chosen"]["rear"]["damping"]
    assert damping is None if word is None else f"% {word} rebound" in damping["text"]


def test_what_is_being_tried_says_it_too(weighed):
    body = weighed.client.get(weighed.address).json()["settings"]["received"]["rear"]["body"]
    body["spring"] = straight(64)
    tried = weighed.client.post(f"{weighed.address}preview/", {"rear": {"body": body}, "against": "received"})
    assert "more rebound" in tried.json()["rear"]["damping"]["text"]
    assert weighed.received("rear")["damping"] is None


# Grip and ride ------------------------------------------------------------------------------------


def closed_form(m_s, m_u, k, c, k_t, intensity):
    """Mean squares of a quarter car on a white-noise road velocity of two-sided intensity S: acceleration and travel.

    The textbook integrals for a quarter car (A. Hac, ASME J. Dyn. Sys. Meas. Control 107 (1985), from memory).
    """
    acceleration = intensity * (k_t * c / (2 * m_s**2) + (m_s + m_u) * k**2 / (2 * c * m_s**2))
    travel = intensity * (m_s + m_u) / (2 * c)
    return math.sqrt(acceleration), math.sqrt(travel)


def test_the_ride_is_that_of_the_cards_own_masses_and_rates(weighed):
    fit(weighed, 64)
    given = {"end": "rear", "road_class": "C", "speed_km_per_h": 72, "tyre_rate_n_per_mm": 150, "damping_ratio": 0.35}
    found = weighed.client.post(f"{weighed.address}ride/", given).json()
    m_s, m_u = 112 - UNSPRUNG, UNSPRUNG
    rates = {state: rate / RATIO**2 * 1000 for state, rate in (("before", 52), ("after_matched_damping", 64))}
    intensity = (2 * math.pi * 0.1) ** 2 * 256e-6 * 20 / 2  # ISO 8608 class C (one-sided) at 20 m/s
    for state, k in rates.items():
        c = 2 * 0.35 * math.sqrt(k * m_s)
        acceleration, travel = closed_form(m_s, m_u, k, c, 150e3, intensity)
        assert found[state]["acceleration_m_per_s2"] == pytest.approx(acceleration, rel=1e-4)
        assert found[state]["travel_mm"] == pytest.approx(travel * 1000, rel=1e-4)
    assert found["assumed"] == []


def test_what_nobody_gave_is_named_as_assumed(weighed):
    fit(weighed, 64)
    assert look(weighed, "ride")["assumed"] == ["road_class", "speed_km_per_h", "tyre_rate_n_per_mm", "damping_ratio"]


def test_without_a_change_there_is_nothing_to_compare(weighed, bench):
    found = look(weighed, "ride")
    assert (found["before"], found["missing"]) == (None, ["a chosen or built setting to compare with"])


def test_a_road_that_is_no_class_is_refused(weighed):
    answer = weighed.client.post(f"{weighed.address}ride/", {"end": "rear", "road_class": "H"})
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["field"] == "road_class"

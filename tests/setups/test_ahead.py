"""Looks ahead of a card: whom a spring suits, the room for rate and preload, how sure it is.

The statics are written anew for a rear of one leverage ratio: F = (k (p + s/λ) + gas)/λ at the wheel.
"""

from __future__ import annotations

import io
import re
from copy import deepcopy

import pypdf
import pytest

from setups.ahead import wall
from setups.bodies import received_body
from tests.factories import StockSpringFactory, front_data, rear_data
from tests.setups.technician import Bench, straight

pytestmark = pytest.mark.django_db
G = 9.80665  # standard gravity, CGPM 1901
RATIO, GAS, UNSPRUNG, ALONE = 2.9, 250.0, 22.0, 57.0


@pytest.fixture
def bench(technician_client, shop):
    return Bench(technician_client, shop)


@pytest.fixture
def weighed(bench):
    """Return the bench with the bike weighed at both axles, its settings as received noted."""
    for end, alone, ridden in (("front", 58, 88), ("rear", ALONE, 112)):
        assert bench.readings(end, axle_alone_kg=alone, axle_rider_kg=ridden).status_code == 200
        data = front_data() if end == "front" else rear_data()
        body = received_body(data, end)
        answer = bench.client.put(f"{bench.address}settings/received/{end}/", body, HTTP_IF_NONE_MATCH="*")
        assert answer.status_code == 200, answer.content
    return bench


def look(bench, name, end="rear"):
    answer = bench.client.post(f"{bench.address}{name}/", {"end": end})
    assert answer.status_code == 200, answer.content
    return answer.json()


def targets(bench):
    return bench.client.get(bench.address).json()["targets"]["rear"]


def wheel_force(rate, preload, sag):
    return (rate * (preload + sag / RATIO) + GAS) / RATIO


# Whom a spring suits ------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [52, 64, 80])
def test_a_band_ends_where_statics_says(weighed, rate):
    """The static band's edges bound the preload, the adjuster too; the rider's load follows at the rider band's."""
    StockSpringFactory(shop=weighed.shop, end="rear", spring=straight(rate), free_length_mm=250)
    aims = targets(weighed)
    preloads = [
        ((ALONE - UNSPRUNG) * G * RATIO - GAS) / rate - aims["static_sag_mm"][edge] / RATIO for edge in (1, 0)
    ]
    least, most = max(preloads[0], 0), min(preloads[1], 25)
    found = look(weighed, "suits")
    rung = next(one for one in found["bands"] if one["label"].startswith(f"{rate} N/mm"))
    if least > most:
        assert rung["rider_mass_kg"] is None
        assert rung["why"]
        return
    share = (112 - ALONE) / 88  # the rider of the factory weighs 88 kg
    masses = [
        (wheel_force(rate, preload, sag) / G + UNSPRUNG - ALONE) / share
        for preload, sag in zip((least, most), aims["rider_sag_mm"], strict=True)
    ]
    assert rung["rider_mass_kg"] == pytest.approx(masses, abs=0.01)
    assert rung["preload_mm"] == pytest.approx([least, most], abs=0.001)
    assert found["share"] == pytest.approx(share, abs=1e-4)
    assert found["share_from"] == "measured"


def test_the_spring_in_the_bike_and_the_one_chosen_are_marked(weighed):
    stiff = StockSpringFactory(shop=weighed.shop, end="rear", spring=straight(64), sort_rate_n_per_mm=64)
    fitted = weighed.client.post(f"{weighed.address}fit/", {"end": "rear", "stock_spring": stiff.pk, "preload_mm": 5})
    assert fitted.status_code == 200
    found = look(weighed, "suits")
    assert {where: one["label"] for one in found["bands"] for where in one["where"]} == {
        "in the bike": "52 N/mm •",
        "chosen": "64 N/mm ◆",
    }
    assert "52 N/mm (in the bike)" in found["present"]
    assert found["svg"].count("pic-rung") == sum(one["rider_mass_kg"] is not None for one in found["bands"])


def test_without_the_scales_the_share_is_assumed_and_said_so(bench):
    bench.readings("rear", axle_alone_kg=57)
    found = look(bench, "suits")
    assert (found["share"], found["share_from"]) == (0.65, "assumed")
    assert "assumed, common practice" in found["basis"]


def test_a_spring_that_does_not_go_in_is_left_out_and_counted(weighed):
    StockSpringFactory(shop=weighed.shop, end="rear", spring=straight(60), inner_diameter_mm=40)
    StockSpringFactory(shop=weighed.shop, end="rear", spring=straight(62), inner_diameter_mm=60)
    found = look(weighed, "suits")
    assert [one["label"] for one in found["bands"] if not one["where"]] == ["62 N/mm"]
    assert next(note for note in found["notes"] if note["code"] == "left_out")["value"] == 1


def test_springs_of_one_rate_and_band_share_a_rung(weighed):
    for code in ("A", "B"):
        StockSpringFactory(shop=weighed.shop, end="rear", code=code, spring=straight(66))
    rungs = [one for one in look(weighed, "suits")["bands"] if one["label"] == "66 N/mm"]
    assert [one["codes"] for one in rungs] == [["A", "B"]]


def test_a_straight_spring_is_compared_with_nothing_and_an_uneven_one_for_two_riders(weighed):
    assert look(weighed, "suits")["riders"] == []
    body = received_body(rear_data(), "rear")
    body["spring"] = {"kind": "progressive", "start_n_per_mm": 50, "end_n_per_mm": 90, "over_mm": 80}
    saved = weighed.client.put(f"{weighed.address}settings/received/rear/", body, HTTP_IF_MATCH='"1"')
    assert saved.status_code == 200
    light, heavy = look(weighed, "suits")["riders"]
    assert (light["rider_kg"], heavy["rider_kg"]) == (60, 100)
    assert light["straight"]["rate_n_per_mm"] < heavy["straight"]["rate_n_per_mm"]
    # Set to the same rider sag, one spring leaves the light rider the softer wheel, less than a chosen one would.
    assert light["fitted"]["wheel_rate_n_per_mm"] < heavy["fitted"]["wheel_rate_n_per_mm"]


@pytest.mark.parametrize("name", ["suits", "window"])
def test_what_is_missing_is_named_instead_of_a_picture(bench, name):
    found = look(bench, name)
    assert found["svg"] is None
    assert found["missing"] == ["load of the bike alone at the rear axle"]
    found = bench.client.post(f"{bench.address}{name}/", {"end": "side"})
    assert found.status_code == 400


# The wall -----------------------------------------------------------------------------------------


@pytest.mark.pdf
@pytest.mark.parametrize("springs", [1, 30])
def test_the_wall_sheet_is_one_page_without_a_person(weighed, springs):
    for number in range(springs):
        StockSpringFactory(shop=weighed.shop, end="rear", spring=straight(54 + number), free_length_mm=250)
    answer = weighed.client.get(f"{weighed.address}ladder/rear.pdf")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    pages = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    said = " ".join(pages[0].extract_text().split())
    assert len(pages) == 1
    assert "Shock springs over rider mass" in said
    assert "54 N/mm" in said
    for personal in (weighed.customer.name, "88 kg", "this rider", weighed.card.bike.plate):
        assert personal not in said


def test_there_is_no_wall_sheet_of_nothing(bench):
    answer = bench.client.get(f"{bench.address}ladder/rear.pdf")
    assert answer.status_code == 400
    assert "load of the bike alone" in answer.json()["problems"][0]["text"]
    assert bench.client.get(f"{bench.address}ladder/side.pdf").status_code == 400


def test_a_name_is_escaped_on_the_wall(weighed, monkeypatch):
    weighed.shop.name = "<b>Yard</b>"
    weighed.shop.save()
    page = wall.wall_html(weighed.card, "rear", weighed.card.opened_at.date())
    assert "&lt;b&gt;Yard&lt;/b&gt;" in page
    assert "<b>Yard" not in page


# Rate or preload ----------------------------------------------------------------------------------


def test_the_room_holds_what_statics_says(weighed):
    found = look(weighed, "window")
    aims = targets(weighed)
    assert found["rows"]
    for row in found["rows"]:
        for preload, worse in ((row["least_preload_mm"], 1), (row["most_preload_mm"], 0)):
            rate, forces = row["rate_n_per_mm"], [(load - UNSPRUNG) * G for load in (ALONE, 112)]
            sags = [RATIO * ((force * RATIO - GAS) / rate - preload) for force in forces]
            for sag, key in zip(sags, ("static_sag_mm", "rider_sag_mm"), strict=True):
                assert aims[key][0] - 0.01 <= sag <= aims[key][1] + 0.01
            # At either end something has been reached: a sag's edge, or the adjuster's.
            keys = ("static_sag_mm", "rider_sag_mm")
            reached = [abs(sag - aims[key][worse]) for sag, key in zip(sags, keys, strict=True)]
            assert min(*reached, abs(preload - (0, 25)[1 - worse])) < 0.05
    low, high = found["rates_n_per_mm"]
    assert f"{low:.3g} to {high:.3g} N/mm" in found["text"]


def test_the_spring_in_the_bike_stands_in_the_picture(weighed):
    found = look(weighed, "window")
    assert "as received: 52 N/mm, 7 mm preload." in found["svg"]
    [circle] = re.findall(r'<circle class="pic-open pic-mark"[^>]*>', found["svg"])
    at = {name: float(value) for name, value in re.findall(r'data-([\w-]+)="([-\d.]+)"', found["svg"])}
    x, y = (float(re.search(rf'{name}="([\d.]+)"', circle)[1]) for name in ("cx", "cy"))
    rate = at["rate-min"] + (x - at["x0"]) / (at["x1"] - at["x0"]) * (at["rate-max"] - at["rate-min"])
    preload = at["preload-max"] - (y - at["y0"]) / (at["y1"] - at["y0"]) * (at["preload-max"] - at["preload-min"])
    assert (rate, preload) == (pytest.approx(52, abs=0.2), pytest.approx(7, abs=0.1))


def test_without_an_adjuster_the_room_says_what_it_shows(weighed):
    bike = weighed.card.bike
    bike.rear = {**bike.rear, "adjuster_mm": None}
    bike.save()
    found = look(weighed, "window")
    assert 'data-preload-max="40"' in found["svg"]
    assert "no_adjuster" in [note["code"] for note in found["notes"]]


# In the reader's units ----------------------------------------------------------------------------

IMPERIAL = {"rate": "lbf/in", "length": "in", "mass": "lb", "force": "lbf"}
LBF_PER_IN = 4.4482216152605 / 25.4  # N/mm; the pound of 1959 times standard gravity, over an inch
LB = 0.45359237
METRIC_FIGURE = re.compile(r"\d\s(N/mm|mm|kg|N)\b")


@pytest.fixture
def imperial(weighed, technician):
    technician.units = {**technician.units, **IMPERIAL}
    technician.save()
    return weighed


def ticks_below(svg):
    """Return the picture's box, and of the numbers under its axis the place and the value."""
    found = re.findall(r'<text class="pic-tick" x="([\d.]+)"[^>]*>([^<]+)<', svg)
    assert found
    box = {name: float(value) for name, value in re.findall(r'data-([\w-]+)="([-\d.]+)"', svg)}
    return box, [(float(x), float(text)) for x, text in found if float(x) >= box["x0"]]


def test_the_room_is_drawn_and_worded_in_the_readers_units(imperial):
    found = look(imperial, "window")
    svg = found["svg"]
    assert "Preload, in" in svg
    assert "Rate, lbf/in" in svg
    assert not METRIC_FIGURE.search(" ".join(re.findall(">([^<]+)<", svg)))
    assert "lbf/in" in found["text"]
    box, below = ticks_below(svg)
    wide = (box["rate-max"] - box["rate-min"]) / (box["x1"] - box["x0"])
    assert len(below) > 2
    for x, rate in below[1:-1]:  # the outermost are moved to stay inside
        assert rate * LBF_PER_IN == pytest.approx(box["rate-min"] + (x - box["x0"]) * wide, abs=wide)
    # What is computed stays metric.
    assert found["rates_n_per_mm"] == look_metric(imperial)["rates_n_per_mm"]


def look_metric(bench):
    person = bench.card.opened_by
    person.refresh_from_db()
    person.units = {}
    person.save()
    return look(bench, "window")


def test_the_ladder_is_drawn_and_worded_in_the_readers_units(imperial):
    found = look(imperial, "suits")
    svg = found["svg"]
    assert "Rider in full kit, lb" in svg
    assert "this rider 194 lb" in svg  # 88 kg
    for text in (" ".join(re.findall(">([^<]+)<", svg)), found["present"], found["basis"]):
        assert not METRIC_FIGURE.search(text), text
    ends = {float(text) for text in re.findall(r'<text class="pic-sag"[^>]*>([^<]+)<', svg)}
    masses = [mass for band in found["bands"] for mass in band["rider_mass_kg"] or []]
    assert ends
    assert ends <= {round(mass / LB) for mass in masses}, "a rung's ends are numbered as the axis is"
    box, below = ticks_below(svg)
    wide = (box["mass-max"] - box["mass-min"]) / (box["x1"] - box["x0"])
    assert len(below) > 2
    for x, mass in below[1:-1]:
        assert mass * LB == pytest.approx(box["mass-min"] + (x - box["x0"]) * wide, abs=wide)


def test_the_wall_speaks_the_units_of_the_shop(weighed):
    weighed.shop.units = {**weighed.shop.units, **IMPERIAL}
    weighed.shop.save()
    weighed.card.shop.refresh_from_db()
    page = wall.wall_html(weighed.card, "rear", weighed.card.opened_at.date())
    assert "Rider in full kit, lb" in page
    assert not METRIC_FIGURE.search(" ".join(re.findall(">([^<]+)<", page)))


@pytest.mark.parametrize("name", ["cases", "ride"])
def test_what_else_looks_ahead_says_no_metric_figure(imperial, name):
    answer = look(imperial, name)
    assert not METRIC_FIGURE.search(str([note["text"] for note in answer["notes"]] + [answer.get("text")]))


# How sure -----------------------------------------------------------------------------------------


def sure(bench, stage="received", end="rear"):
    answer = bench.client.get(f"{bench.address}sure/")
    assert answer.status_code == 200, answer.content
    return answer.json()[stage][end]


def test_every_figure_lies_in_its_interval_and_the_shares_add_up(weighed):
    found = sure(weighed)["computed"]
    side = weighed.received("rear")["result"]
    for key in ("static_sag_mm", "rider_sag_mm", "wheel_rate_n_per_mm"):
        assert found[key]["low"] < found[key]["value"] < found[key]["high"]
        assert found[key]["value"] == pytest.approx(side[key], rel=1e-4)
        assert sum(row["share"][key] or 0 for row in found["inputs"]) == pytest.approx(1, abs=1e-4)


def test_the_wheel_rates_interval_is_that_of_spring_and_leverage(weighed):
    """k r² of a rate off by a rectangular 8 % and a ratio off by 6 %: standard uncertainties add in squares."""
    found = sure(weighed)["computed"]["wheel_rate_n_per_mm"]
    expected = 52 / RATIO**2 * (0.08**2 + (2 * 0.06) ** 2) ** 0.5
    assert found["u"] == pytest.approx(expected, rel=0.05)  # linear propagation against a sample of 2000


def test_where_a_figure_comes_from_widens_or_narrows_its_interval(weighed):
    before = sure(weighed)["computed"]
    assert {row["field"]: row["from"] for row in before["inputs"]}["load_rider_kg"] == "measured"
    body = received_body(rear_data(), "rear")
    body["sources"] = {key: {"from": "measured"} for key in ("spring", "preload_mm", "gas_force_n")}
    weighed.client.put(f"{weighed.address}settings/received/rear/", body, HTTP_IF_MATCH='"1"')
    after = sure(weighed)["computed"]
    assert after["rider_sag_mm"]["u"] < before["rider_sag_mm"]["u"]
    assert {row["field"]: row["from"] for row in after["inputs"]}["spring"] == "measured"
    assert "Measure wheel against shock travel" in after["next_reading"]["text"]


def test_a_sag_that_was_read_has_the_tapes_interval(weighed):
    """Free length, and the mean of two readings, each ± 1 mm: u = √(1 + 1/2), and 1.96 of it either side."""
    taken = weighed.readings("rear", wheel_free_mm=640, rider_from_above_mm=548, rider_from_below_mm=538)
    assert taken.status_code == 200
    found = sure(weighed)["measured"]
    assert found["static_sag_mm"] is None
    assert found["rider_sag_mm"]["low"] == pytest.approx(97 - 1.96 * 1.5**0.5, abs=1e-3)
    assert found["rider_sag_mm"]["high"] == pytest.approx(97 + 1.96 * 1.5**0.5, abs=1e-3)


def test_nothing_is_said_to_be_sure_of_what_is_not_there(bench):
    found = bench.client.get(f"{bench.address}sure/").json()
    assert found == {stage: {"front": None, "rear": None} for stage in ("received", "chosen", "built")}


def test_what_will_be_set_counts_as_read_at_the_setting(weighed):
    spring = StockSpringFactory(shop=weighed.shop, end="rear", spring=straight(64), sort_rate_n_per_mm=64)
    weighed.client.post(f"{weighed.address}fit/", {"end": "rear", "stock_spring": spring.pk, "preload_mm": 5})
    found = {row["field"]: row["from"] for row in sure(weighed, "chosen")["computed"]["inputs"]}
    assert (found["spring"], found["preload_mm"]) == ("stamped", "measured")


def test_a_sister_shop_reads_the_looks_and_changes_nothing(weighed, sister_technician_client):
    before = deepcopy(weighed.kept())
    for name in ("suits", "window"):
        assert sister_technician_client.post(f"{weighed.address}{name}/", {"end": "rear"}).status_code == 200
    assert weighed.kept() == before

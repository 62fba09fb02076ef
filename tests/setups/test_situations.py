"""What is said of bikes as they stand in a workshop, read as a technician would: the sentence and what to do.

The rules are the trade's (common practice, no source). Rear: 300 mm of travel, 2.9 to 1, bands 24 to 42 mm
static and 90 to 105 mm with the rider.
"""

from __future__ import annotations

import pytest

from tests.setups.technician import Bench, straight

LOADS = {"axle_alone_kg": 57, "axle_rider_kg": 112}
WHEEL_FREE = {"wheel_free_mm": 640}


def lengths(static, rider):
    """Return the readings of two sags in mm, each pair 6 mm apart."""
    pairs = {"alone": 640 - static, "rider": 640 - rider}
    read = {f"{who}_from_above_mm": length + 3 for who, length in pairs.items()}
    return {**WHEEL_FREE, **read, **{f"{who}_from_below_mm": length - 3 for who, length in pairs.items()}}


# name: rate, preload, readings, code, words that the sentence holds
SITUATIONS = {
    # 57 kg less 22 unsprung need 35·9.81·2.9 = 995 N at the shock; 22 mm at 42 N/mm and the gas give 1174.
    "a soft spring wound far up": (42, 22, LOADS, "too_soft", ["living on preload", "static sag 0 mm", "stiffer"]),
    "a stiff spring with no preload": (90, 0, LOADS, "too_stiff", ["softer spring"]),
    "a right spring with too little preload": (58, 0.5, LOADS, "wind_preload", ["wind on"]),
    "a right spring with too much preload": (62, 10, LOADS, "back_off_preload", ["back off"]),
    "a spring that does not carry the rider": (20, 10, LOADS, "too_soft", ["300 mm", "stiffer spring"]),
    "measured well, computed otherwise": (
        42,
        7,
        LOADS | lengths(33, 95),
        "suits",
        ["95 mm", "33 mm", "measured and computed sags differ: find out why first"],
    ),
    "no loads, both sags read": (52, 7, lengths(30, 120), "too_soft", ["rider sag 120 mm", "stiffer"]),
    "no loads, preload wanted": (52, 7, lengths(45, 115), "wind_preload", ["wind on", "static sag comes to"]),
    # Back off 22.5 mm of sag at 2.9 to 1, 7.8 mm: but only 2 mm are there.
    "no loads, more to back off than there is": (
        52,
        2,
        lengths(10, 70),
        "too_stiff",
        ["even with the preload backed right off"],
    ),
    "no loads, topped out": (
        52,
        7,
        {**WHEEL_FREE, "alone_from_above_mm": 640, "rider_from_above_mm": 580},
        "unknown",
        ["rider sag 60 mm is under 90 to 105 mm", "nobody can tell"],
    ),
    "no loads, nothing read": (52, 7, {}, "unknown", ["read the sags"]),
    "one reading of the rider": (
        52,
        7,
        {**WHEEL_FREE, "rider_from_above_mm": 545},
        "unknown",
        ["rider sag 95 mm is in band", "read the static sag"],
    ),
    "one reading of the bike alone": (
        52,
        7,
        {**WHEEL_FREE, "alone_from_above_mm": 605},
        "unknown",
        ["static sag reads 35 mm", "rider sag is not known"],
    ),
}


@pytest.fixture
def bench(technician_client, shop):
    made = Bench(technician_client, shop)
    made.card.rider = None
    made.card.save()
    return made


@pytest.mark.parametrize("name", SITUATIONS)
def test_the_sentence_says_what_is_wrong_and_what_to_do(bench, name):
    rate, preload, readings, code, said = SITUATIONS[name]
    if readings:
        assert bench.readings("rear", **readings).status_code == 200
    answer = bench.setting("rear", "preload_mm", preload)
    assert answer.status_code == 200, answer.content
    body = answer.json()["settings"]["received"]["rear"]["body"] | {"spring": straight(rate)}
    bench.client.put(f"{bench.address}settings/received/rear/", body, HTTP_IF_MATCH='"1"')
    verdict = bench.received("rear")["verdict"]
    assert verdict["code"] == code, verdict["text"]
    for words in said:
        assert words in verdict["text"], verdict["text"]
    assert verdict["text"].endswith(".")
    assert ". " not in verdict["text"]


def test_an_assumed_share_of_the_rider_is_said_in_the_sentence(technician_client, shop):
    bench = Bench(technician_client, shop)
    bench.readings("rear", axle_alone_kg=57)
    bench.setting("rear", "preload_mm", 7)
    assert "the rider's share of the load is assumed" in bench.received("rear")["verdict"]["text"]
    bench.readings("rear", axle_rider_kg=112)
    assert "assumed" not in bench.received("rear")["verdict"]["text"]

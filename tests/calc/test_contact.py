"""What `contact` says and refuses."""

import pytest

from calc.contact import contact
from calc.refusal import Refusal


def test_an_unknown_road_is_refused():
    states = {"before": {"wheel_rate_n_per_mm": 10, "damping_ratio": 0.4}, "after": {"wheel_rate_n_per_mm": 12}}
    bike = {"sprung_kg": 90, "unsprung_kg": 22, "tyre_rate_n_per_mm": 120, "speed_km_per_h": 60}
    with pytest.raises(Refusal, match="road class 'H'"):
        contact({**bike, **states, "road_class": "H"})


def test_the_notes_say_which_way_it_went():
    request = {
        "sprung_kg": 160,
        "unsprung_kg": 17,
        "tyre_rate_n_per_mm": 150,
        "speed_km_per_h": 72,
        "road_class": "C",
        "before": {"wheel_rate_n_per_mm": 18, "damping_ratio": 0.35},
        "after": {"wheel_rate_n_per_mm": 24},
    }
    answer = contact(request)
    held = next(note["text"] for note in answer["notes"] if note["code"] == "tyre_load")
    grown = answer["after_matched_damping"]["tyre_load_n"] > answer["before"]["tyre_load_n"]
    assert ("worse" in held) == grown
    assert any("about 15 % more damping" in note["text"] for note in answer["notes"])  # √(24/18) − 1


def test_every_number_outside_its_band_is_named():
    request = {
        "sprung_kg": 1600,
        "unsprung_kg": 17,
        "tyre_rate_n_per_mm": 150,
        "speed_km_per_h": 0,
        "road_class": "C",
        "before": {"wheel_rate_n_per_mm": 18, "damping_ratio": 0},
        "after": {"wheel_rate_n_per_mm": 2000},
    }
    with pytest.raises(Refusal) as caught:
        contact(request)
    assert {problem.field for problem in caught.value.problems} == {
        "sprung_kg",
        "speed_km_per_h",
        "before.damping_ratio",
        "after.wheel_rate_n_per_mm",
    }

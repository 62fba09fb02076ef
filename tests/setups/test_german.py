"""What a German person is told: in German, every number the same, with a decimal comma.

The same call is made in both languages. What says something in English says something else in German, with the same
numbers in it: so much holds of any translation, whoever wrote it.
"""

from __future__ import annotations

import re
from collections import Counter

import pytest
from django.utils import translation

from setups import cautions
from setups.models import TorqueLine
from shops.access import everywhere
from tests.sample import FRONT, REAR, fork
from tests.setups.technician import Bench

pytestmark = pytest.mark.django_db
TEXTS = ("text", "label", "what", "why", "statement", "step_label", "part_label")
SIGNAL_WORDS = {"DANGER": "GEFAHR", "WARNING": "WARNUNG", "CAUTION": "VORSICHT", "NOTICE": "HINWEIS"}
"""ANSI Z535.6 and its German counterparts in ISO 3864-2 (both from memory)."""
SAME = {"Enduro", "Motocross"}


def numbers(text, decimal):
    """Return how often each number stands in `text`, whatever the order."""
    return Counter(found.replace(decimal, ".") for found in re.findall(rf"\d+(?:{re.escape(decimal)}\d+)?", text))


def sentences(answer):
    """Yield every text for people in an answer, in its order."""
    if isinstance(answer, dict):
        for key, value in answer.items():
            if key in TEXTS and isinstance(value, str) and value:
                yield value
            elif key == "missing" and value:
                yield from value
            else:
                yield from sentences(value)
    elif isinstance(answer, list):
        for value in answer:
            yield from sentences(value)


@pytest.fixture
def in_both(client_for, technician):
    """Return a caller that sends one request twice, once in each language."""
    client = client_for(technician)

    def called(method, address, body=None, **headers):
        answers = []
        for code in ("en", "de"):
            technician.language = code
            technician.save()
            answer = getattr(client, method)(address, body, **headers)
            assert answer["Content-Language"] == code
            answers.append(answer)
        return answers

    return called


def compared(answers, at_least=1):
    english, german = ([*sentences(answer.json())] for answer in answers)
    assert len(english) == len(german) >= at_least
    for one, other in zip(english, german, strict=True):
        assert numbers(one, ".") == numbers(other, ","), (one, other)
        if " " in one and any(map(str.isalpha, re.sub(r"N/mm|mm|kg", "", one))):
            assert one != other
    return english, german


CALCULATED = {
    "evaluate": {"front": FRONT, "rear": {**REAR, "preload_mm": -2}},
    "needed": {
        "front": {**FRONT, "target_static_sag_mm": 30.5, "target_rider_sag_mm": 75},
        "rear": {**REAR, "target_static_sag_mm": 32, "target_rider_sag_mm": 98.5},
    },
    "choose": {
        "rear": REAR,
        "springs": [
            {"id": rate, "label": "spring", "spring": {"kind": "straight", "rate_n_per_mm": rate}}
            for rate in (41.5, 52, 80)
        ],
        "target_static_sag_mm": [25, 40],
        "target_rider_sag_mm": [92, 108],
    },
    "coil": {
        "wire_mm": 4.5, "mean_diameter_mm": 40, "active_turns": 10, "total_turns": 12,
        "ends": "closed_ground", "material": "titanium", "free_length_mm": 250, "force_n": 2000,
    },
    "tester": {"deflection_mm": [10, 20, 30], "force_n": [46.5, 93, 139.5], "stamped_n_per_mm": 5.5},
    "sag": {"end": "rear", "wheel_free_mm": 600, "alone_from_above_mm": 570.5, "rider_from_above_mm": 505},
    "leverage": {"use": "curve", "leverage": REAR["leverage"], "wheel_travel_mm": 300},
}
REFUSED = {
    "a slipped decimal": ("evaluate", {"rear": {**REAR, "spring": {"kind": "straight", "rate_n_per_mm": 0.45}}}),
    "a text for a number": ("evaluate", {"rear": {**REAR, "preload_mm": "ten"}}),
    "nothing at all": ("evaluate", {}),
    "an unknown field": ("evaluate", {"rear": {**REAR, "preloaad_mm": 3}}),
    "loads swapped": ("evaluate", {"rear": {**REAR, "load_static_kg": 112.5, "load_rider_kg": 57.25}}),
    "a fork of no air": ("evaluate", {"front": fork({**FRONT["legs"][0], "solids_cm3": 450.5})}),
    "no such kind": ("evaluate", {"rear": {**REAR, "spring": {"kind": "rubber"}}}),
    "short lists": ("tester", {"deflection_mm": [1.5], "force_n": [1.5]}),
    "sags swapped": (
        "sag", {"end": "rear", "wheel_free_mm": 600, "alone_from_above_mm": 505.5, "rider_from_above_mm": 570.5},
    ),
}


@pytest.mark.parametrize("name", CALCULATED)
def test_a_calculation_remarks_in_german(name, in_both):
    answers = in_both("post", f"/api/calc/{name}/", CALCULATED[name])
    assert [answer.status_code for answer in answers] == [200, 200], answers[0].content
    compared(answers)


@pytest.mark.parametrize("name", REFUSED)
def test_a_calculation_refuses_in_german(name, in_both):
    address, body = REFUSED[name]
    answers = in_both("post", f"/api/calc/{address}/", body)
    assert [answer.status_code for answer in answers] == [400, 400], answers[0].content
    compared(answers)


def test_a_band_names_its_numbers_with_a_comma(in_both):
    address, body = REFUSED["a slipped decimal"]
    [problem] = in_both("post", f"/api/calc/{address}/", body)[1].json()["problems"]
    assert "0,45 N/mm" in problem["text"]
    assert problem["value"] == 0.45


def test_a_card_speaks_german(technician_client, shop, in_both):
    bench = Bench(technician_client, shop)
    bench.readings("rear", wheel_free_mm=600, alone_from_above_mm=570.5, rider_from_above_mm=505)
    answers = in_both("get", bench.address)
    compared(answers, at_least=10)
    sides = in_both("get", f"{bench.address}sides/")
    compared(sides)


@pytest.mark.parametrize(
    ("what", "path", "value"),
    [("setting", "preload_mm", 900.5), ("setting", "spring", {"kind": "straight", "rate_n_per_mm": 0.45})],
)
def test_a_card_refuses_in_german(what, path, value, technician_client, shop, in_both):
    bench = Bench(technician_client, shop)

    class Both:
        put = staticmethod(lambda address, body, **headers: in_both("put", address, body, **headers))

    bench.client = Both()
    answers = bench.setting("rear", path, value)
    assert [answer.status_code for answer in answers] == [400, 400], answers[0].content
    compared(answers)


def test_a_usual_fastener_is_read_in_german_and_kept_in_english(technician_client, shop, in_both):
    bench = Bench(technician_client, shop)
    line = TorqueLine.objects.create(card=bench.card, fastener="Front axle", needs_second_check=True)
    english, german = (answer.json()["torques"][0]["fastener"] for answer in in_both("get", bench.address))
    assert english == "Front axle"
    assert german != english
    [_, answer] = in_both("patch", f"{bench.address}torques/{line.pk}/", {"fastener": german}, HTTP_IF_MATCH='"1"')
    assert answer.status_code in (200, 412), answer.content
    kept = everywhere(TorqueLine, why="a test").get(pk=line.pk)
    assert kept.fastener == "Front axle"


def test_the_signal_words_are_the_standards():
    with translation.override("de"):
        assert {word: translation.gettext(word) for word in cautions.WORDS} == SIGNAL_WORDS
        for caution in cautions.CAUTIONS:
            assert translation.gettext(caution.text) != caution.text


def test_a_picture_of_one_language_is_not_given_to_the_other(technician_client, shop, in_both):
    bench = Bench(technician_client, shop)
    assert bench.setting("rear", "preload_mm", 7).status_code in (200, 201)
    bench.readings("rear", axle_alone_kg=57, axle_rider_kg=112)
    for _ in range(2):  # the second time from what was drawn before
        english, german = (answer.json() for answer in in_both("get", f"{bench.address}sides/"))
        drawn = [side["received"]["rear"]["picture"] for side in (english, german)]
        assert "bike alone" in drawn[0]
        assert "bike alone" not in drawn[1]

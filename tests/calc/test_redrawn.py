"""What is different in a picture drawn again, against a general XML parser's reading of both."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from calc.picture import layout, picture
from calc.redrawn import changes

TRAVEL = [0, 50, 100, 150, 200]


def request(preload=90.0, label="4.6 N/mm", rider=62.2):
    spring = [preload + 9 * travel for travel in TRAVEL]
    air = [0, 30, 80, 180, 400]
    curve = {"travel_mm": TRAVEL, "spring_n": spring, "air_n": air}
    curve["total_n"] = [one + other for one, other in zip(spring, air, strict=True)]
    curve["total_hard_n"] = [1.3 * each for each in curve["total_n"]]
    trace = {"role": "chosen", "label": label, "curve": curve, "static_sag_mm": 31.6, "rider_sag_mm": rider}
    return {
        "end": "front", "title": "Front & fork", "description": f"Sag {rider}", "load_static_n": 400.0,
        "load_rider_n": 700.0, "traces": [trace],
    }  # fmt: skip


def elements(svg):
    return list(ElementTree.fromstring(svg).iter())  # noqa: S314  # our own


@pytest.fixture
def held():
    return layout(request())


def test_every_element_begins_a_line(held):
    svg = picture(request(), held)
    assert len(elements(svg)) == sum(line.startswith("<") and not line.startswith("</") for line in svg.split("\n"))


@pytest.mark.parametrize("other", [{"preload": 20.0}, {"preload": 300.0, "rider": 5.0}, {"label": 'a "5" < 6 & more'}])
def test_put_in_place_they_make_the_other_picture(held, other):
    first, second = picture(request(), held), picture(request(**other), held)
    found = changes(first, second)
    assert found
    brought = elements(first)
    for place, values in found.items():
        for name, value in values.items():
            if name:
                brought[int(place)].set(name, value)
            else:
                brought[int(place)].text = value
    for one, wanted in zip(brought, elements(second), strict=True):
        assert one.tag == wanted.tag
        for name in set(wanted.keys()) - {"id", "aria-labelledby", "aria-describedby"}:
            assert one.get(name) == wanted.get(name)
        assert (one.text or "").strip() == (wanted.text or "").strip()


def test_the_same_picture_has_none(held):
    assert changes(picture(request(), held), picture(request(), held)) == {}


def test_an_element_more_or_another_element_is_no_change_of_values():
    first = picture(request())
    assert changes(first, first.replace("<tspan", "<path/>\n<tspan", 1)) is None
    assert changes(first, first.replace('<text class="pic-figure"', '<path class="pic-figure"', 1)) is None
    assert changes(first, first.replace(' stroke-width="15.5"', "", 1)) is None

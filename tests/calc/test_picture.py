"""The one picture: sound SVG, true to its numbers, with words that do not collide."""

import re
from io import BytesIO
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from weasyprint import HTML

from calc.drawing import THINNED, thinned
from calc.evaluate import evaluate
from calc.picture import ROLES, layout, picture
from calc.placing import text_width
from calc.refusal import Refusal
from tests import sample
from tests.sample import LEG, without

SVG = "{http://www.w3.org/2000/svg}"
FRONT = without(sample.FRONT, "legs", "altitude_m")
REAR = {
    **without(sample.REAR, "spring"),
    "leverage": {"kind": "ratio", "wheel_per_shock": 2.6},
    "preload_mm": 9.0,
}
G = 9.80665


def trace(end, role, label, rate, preload):
    if end == "front":
        leg = {**LEG, "spring": {"kind": "straight", "rate_n_per_mm": rate}, "preload_mm": preload}
        answer = evaluate({"front": {**FRONT, "legs": [leg, leg]}})["front"]
    else:
        spring = {"kind": "straight", "rate_n_per_mm": rate * 13}
        answer = evaluate({"rear": {**REAR, "spring": spring, "preload_mm": preload}})["rear"]
    sags = {key: answer[key] for key in ("static_sag_mm", "rider_sag_mm")}
    return {"role": role, "label": label, "curve": answer["curve"], **sags}


def request_for(end="front", roles=("received", "chosen", "built"), rng=None):
    rng = rng or np.random.default_rng(1)
    body = FRONT if end == "front" else REAR
    names = {
        "received": "As received",
        "chosen": "Chosen",
        "built": "As built",
        "soft_wound_up": "Soft, wound up",
    }
    traces = [trace(end, role, names[role], rng.uniform(3.6, 6.0), rng.uniform(0, 6)) for role in roles]
    return {
        "end": end,
        "title": "Fork: force over travel",
        "description": "Three states of one fork.",
        "traces": traces,
        "load_static_n": (body["load_static_kg"] - body["unsprung_kg"]) * G,
        "load_rider_n": (body["load_rider_kg"] - body["unsprung_kg"]) * G,
    }


def drawn(request):
    return ElementTree.fromstring(picture(request))  # noqa: S314 -- our own output


def of_class(root, name):
    return [element for element in root.iter() if name in (element.get("class") or "").split()]


def words(root):
    return [element.text.strip() for element in root.iter() if element.tag in (f"{SVG}text", f"{SVG}tspan")]


def scale(root):
    read = {
        key: float(root.get(f"data-{key}")) for key in ("x0", "x1", "y0", "y1", "travel-max", "force-max")
    }
    return (
        lambda x: (x - read["x0"]) / (read["x1"] - read["x0"]) * read["travel-max"],
        lambda y: (read["y1"] - y) / (read["y1"] - read["y0"]) * read["force-max"],
    )


def places(line):
    """The points of a polyline."""
    return [tuple(map(float, pair.split(","))) for pair in line.get("points").split()]


def middles(mark):
    """The middle of each mark: a disc is a line of no length, a ring two halves from its left, others their corners."""
    if mark.get("points"):
        yield places(mark)[0]
        return
    for outline in mark.get("d").strip("MZ").split("ZM"):
        if "a" in outline:
            left, radius = outline.split("a")[:2]
            x, y = map(float, left.split())
            yield x + float(radius.split()[0]), y
        else:
            corners = np.array([[float(part) for part in pair.split()] for pair in outline.split("L")])
            yield tuple(corners.mean(axis=0))


def test_it_is_named_and_described_for_those_who_cannot_see_it():
    root = drawn(request_for())
    assert root.get("role") == "img"
    assert root.get("viewBox") == "0 0 720 480"
    assert root[0].tag == f"{SVG}title"
    assert root[0].text == "Fork: force over travel"
    assert root[1].tag == f"{SVG}desc"
    assert root.get("aria-labelledby") == root[0].get("id")
    assert root.get("aria-describedby") == root[1].get("id")


def test_two_pictures_of_a_page_share_no_id():
    one, other = picture(request_for("front")), picture(request_for("rear"))
    assert not set(re.findall(r' id="([^"]+)"', one)) & set(re.findall(r' id="([^"]+)"', other))


def test_no_style_is_inline_and_every_class_has_the_prefix():
    for element in drawn(request_for()).iter():
        assert element.get("style") is None
        assert element.tag not in (f"{SVG}style", f"{SVG}script")
        for name in (element.get("class") or "pic").split():
            assert name == "pic" or name.startswith("pic-")


def test_what_people_typed_is_escaped():
    request = request_for(roles=("chosen",))
    hostile = '<script>alert(1)</script> & "quoted" \x07'
    request |= {"title": hostile, "description": hostile}
    request["traces"][0]["label"] = "<b>& me"
    root = drawn(request)
    assert root[0].text == hostile.replace("\x07", " ")
    assert "<b>& me" in words(root)
    assert not list(root.iter(f"{SVG}script"))


@pytest.mark.parametrize("end", ["front", "rear"])
def test_marks_lie_where_the_sags_and_the_loads_are(end):
    request = request_for(end)
    root = drawn(request)
    travel, force = scale(root)
    marks = [each for mark in of_class(root, "pic-mark") for each in middles(mark)]
    for each in request["traces"]:
        for sag, load in (("static_sag_mm", "load_static_n"), ("rider_sag_mm", "load_rider_n")):
            on_curve = [
                (x, y)
                for x, y in marks
                if abs(travel(x) - each[sag]) < 0.3 and abs(force(y) - request[load]) < 0.01 * force(0)
            ]
            assert on_curve, (each["role"], sag)


def test_the_curve_drawn_is_the_curve_given():
    request = request_for(roles=("chosen",))
    root = drawn(request)
    travel, force = scale(root)
    drawn_mm, drawn_n = np.array([(travel(x), force(y)) for x, y in places(of_class(root, "pic-trace")[0])]).T
    curve = request["traces"][0]["curve"]
    assert drawn_mm[[0, -1]] == pytest.approx([curve["travel_mm"][0], curve["travel_mm"][-1]], abs=0.1)
    shown = np.interp(curve["travel_mm"], drawn_mm, drawn_n)
    assert shown == pytest.approx(curve["total_n"], abs=0.002 * force(0) + 2)
    assert len(drawn_mm) < len(curve["travel_mm"])


@given(
    st.lists(st.tuples(st.floats(0.5, 40), st.floats(0, 400)), min_size=2, max_size=60),
    st.floats(0, 60),
)
def test_a_thinned_curve_passes_close_to_every_point(steps, begin):
    runs, heights = np.array(steps).T
    line = np.column_stack((begin + np.cumsum(runs), heights))
    kept = thinned(line)
    assert kept[[0, -1]].tolist() == line[[0, -1]].tolist()
    assert {tuple(point) for point in kept} <= {tuple(point) for point in line}
    assert np.interp(line[:, 0], kept[:, 0], kept[:, 1]) == pytest.approx(line[:, 1], abs=THINNED + 1e-9)


def test_points_above_each_other_are_drawn_all_the_same():
    line = np.array([[0.0, 0.0], [5.0, 2.0], [5.0, 90.0], [5.0, 91.0], [9.0, 95.0], [9.0, 300.0]])
    kept = thinned(line)
    assert kept[[0, -1]].tolist() == line[[0, -1]].tolist()
    assert [5.0, 2.0] in kept.tolist()
    curve = {"travel_mm": [0, 1e-300, 200], "total_n": [90, 500, 2290]}
    svg = picture(request_for(roles=("chosen",)) | {"traces": [{"role": "chosen", "label": "Chosen", "curve": curve}]})
    assert len(places(of_class(parsed(svg), "pic-trace")[0])) >= 2


def test_a_straight_curve_is_drawn_by_its_ends_and_its_corner():
    x = np.arange(0.0, 31.0)
    line = np.column_stack((x, np.interp(x, [0, 12, 30], [90, 60, 0])))
    assert thinned(line).tolist() == [[0, 90], [12, 60], [30, 0]]


def test_each_role_has_its_own_pattern_and_its_own_mark():
    assert len({(look.dashes, look.width) for look in ROLES.values()}) == len(ROLES)
    assert len({look.dashes for look in ROLES.values()}) == len(ROLES)
    assert len({look.mark for look in ROLES.values()}) == len(ROLES)


@pytest.mark.parametrize("order", [("received", "chosen", "built"), ("built", "received", "chosen")])
def test_only_the_leading_trace_shows_its_parts(order):
    request = request_for(roles=order)
    root = drawn(request)
    assert len(of_class(root, "pic-part")) == 2
    built = next(each for each in request["traces"] if each["role"] == "built")
    ends = {places(drop)[0][0] for drop in of_class(root, "pic-drop")}
    travel, _ = scale(root)
    assert sorted(travel(end) for end in ends) == pytest.approx(
        sorted([built["static_sag_mm"], built["rider_sag_mm"]]), abs=0.3
    )


def test_words_say_units_and_both_sags():
    request = request_for(roles=("chosen",))
    found = words(drawn(request))
    assert "Force at the wheel, N" in found
    assert "Travel along the fork, mm" in found
    for key in ("static_sag_mm", "rider_sag_mm"):
        assert f"{request['traces'][0][key]:.0f}" in found
    assert any(text.startswith("bike alone") and text.endswith(" N") for text in found)
    assert any(text.startswith("with rider") and text.endswith(" N") for text in found)


def test_rear_travel_is_named_vertical():
    assert "Wheel travel, vertical, mm" in words(drawn(request_for("rear", ("chosen",))))


def test_a_long_label_is_shortened_not_run_out():
    request = request_for(roles=("chosen",))
    request["traces"][0]["label"] = "a very long label that somebody typed " * 5
    assert any(text.endswith("…") for text in words(drawn(request)))


def test_sags_at_both_ends_of_the_travel_stay_inside():
    request = request_for(roles=("chosen",))
    request["traces"][0] |= {"static_sag_mm": 0.0, "rider_sag_mm": 300.0}
    root = drawn(request)
    for element in root.iter(f"{SVG}text"):
        if element.get("class") != "pic-figure":
            continue
        left = float(element.get("x"))
        assert left >= 0
        assert left + text_width(element[0].text, float(element[0].get("font-size")), True) <= 720


def test_loads_and_sags_may_be_unknown():
    request = request_for(roles=("chosen",)) | {"load_static_n": None, "load_rider_n": None}
    request["traces"][0] |= {"static_sag_mm": None, "rider_sag_mm": None}
    root = drawn(request)
    assert not of_class(root, "pic-mark")
    assert not of_class(root, "pic-load")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"travel_mm": [0.0, 10.0]}, "unpaired"),
        ({"travel_mm": [0.0, 0.0, 10.0]}, "not_rising"),
    ],
)
def test_broken_curves_are_refused(change, code):
    curve = {"travel_mm": [0.0, 5.0, 10.0], "total_n": [0.0, 1.0, 2.0], **change}
    request = request_for(roles=("chosen",))
    request["traces"][0]["curve"] = curve
    with pytest.raises(Refusal) as caught:
        picture(request)
    assert code in {problem.code for problem in caught.value.problems}


def test_a_role_given_twice_is_refused():
    with pytest.raises(Refusal, match="given twice"):
        picture(request_for(roles=("chosen", "chosen")))


@pytest.mark.pdf
def test_the_pdf_shows_the_same_words():
    request = request_for()
    svg = picture(request)
    text = PdfReader(BytesIO(HTML(string=svg).write_pdf())).pages[0].extract_text()
    for word in (
        "Force at the wheel, N",
        "Travel along the fork, mm",
        "bike alone",
        "with rider",
        "As built",
    ):
        assert word in text


def parsed(svg):
    return ElementTree.fromstring(svg)  # noqa: S314  # our own


def words_of(svg):
    return words(parsed(svg))


def test_the_numbers_are_written_in_the_units_and_with_the_sign_that_are_asked_for():
    # 1 in is 25.4 mm and 1 lbf 0.45359237 · 9.80665 N (NIST SP 811): 700 N are 157.37 lbf, to three figures 157.
    request = {**request_for(roles=("chosen",)), "load_rider_n": 700.0}
    request["traces"][0] |= {"static_sag_mm": 25.4, "rider_sag_mm": 63.5}
    words = words_of(picture({**request, "units": {"length": "in", "force": "lbf"}, "decimal": ","}))
    assert {"Force at the wheel, lbf", "Travel along the fork, in", "with rider 157 lbf", "1,00", "2,50"} <= set(words)
    assert not [each for each in words if " mm" in each or " N" in each]


def test_ticks_are_round_in_the_unit_in_hand_and_stand_where_they_are_true():
    svg = parsed(picture({**request_for(), "units": {"length": "in", "force": "kgf"}}))
    x0, x1, furthest = (float(svg.get(f"data-{name}")) for name in ("x0", "x1", "travel-max"))
    ticks = [each for each in svg.iter(f"{SVG}text") if each.get("text-anchor") == "middle"]
    assert [float(each.text) for each in ticks[:4]] == [0, 2, 4, 6]
    for each in ticks:
        assert float(each.get("x")) == pytest.approx(x0 + (x1 - x0) * float(each.text) * 25.4 / furthest, abs=0.06)


def test_a_held_layout_keeps_scale_and_labels_while_the_curves_move():
    before, after = request_for(), request_for()
    after["traces"][1] = trace("front", "chosen", "Chosen", 6.0, 12)
    held = layout(before)
    still, moved = (parsed(picture(each, held)) for each in (before, after))
    first = parsed(picture(before))
    for name in ("x0", "x1", "y0", "y1", "travel-max", "force-max"):
        assert moved.get(f"data-{name}") == first.get(f"data-{name}")

    def labels(svg):
        found = [each for each in svg.iter(f"{SVG}text") if each.get("class") == "pic-label"]
        return [(each.get("x"), each.get("y")) for each in found]

    def curves(svg):
        return [each.get("points") for each in of_class(svg, "pic-trace")]

    assert labels(still) == labels(first)
    assert labels(moved) == labels(first)
    assert curves(still) == curves(first)
    assert sorted(curves(moved)) != sorted(curves(first))
    assert len(set(curves(moved)) & set(curves(first))) == 2

"""What a better wire saves: held against the energy that a wire stores per volume, written here anew."""

import math

import pytest
from scipy.optimize import brentq

from calc.refusal import Refusal
from calc.wire import better_wire

PRESENT = {
    "wire_mm": 4.6,
    "mean_diameter_mm": 34.0,
    "active_turns": 24.0,
    "total_turns": 26.0,
    "ends": "closed_ground",
    "material": "a227",
}
REQUEST = {"present": PRESENT, "new": {"material": "a401"}, "force_n": 600.0, "keep": "mean_diameter"}
GPA = {"a227": 78.6, "a401": 77.2}


def problems(request):
    with pytest.raises(Refusal) as caught:
        better_wire(request)
    return {problem.field: problem for problem in caught.value.problems}


def codes(answer):
    return {note["code"] for note in answer["notes"]}


@pytest.mark.parametrize("keep", ["mean_diameter", "index"])
def test_rate_and_share_of_strength_stay(keep):
    found = better_wire({**REQUEST, "keep": keep})
    was, now = found["present"], found["new"]
    assert now["rate_n_per_mm"] == pytest.approx(was["rate_n_per_mm"], rel=1e-5)
    for each in (was, now):
        assert each["stress_mpa"] / each["strength_mpa"] == pytest.approx(found["share_of_strength"], rel=1e-5)
    same = "mean_diameter_mm" if keep == "mean_diameter" else "index"
    assert now[same] == pytest.approx(was[same], rel=1e-5)
    assert now["total_turns"] - now["active_turns"] == pytest.approx(2, rel=1e-4)


@pytest.mark.parametrize("keep", ["mean_diameter", "index"])
def test_the_wire_holds_the_energy_that_its_volume_can(keep):
    """A coil's wire is a bar in torsion: F²/2k = V τ²/(4G), τ uncorrected (Shigley, ch. 4 and 10, from memory)."""
    found = better_wire({**REQUEST, "keep": keep})
    for name, material in (("present", "a227"), ("new", "a401")):
        coil = found[name]
        length = math.pi * coil["mean_diameter_mm"] * coil["active_turns"]
        volume = math.pi / 4 * coil["wire_mm"] ** 2 * length  # mm³
        plain = coil["stress_mpa"] / coil["stress_factor"]
        stored = REQUEST["force_n"] ** 2 / (2 * coil["rate_n_per_mm"])  # N·mm
        assert volume * plain**2 / (4 * GPA[material] * 1000) == pytest.approx(stored, rel=1e-4)


def test_the_wire_is_the_one_that_a_root_finder_finds():
    """Strengths A227 1783/d^0.190 and A401 1974/d^0.108 MPa: Shigley 10e, table 10-4."""

    def share(wire, a, m):
        index = 34.0 / wire
        stress = (index + 0.5) / (index - 0.75) * 8 * 600.0 * 34.0 / (math.pi * wire**3)
        return stress / (a / wire**m)

    wanted = share(4.6, 1783, 0.190)
    wire = brentq(lambda d: share(d, 1974, 0.108) - wanted, 2, 9, xtol=1e-12)
    assert better_wire(REQUEST)["new"]["wire_mm"] == pytest.approx(wire, rel=1e-5)


def test_mass_and_oil_follow_from_the_volume_of_wire():
    found = better_wire(REQUEST)
    was, now = (
        math.pi**2 * each["wire_mm"] ** 2 * each["mean_diameter_mm"] * each["total_turns"] / 4000
        for each in (found["present"], found["new"])
    )
    assert found["oil_to_add_cm3"] == pytest.approx(was - now, rel=1e-4)
    assert found["mass_saved_g"] == pytest.approx(7.85 * (was - now), rel=1e-4)
    assert found["mass_saved_g"] > 0
    assert found["solid_length_less_mm"] > 0


def test_the_same_wire_changes_nothing():
    found = better_wire({**REQUEST, "new": {"material": "a227"}})
    assert found["new"]["wire_mm"] == pytest.approx(4.6, rel=1e-6)
    assert found["mass_saved_g"] == pytest.approx(0, abs=0.01)


def test_a_weaker_wire_is_told_to_be_the_worse():
    found = better_wire({**REQUEST, "present": {**PRESENT, "material": "a401"}, "new": {"material": "a227"}})
    assert found["mass_saved_g"] < 0
    assert found["oil_to_add_cm3"] < 0
    note = next(note for note in found["notes"] if note["code"] == "mass_and_oil")
    assert note["severity"] == "warning"
    assert "heavier" in note["text"]


def test_titanium_of_a_stated_strength_is_lighter_and_says_that_it_varies():
    found = better_wire({**REQUEST, "new": {"material": "titanium", "strength_mpa": 1300.0}})
    assert found["new"]["strength_mpa"] == 1300
    assert found["mass_saved_g"] > 0
    assert "material_varies" in codes(found["new"])
    assert found["notes"][-1]["code"] == "check_the_seats"


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"new": {"material": "titanium"}}, "new.strength_mpa", "strength_unknown"),
        ({"present": {**PRESENT, "material": "en10270_2"}}, "present.strength_mpa", "strength_unknown"),
        ({"present": {**PRESENT, "wire_mm": 46.0}}, "present.wire_mm", "out_of_band"),
        ({"present": {**PRESENT, "total_turns": 20.0}}, "present.total_turns", "fewer_than_active"),
        ({"force_n": 0.0}, "force_n", "out_of_band"),
        ({"force_n": 6000.0}, "force_n", "past_strength"),
        ({"keep": "length"}, "keep", "unknown_choice"),
        ({"new": {"material": "rubber"}}, "new.material", "unknown_choice"),
        ({"new": {"material": "a401", "strength_mpa": 20.0}}, "new.strength_mpa", "out_of_band"),
        ({"present": {**PRESENT, "active_turns": 2.5, "total_turns": 4.5}}, "new.material", "too_few_turns"),
        ({"present": {**PRESENT, "wire_mm": 12.0, "mean_diameter_mm": 80.0}}, "new.material", "wire_out_of_reach"),
    ],
)
def test_what_cannot_be_is_refused(change, field, code):
    problem = problems({**REQUEST, **change})[field]
    assert problem.code == code
    assert problem.text.endswith((".", "?"))


def test_every_problem_is_told_at_once():
    request = {**REQUEST, "force_n": -1, "keep": "", "present": {**PRESENT, "wire_mm": 0.0, "ends": "closed"}}
    assert {"force_n", "keep", "present.wire_mm"} <= set(problems(request))

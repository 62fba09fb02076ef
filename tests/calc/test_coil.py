"""What `coil` says and refuses."""

import pytest

from calc.coil import coil
from calc.refusal import Refusal

FORK = {
    "wire_mm": 4.6,
    "mean_diameter_mm": 34.0,
    "active_turns": 24.0,
    "total_turns": 26.0,
    "ends": "closed_ground",
    "material": "en10270_1_sm",
}


def codes(answer):
    return {note["code"] for note in answer["notes"]}


def problems(request):
    with pytest.raises(Refusal) as caught:
        coil(request)
    return {problem.field: problem for problem in caught.value.problems}


def test_fields_are_those_of_the_design():
    assert set(coil(FORK)) == {
        "rate_n_per_mm",
        "index",
        "stress_factor",
        "stress_mpa",
        "solid_length_mm",
        "displaced_cm3",
        "mass_g",
        "surge_hz",
        "notes",
    }


def test_stress_needs_a_force():
    assert coil(FORK)["stress_mpa"] is None
    assert coil({**FORK, "force_n": 500.0})["stress_mpa"] == pytest.approx(
        2 * coil({**FORK, "force_n": 250.0})["stress_mpa"], rel=1e-5
    )


def test_no_force_is_not_the_same_as_zero_force():
    assert coil({**FORK, "force_n": 0.0})["stress_mpa"] == 0


def test_index_outside_its_range_is_noted_not_refused():
    assert "index_out_of_range" not in codes(coil(FORK))
    assert "index_out_of_range" in codes(coil({**FORK, "mean_diameter_mm": 4.6 * 3.5}))
    assert "index_out_of_range" in codes(coil({**FORK, "mean_diameter_mm": 4.6 * 20.5}))


def test_shear_modulus_alone_takes_steels_density_and_says_so():
    bare = {**FORK, "material": None, "shear_modulus_gpa": 81.5}
    assert coil(bare)["mass_g"] == coil(FORK)["mass_g"]
    assert "density_assumed" in codes(coil(bare))


def test_a_modulus_that_is_not_steels_leaves_the_mass_open():
    answer = coil({**FORK, "material": None, "shear_modulus_gpa": 42.0})
    assert answer["mass_g"] is None
    assert answer["surge_hz"] is None
    assert "density_unknown" in codes(answer)


def test_a_modulus_goes_before_the_materials():
    answer = coil({**FORK, "shear_modulus_gpa": 78.0})
    assert answer["rate_n_per_mm"] == pytest.approx(coil(FORK)["rate_n_per_mm"] * 78 / 81.5, rel=1e-5)
    assert "modulus_given" in codes(answer)


def test_titanium_is_lighter_and_softer_and_says_that_it_varies():
    answer = coil({**FORK, "material": "titanium"})
    assert answer["mass_g"] < coil(FORK)["mass_g"]
    assert answer["rate_n_per_mm"] < coil(FORK)["rate_n_per_mm"]
    assert "material_varies" in codes(answer)


def test_yield_at_solid_does_not_fail_a_set_spring():
    answer = coil({**FORK, "free_length_mm": 480.0})
    note = next(note for note in answer["notes"] if note["code"] == "past_first_yield")
    assert note["severity"] == "warning"
    assert "on purpose" in note["text"]
    assert "past_first_yield" not in codes(coil({**FORK, "free_length_mm": 200.0}))


def test_wire_outside_the_strength_table_is_not_judged():
    thick = {**FORK, "wire_mm": 13.0, "mean_diameter_mm": 90.0, "active_turns": 6.0, "total_turns": 8.0}
    assert "strength_unknown" in codes(coil({**thick, "force_n": 1000.0}))


def test_a_force_that_closes_the_coil_is_noted():
    answer = coil({**FORK, "free_length_mm": 200.0, "force_n": 5000.0})
    assert "solid_at_force" in codes(answer)
    assert "solid_at_force" not in codes(coil({**FORK, "free_length_mm": 460.0, "force_n": 500.0}))


def test_a_long_thin_spring_can_buckle():
    assert "can_buckle" in codes(coil({**FORK, "free_length_mm": 460.0}))
    assert "can_buckle" not in codes(coil({**FORK, "free_length_mm": 150.0}))


def test_turns_that_do_not_suit_the_ends_are_noted():
    assert "turns_and_ends" not in codes(coil(FORK))
    assert "turns_and_ends" in codes(coil({**FORK, "ends": "plain"}))


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"wire_mm": 0.0}, "wire_mm", "out_of_band"),
        ({"wire_mm": 34.0, "mean_diameter_mm": 4.6}, "mean_diameter_mm", "cannot_be_wound"),
        ({"total_turns": 20.0}, "total_turns", "fewer_than_active"),
        ({"free_length_mm": 100.0}, "free_length_mm", "below_solid"),
        ({"material": None}, "material", "missing"),
        ({"force_n": -1.0}, "force_n", "out_of_band"),
        ({"shear_modulus_gpa": 81500.0}, "shear_modulus_gpa", "out_of_band"),
    ],
)
def test_what_cannot_be_is_refused(change, field, code):
    problem = problems({**FORK, **change})[field]
    assert problem.code == code
    assert problem.text.endswith((".", "?"))


def test_every_problem_is_told_at_once():
    assert set(problems({**FORK, "wire_mm": 400.0, "active_turns": 0.0})) == {"wire_mm", "active_turns"}

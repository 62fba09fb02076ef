"""The shapes of a spring on a list, in a setting or with a bike, by its kind; the verbs check the numbers."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from calc.checks import FEWEST_PARTS, MOST_PARTS, MOST_TURNS
from calc.springs import COMBINED
from calc.tester import MOST
from calc.web.fields import ByKind, Choice, Number, NumberList, StrictSerializer


class _Solid(StrictSerializer):
    """What every kind of spring may add."""

    solid_deflection_mm = Number(unit="mm", what="deflection at which the spring is solid", required=False)


class StraightStockSpring(_Solid):
    """One rate from end to end."""

    kind = Choice(choices=["straight"])
    rate_n_per_mm = Number(unit="N/mm", what="rate")


class DualStockSpring(_Solid):
    """A soft rate up to a deflection, a hard one beyond."""

    kind = Choice(choices=["dual"])
    soft_n_per_mm = Number(unit="N/mm", what="rate before the change")
    hard_n_per_mm = Number(unit="N/mm", what="rate after the change")
    change_mm = Number(unit="mm", what="deflection at which the rate changes")


class ProgressiveStockSpring(_Solid):
    """A rate that rises evenly over a deflection."""

    kind = Choice(choices=["progressive"])
    start_n_per_mm = Number(unit="N/mm", what="rate at the start")
    end_n_per_mm = Number(unit="N/mm", what="rate at the end of the rise")
    over_mm = Number(unit="mm", what="deflection over which the rate rises")


class TurnStockSpring(StrictSerializer):
    """One turn of a wound spring."""

    wire_mm = Number(unit="mm", what="wire")
    mean_diameter_mm = Number(unit="mm", what="mean diameter")
    gap_mm = Number(unit="mm", what="gap to the next turn")


_TURNS: dict[str, Any] = {"many": True, "allow_empty": False, "max_length": MOST_TURNS}


class WoundStockSpring(_Solid):
    """A designer's table, turn by turn: each yields until its gap shuts."""

    kind = Choice(choices=["wound"])
    shear_modulus_gpa = Number(unit="GPa", what="shear modulus of the wire")
    turns = TurnStockSpring(**_TURNS)


class ReadingsShape(StrictSerializer):
    """A spring tester's readings, rising, counted from the free length."""

    deflection_mm = NumberList(unit="mm", what="deflections", max_length=MOST)
    force_n = NumberList(unit="N", what="forces", max_length=MOST)


class TestedStockSpring(_Solid, ReadingsShape):
    """A spring known by its tester readings, and the rate stamped on it, where there is one."""

    kind = Choice(choices=["tested"])
    stamped_n_per_mm = Number(unit="N/mm", what="rate stamped on it", required=False, allow_null=True)


ALONE: dict[str, type[serializers.Serializer[Any]]] = {
    "straight": StraightStockSpring,
    "dual": DualStockSpring,
    "progressive": ProgressiveStockSpring,
    "wound": WoundStockSpring,
    "tested": TestedStockSpring,
}


def _together(kind: str) -> type[serializers.Serializer[Any]]:
    """Return the shape of springs that act together, stacked or side by side."""
    return type(
        f"{kind.title().replace('_', '')}StockSpring",
        (_Solid,),
        {
            "__doc__": "Springs that act together, two to four; deflections are those of the whole.",
            "__module__": __name__,
            "kind": Choice(choices=[kind]),
            "springs": serializers.ListField(child=ByKind(ALONE), min_length=FEWEST_PARTS, max_length=MOST_PARTS),
        },
    )


SHAPES = {**ALONE, **{kind: _together(kind) for kind in COMBINED}}


def curve(**options: Any) -> ByKind:
    """Return the field of a spring as calc takes it; its bands are checked when it goes on the list."""
    return ByKind(SHAPES, **options)


class TestAnswer(serializers.Serializer[Any]):
    """What a line's tester readings say beside its stamp."""

    kind = serializers.ChoiceField(choices=["straight", "progressive", "dual"])
    spring = curve()
    rate_n_per_mm = Number(unit="N/mm", what="the rate of the straight fit")
    rate_u_n_per_mm = Number(unit="N/mm", what="its standard uncertainty")
    stamp_difference_percent = Number(unit="%", what="how far it lies above the stamp", allow_null=True)
    stamp_within_usual = serializers.BooleanField(allow_null=True, help_text="Whether that is within the usual ±5 %.")


TEST = ("kind", "spring", "rate_n_per_mm", "rate_u_n_per_mm", "stamp_difference_percent", "stamp_within_usual")
"""What of a tester's answer a line of the list shows."""

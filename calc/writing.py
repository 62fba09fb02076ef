"""How a picture writes its numbers: in which units, with which decimal sign, how finely."""

from __future__ import annotations

from dataclasses import dataclass

from calc import printed
from calc.drawing import number
from calc.units import FACTORS


@dataclass(frozen=True)
class Writing:
    """How a picture writes its numbers: the units of `length`, `force`, `rate` and `mass` (keys of
    `calc.units.FACTORS`) and the `decimal` sign (else the language's).

    A `value` is in these units, `sag_mm` in mm, `force_n` in N. Raises nothing. Source: none (wording).

    >>> Writing(length="in", decimal=",").sag(31.75), Writing(force="lbf").load(444.82216)
    ('1,25', '100 lbf')
    """

    length: str = "mm"
    force: str = "N"
    rate: str = "N/mm"
    mass: str = "kg"
    decimal: str = "."

    @property
    def mm(self) -> float:
        """The unit of length, mm."""
        return FACTORS["length"][self.length]

    @property
    def n(self) -> float:
        """The unit of force, N."""
        return FACTORS["force"][self.force]

    @property
    def n_per_mm(self) -> float:
        """The unit of rate, N/mm."""
        return FACTORS["rate"][self.rate]

    @property
    def kg(self) -> float:
        """The unit of mass, kg."""
        return FACTORS["mass"][self.mass]

    def number(self, value: float) -> str:
        """Write `value`, any finite number, which is in the unit already."""
        return number(value, self.decimal)

    def sag(self, sag_mm: float) -> str:
        """Write the sag `sag_mm` (mm) without its unit: to a millimetre or a hundredth of an inch."""
        near = f"{printed.whole(sag_mm)}" if self.length == "mm" else f"{sag_mm / self.mm:.2f}"
        return near.replace(".", self.decimal)

    def load(self, force_n: float) -> str:
        """Write the force `force_n` (N) with its unit, as finely as a picture can be believed: three figures."""
        return f"{self.number(float(f'{force_n / self.n:.3g}'))} {self.force}"


METRIC = Writing(decimal="")
"""Metric, with the decimal sign of the language in use."""

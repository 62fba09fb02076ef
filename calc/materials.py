"""Spring wire: one table of what each material is taken to be, and where each figure comes from.

Editions are not mixed: a material's moduli and strength come from the one source that its row names.
`memory` marks what is quoted from memory of that source.

Sources: [1] Shigley's Mechanical Engineering Design, 10th ed., tables 10-4 and 10-5. [2] EN 10270-1 to -3 and EN
10088-1 (from memory where the row says so).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType

from calc.words import mark

_MPSI = 6.894757293168361
"""One million pounds-force per square inch, in GPa."""


@dataclass(frozen=True)
class PowerLaw:
    """Tensile strength `a / d^m`, MPa with d in mm, from `low` to `high` mm (Shigley 10e, table 10-4).

    `a` is in MPa (d in mm), `m` a number without a unit, `low` and `high` in mm. Raises nothing. Source: [1].
    """

    a: float
    m: float
    low: float
    high: float

    def strength_mpa(self, wire_mm: float) -> float | None:
        """Return the strength at a wire diameter, None outside the stated range.

        `wire_mm` is in mm; the strength in MPa.

        Shigley's problem 10-6 prints 1431 MPa:

        >>> round(PowerLaw(1855, 0.187, 0.5, 12.7).strength_mpa(4.0))
        1431
        """
        return self.a / wire_mm**self.m if self.low <= wire_mm <= self.high else None


@dataclass(frozen=True)
class Printed:
    """Least tensile strength as printed at some diameters: `points` of (mm, MPa), rising; between them linear in the
    diameter's log.

    Raises nothing. Source: [2]; the interpolation is common practice, no source.
    """

    points: tuple[tuple[float, float], ...]

    @property
    def low(self) -> float:
        """The smallest printed diameter, mm."""
        return self.points[0][0]

    @property
    def high(self) -> float:
        """The largest printed diameter, mm."""
        return self.points[-1][0]

    def strength_mpa(self, wire_mm: float) -> float | None:
        """Return the strength at a wire diameter, None outside the printed range.

        `wire_mm` is in mm; the strength in MPa.

        >>> Printed(((1.0, 1980.0), (2.0, 1760.0))).strength_mpa(2.0)
        1760.0
        """
        for (thin, strong), (thick, weak) in zip(self.points, self.points[1:], strict=False):
            if thin <= wire_mm <= thick:
                part = math.log(wire_mm / thin) / math.log(thick / thin)
                return strong + part * (weak - strong)
        return None


@dataclass(frozen=True)
class Moduli:
    """Shear and Young's modulus, `shear_gpa` and `young_gpa` in GPa, for wire up to `up_to_mm`.

    Source: [1], [2].

    >>> Moduli(math.inf, 81.5, 206.0).shear_gpa
    81.5
    """

    up_to_mm: float
    shear_gpa: float
    young_gpa: float


@dataclass(frozen=True)
class Material:
    """One wire material: its `name`, its `standard`, its `moduli` by wire diameter, `density_kg_per_m3` in kg/m³, its
    `strength` by wire diameter, its `source` and a `remark` to show.

    `yield_share` is the part of the tensile strength, 0 to 1, at which the closed coil, uncorrected for setting, is
    compared. `strength` is None where we know no law: nothing is then said about yield. Raises StopIteration for a
    wire beyond its moduli, which no row has. Source: [1], [2].

    >>> MATERIALS["en10270_1_sm"].at(4.0).shear_gpa, MATERIALS["en10270_1_sm"].strength.strength_mpa(4.0)
    (81.5, 1530.0)
    """

    name: str
    standard: str
    moduli: tuple[Moduli, ...]
    density_kg_per_m3: float
    strength: PowerLaw | Printed | None
    yield_share: float
    source: str
    remark: str = ""

    def at(self, wire_mm: float) -> Moduli:
        """Return the moduli that hold for a wire diameter in mm.

        `wire_mm` is in mm; the moduli in GPa.
        """
        return next(moduli for moduli in self.moduli if wire_mm <= moduli.up_to_mm)


def _one(shear_gpa: float, young_gpa: float) -> tuple[Moduli, ...]:
    return (Moduli(math.inf, shear_gpa, young_gpa),)


_SHIGLEY = mark("Shigley's Mechanical Engineering Design, 10th ed., tables 10-4 and 10-5 (moduli from memory)")

MATERIALS: MappingProxyType[str, Material] = MappingProxyType(
    {
        "en10270_1_sm": Material(
            mark("patented cold-drawn carbon steel, grade SM"),
            "EN 10270-1",
            _one(81.5, 206.0),
            7850.0,
            Printed(((1, 1980), (2, 1760), (4, 1530), (6, 1400), (8, 1310), (10, 1240), (12, 1180))),
            0.56,
            mark("EN 10270-1; permissible share at solid EN 13906-1 (memory)"),
        ),
        "en10270_2": Material(
            mark("oil hardened and tempered steel"),
            "EN 10270-2",
            _one(79.5, 206.0),
            7850.0,
            None,
            0.56,
            mark("EN 10270-2; Young's modulus and density as EN 10270-1 (memory)"),
        ),
        "en10270_3_14310": Material(
            mark("stainless steel 1.4310"),
            "EN 10270-3",
            _one(73.0, 185.0),
            7900.0,
            None,
            0.56,
            mark("EN 10270-3; density EN 10088-1 (memory)"),
        ),
        "a228": Material(
            mark("music wire"),
            "ASTM A228",
            (
                Moduli(0.8128, 82.7, 203.4),
                Moduli(1.6129, 81.7, 200.0),
                Moduli(3.175, 81.0, 196.5),
                Moduli(math.inf, 80.0, 193.0),
            ),
            7850.0,
            PowerLaw(2211, 0.145, 0.10, 6.5),
            0.45,
            _SHIGLEY,
        ),
        "a229": Material(
            mark("oil tempered carbon steel"),
            "ASTM A229",
            _one(77.2, 196.5),
            7850.0,
            PowerLaw(1855, 0.187, 0.5, 12.7),
            0.45,
            _SHIGLEY,
        ),
        "a227": Material(
            mark("hard-drawn carbon steel"),
            "ASTM A227",
            (
                Moduli(0.8128, 80.7, 198.6),
                Moduli(1.6129, 80.0, 197.9),
                Moduli(3.175, 79.3, 197.2),
                Moduli(math.inf, 78.6, 196.5),
            ),
            7850.0,
            PowerLaw(1783, 0.190, 0.7, 12.7),
            0.45,
            _SHIGLEY,
        ),
        "a232": Material(
            mark("chrome-vanadium steel"),
            "ASTM A232",
            _one(77.2, 203.4),
            7850.0,
            PowerLaw(2005, 0.168, 0.8, 11.1),
            0.45,
            _SHIGLEY,
        ),
        "a401": Material(
            mark("chrome-silicon steel"),
            "ASTM A401",
            _one(77.2, 203.4),
            7850.0,
            PowerLaw(1974, 0.108, 1.6, 9.5),
            0.45,
            _SHIGLEY,
        ),
        "titanium": Material(
            mark("titanium alloy"),
            "",
            _one(6.1 * _MPSI, 16.5 * _MPSI),
            0.175 * 0.45359237 / 0.0254**3,
            None,
            0.45,
            mark("spring makers' tables: G 6.1 Mpsi, E 16.5 Mpsi, 0.175 lb/in³ (memory)"),
            mark("These figures vary with the alloy: ask for the maker's own."),
        ),
    }
)
"""Key → material."""

"""What is believed: the accepted band of every number the calculations take, in one table.

A value outside its band is refused, because in this trade it is nearly always a slipped decimal point or
another unit. Every band is set wide of what is met in a workshop (common practice, no source). Couplings
between values are in `calc.checks`.

Sources: [1] The International System of Units (SI Brochure), 9th edition, 5.4.3: a space between the number and
the unit, none before the degree, minute and second of plane angle (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from types import MappingProxyType

from calc.words import mark, number, say

KGF = 9.80665
LBF_PER_IN = 4.4482216152605 / 25.4
INCH = 25.4
POUND = 0.45359237
FOOT = 0.3048

_EXCHANGED: ContextVar[Collection[str]] = ContextVar("units read as others", default=())


@contextmanager
def exchanged(units: Collection[str]) -> Iterator[None]:
    """Return a context in which values in these `units` (of bands) were typed in others: their figures tell no slip.

    Raises nothing. Source: none (wording).

    >>> with exchanged({"N/mm"}):
    ...     wrong(46.0, BANDS["leg_spring.rate_n_per_mm"])
    "46 N/mm for the rate of a fork leg's spring is outside 2 to 25 N/mm."
    """
    token = _EXCHANGED.set(units)
    try:
        yield
    finally:
        _EXCHANGED.reset(token)


def after(unit: str) -> str:
    """Return a `unit` as it is written after a number: with a space, save for the degree of an angle.

    Raises nothing. Source: [1], 5.4.3.

    >>> [f"64{after(unit)}" for unit in ("°", "°C", "mm", "")]
    ['64°', '64 °C', '64 mm', '64']
    """
    return unit if unit == "°" else f" {unit}" if unit else ""


@dataclass(frozen=True)
class Guess:
    """A likely cause of a wrong value: `turn` is the function that gives what was meant, a number in the band's own
    unit, and `phrase` words it. Source: common practice, no source.

    >>> _TENTH.turn(46.0)
    4.6
    """

    phrase: str
    turn: Callable[[float], float]


@dataclass(frozen=True)
class Band:
    """The accepted values of one field, and what it is.

    `what` names it in words, `unit` is the unit of `low` and `high`, both included (with `open_low` only those above
    low); `guesses` are the likely causes of a value outside, `holder` is
    put into `what`. Raises nothing. Source: common practice, no source.

    >>> Band("a person's mass", "kg", 0, 250, open_low=True).holds(0)
    False
    """

    what: str
    unit: str
    low: float
    high: float
    open_low: bool = False
    guesses: tuple[Guess, ...] = ()
    holder: str = ""

    @property
    def named(self) -> str:
        """What the value is called in a sentence: "the rate of a fork leg's spring"."""
        return say(self.what, holder=say(self.holder)) if self.holder else say(self.what)

    @property
    def english(self) -> str:
        """The same in the source language, for what programmers read."""
        return self.what.format(holder=self.holder)

    def holds(self, value: float) -> bool:
        """Return whether `value`, in the band's unit, is accepted.

        `value` is a number in the band's own unit.
        """
        return (self.low < value if self.open_low else self.low <= value) and value <= self.high

    def wording(self) -> str:
        """Return the band in words: "2 to 25 N/mm", "more than 0, up to 250 kg"."""
        unit = after(self.unit)
        if self.open_low:
            return say("more than {low:g}, up to {high:g}{unit}", low=self.low, high=self.high, unit=unit)
        return say("{low:g} to {high:g}{unit}", low=self.low, high=self.high, unit=unit)

    def fault(self, value: float) -> str:
        """Return what is wrong with a `value` that the band does not hold, as the end of "… for <what>".

        `value` is a number in the band's own unit.

        >>> Band("a person's mass", "kg", 0, 250, open_low=True).fault(300)
        'is more than the 250 kg accepted'
        """
        if not self.open_low:
            return say("is outside {wording}", wording=self.wording())
        unit = after(self.unit)
        if value > self.high:
            return say("is more than the {high:g}{unit} accepted", high=self.high, unit=unit)
        return say("is too little; give {wording}", wording=self.wording())


_TENTH = Guess(mark("did you mean {guess}"), lambda value: value / 10)
_SIGN = Guess(mark("did you mean {guess}"), lambda value: -value)
_TENFOLD = Guess(mark("did you mean {guess}"), lambda value: value * 10)
_KGF_PER_MM = Guess(mark("was it kgf/mm ({value} kgf/mm is {guess} N/mm)"), lambda value: value * KGF)
_LBF_PER_IN = Guess(mark("was it lbf/in ({value} lbf/in is {guess} N/mm)"), lambda value: value * LBF_PER_IN)
_INCHES = Guess(mark("was it inches ({value} in is {guess} mm)"), lambda value: value * INCH)
_CENTIMETRES = Guess(mark("was it centimetres ({value} cm is {guess} mm)"), lambda value: value * 10)
_POUNDS = Guess(mark("was it pounds ({value} lb is {guess} kg)"), lambda value: value * POUND)
_FEET = Guess(mark("was it feet ({value} ft is {guess} m)"), lambda value: value * FOOT)
_FAHRENHEIT = Guess(mark("was it Fahrenheit ({value} °F is {guess} °C)"), lambda value: (value - 32) / 1.8)
_KELVIN = Guess(mark("was it kelvin ({value} K is {guess} °C)"), lambda value: value - 273.15)
_PASCAL = Guess(mark("was it pascal ({value} Pa is {guess} kPa)"), lambda value: value / 1000)
_MEGAPASCAL = Guess(mark("was it MPa ({value} MPa is {guess} GPa)"), lambda value: value / 1000)
_CUBIC_MM = Guess(mark("was it cubic millimetres ({value} mm³ is {guess} cm³)"), lambda value: value / 1000)
_FROM_GROUND = Guess(mark("was it measured from the ground ({guess}° from the vertical)"), lambda value: 90 - value)
_INVERTED = Guess(
    mark("is it inverted ({guess} mm of wheel travel per mm of shock stroke)"),
    lambda value: 1 / value if value else 0.0
)
_RADIUS = Guess(mark("was it the radius ({guess} mm across)"), lambda value: value * 2)

_RATE = (_TENTH, _TENFOLD, _KGF_PER_MM, _LBF_PER_IN)
_LENGTH = (_TENTH, _INCHES, _CENTIMETRES)
_MASS = (_POUNDS, _TENTH)


def _rate(what: str, low: float, high: float, holder: str = "") -> Band:
    return Band(what, "N/mm", low, high, guesses=_RATE, holder=holder)


def _length(what: str, low: float, high: float, *, open_low: bool = False, holder: str = "") -> Band:
    return Band(what, "mm", low, high, open_low, _LENGTH, holder)


def _axle(what: str) -> Band:
    return Band(what, "kg", 0, 400, open_low=True, guesses=_MASS)


def _warmth(what: str) -> Band:
    return Band(what, "°C", -30, 90, guesses=(_FAHRENHEIT, _KELVIN))


def _spring(place: str, holder: str, firm: tuple[float, float], soft: tuple[float, float]) -> dict[str, Band]:
    """Return the bands of every field of a spring in `place` ("leg_spring"), named in words by `holder`."""
    return {
        f"{place}.rate_n_per_mm": _rate(mark("the rate of {holder}"), *firm, holder),
        f"{place}.soft_n_per_mm": _rate(mark("the soft rate of {holder}"), *soft, holder),
        f"{place}.hard_n_per_mm": _rate(mark("the hard rate of {holder}"), *firm, holder),
        f"{place}.change_mm": _length(mark("the change-over deflection of {holder}"), 1, 600, holder=holder),
        f"{place}.start_n_per_mm": _rate(mark("the starting rate of {holder}"), *soft, holder),
        f"{place}.end_n_per_mm": _rate(mark("the end rate of {holder}"), *firm, holder),
        f"{place}.over_mm": _length(
            mark("the deflection over which the rate of {holder} rises"), 1, 600, holder=holder
        ),
        f"{place}.solid_deflection_mm": _length(
            mark("the deflection at which {holder} goes solid"), 1, 600, holder=holder
        ),
    }


BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "person.mass_kg": Band(mark("a person's mass"), "kg", 0, 250, open_low=True, guesses=_MASS),
        "front.stroke_mm": _length(mark("the fork's stroke"), 20, 400),
        "front.rake_deg": Band(mark("the rake from the vertical"), "°", 0, 60, guesses=(_FROM_GROUND, _TENTH)),
        "front.unsprung_kg": Band(mark("the front unsprung mass"), "kg", 0, 80, guesses=_MASS),
        "front.load_static_kg": _axle(mark("the front axle load of the bike alone")),
        "front.load_rider_kg": _axle(mark("the front axle load with the rider")),
        "front.altitude_m": Band(mark("the altitude"), "m", -500, 6000, guesses=(_FEET,)),
        "front.vented_altitude_m": Band(
            mark("the altitude where the fork was vented"), "m", -500, 6000, guesses=(_FEET,)
        ),
        "front.vented_temperature_c": _warmth(mark("the temperature at which the fork was vented")),
        "front.temperature_c": _warmth(mark("the temperature of the fork as ridden")),
        "leg.preload_mm": _length(mark("the preload of a fork leg's spring"), -30, 150),
        "leg.seal_diameter_mm": Band(
            mark("the seal diameter"), "mm", 15, 80, guesses=(_TENTH, _INCHES, _CENTIMETRES, _RADIUS)
        ),
        "leg.bore_diameter_mm": Band(
            mark("the bore diameter"), "mm", 10, 80, guesses=(_TENTH, _INCHES, _CENTIMETRES, _RADIUS)
        ),
        "leg.air_gap_mm": _length(mark("the air gap"), 10, 400),
        "leg.solids_cm3": Band(mark("the volume of the solids"), "cm³", 0, 1000, guesses=(_CUBIC_MM,)),
        "leg.pressure_kpa": Band(
            mark("the pressure above atmosphere in a fork leg"), "kPa", 0, 2000, guesses=(_PASCAL,)
        ),
        **_spring("leg_spring", mark("a fork leg's spring"), (2, 25), (0.5, 25)),
        **_spring("leg_part", mark("one of a leg's springs together"), (0.5, 100), (0.5, 100)),
        "wound.shear_modulus_gpa": Band(mark("the shear modulus"), "GPa", 20, 120, guesses=(_MEGAPASCAL,)),
        "turn.wire_mm": _length(mark("the wire of a turn"), 1, 25),
        "turn.mean_diameter_mm": _length(mark("the mean diameter of a turn"), 5, 200),
        "turn.gap_mm": Band(
            mark("the gap of an open turn (leave out those that lie closed)"), "mm", 0, 100, True, (_SIGN, *_LENGTH)
        ),
        "rear.wheel_travel_mm": _length(mark("the rear wheel's travel"), 20, 500),
        "rear.unsprung_kg": Band(mark("the rear unsprung mass"), "kg", 0, 80, guesses=_MASS),
        "rear.load_static_kg": _axle(mark("the rear axle load of the bike alone")),
        "rear.load_rider_kg": _axle(mark("the rear axle load with the rider")),
        "rear.shocks": Band(mark("the number of shocks"), "", 1, 2),
        "rear.preload_mm": _length(mark("the preload of a shock's spring"), -30, 150),
        "rear.gas_force_n": Band(mark("the gas force of a shock"), "N", 0, 5000, guesses=(_TENTH,)),
        "leverage.wheel_per_shock": Band(mark("the leverage ratio"), "mm/mm", 0.9, 6, guesses=(_INVERTED, _TENTH)),
        **_spring("shock_spring", mark("a shock's spring"), (5, 500), (2, 500)),
        **_spring("shock_part", mark("one of a shock's springs together"), (2, 2000), (2, 2000)),
        "stop.rate_n_per_mm": Band(mark("the rate of a top-out spring or bump stop"), "N/mm", 0, 2000),
        "stop.length_mm": _length(mark("the length of a top-out spring or bump stop"), 0, 400),
        "target.static_sag_mm": _length(mark("the static sag aimed at"), 0, 500),
        "target.rider_sag_mm": _length(mark("the rider sag aimed at"), 0, 500, open_low=True),
        "adjuster_mm": _length(mark("the preload adjuster's end"), -30, 150),
        "displaced_cm3": Band(mark("the volume a spring displaces"), "cm³", 0, 1000, guesses=(_CUBIC_MM,)),
    }
)


def wrong(value: float, band: Band) -> str:
    """    Return the sentence that refuses `value`: what was read, the band, and likely causes.

    `value` is a number in the own unit of `band`. Raises nothing. Source: common practice, no source.

        >>> wrong(46.0, BANDS["leg_spring.rate_n_per_mm"])
        "46 N/mm for the rate of a fork leg's spring is outside 2 to 25 N/mm: did you mean 4.6, \
or was it lbf/in (46 lbf/in is 8.056 N/mm)?"
    """
    unit = after(band.unit)
    causes = []
    for guess in () if band.unit in _EXCHANGED.get() else band.guesses:
        meant = guess.turn(value)
        if band.holds(meant):
            causes.append(say(guess.phrase, value=number(value, ".6g"), guess=number(meant, ".4g")))
    if value == 0 and not causes:
        causes = [say("was it left at zero")]
    sentence = say(
        "{value:.6g}{unit} for {what} {fault}",
        value=value, unit=unit, what=band.named, fault=band.fault(value),
    )
    likely = say(", or ").join(causes[:2])
    return f"{sentence}: {likely}?" if causes else f"{sentence}."

"""Better wire: the same rate wound of another material, so that the wire bears the same share of its strength.

A stronger wire may be thinner. Thinner wire needs fewer turns for the same rate, so the spring weighs less,
displaces less oil and closes to a shorter length; which of the mean diameter and the index is kept is for
whoever orders it to say.

Sources: [1] R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, 10th ed., ch. 10: rate
(eq. 10-9), stress (eq. 10-7), strength of wire (table 10-4). [2] EN 13906-1, the permissible stress as a share
of the tensile strength, at least two active turns (both from memory). That the new wire may bear the same
share as the present one does is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from calc.bands import Band
from calc.checks import Findings
from calc.coil import BANDS as COIL_BANDS
from calc.coil import coil, stress_mpa
from calc.evaluate import rounded
from calc.materials import MATERIALS
from calc.refusal import Note, Problem, Refusal
from calc.words import mark, say

BANDS: MappingProxyType[str, Band] = MappingProxyType(
    {
        "strength_mpa": Band(mark("the wire's tensile strength"), "MPa", 200, 4000),
        "force_n": Band(mark("the most force that the spring carries"), "N", 0, 200_000, open_low=True),
        "shear_modulus_gpa": COIL_BANDS["shear_modulus_gpa"],
    }
)
"""What is accepted (common practice, no source)."""

KEPT = ("mean_diameter", "index")
COIL = ("wire_mm", "mean_diameter_mm", "active_turns", "total_turns", "ends", "material", "shear_modulus_gpa")
LEAST_INDEX = 2.0
"""No wire is tried thicker than this index allows."""
FEWEST_TURNS = 2.0
HALVINGS = 60


@dataclass(frozen=True)
class Stock:
    """A wire as it is bought: the key of its `material`, `shear_modulus_gpa` and `own_strength_mpa` where they are
    known better than the table has them.

    Source: [1], the material's row in `calc.materials`.
    """

    material: str
    shear_modulus_gpa: float | None = None
    own_strength_mpa: float | None = None

    def strength_mpa(self, wire_mm: float) -> float | None:
        """Return the tensile strength in MPa at `wire_mm` (mm): the one stated, else the table's; None if unknown.

        Raises nothing. Source: the material's row in `calc.materials`.

        >>> round(Stock("a229").strength_mpa(4.0)), Stock("titanium").strength_mpa(4.0)
        (1431, None)
        """
        if self.own_strength_mpa is not None:
            return self.own_strength_mpa
        law = MATERIALS[self.material].strength
        return None if law is None else law.strength_mpa(wire_mm)

    @property
    def sizes_mm(self) -> tuple[float, float]:
        """The thinnest and the thickest wire (mm) for which the strength is known."""
        band, law = COIL_BANDS["wire_mm"], MATERIALS[self.material].strength
        if self.own_strength_mpa is not None or law is None:
            return band.low, band.high
        return law.low, law.high

    def shear_gpa(self, wire_mm: float) -> float:
        """Return the shear modulus in GPa at `wire_mm` (mm): the one stated, else the table's.

        Raises nothing. Source: the material's row in `calc.materials`.

        >>> Stock("a401").shear_gpa(4.0), Stock("a401", 78.5).shear_gpa(4.0)
        (77.2, 78.5)
        """
        return self.shear_modulus_gpa or MATERIALS[self.material].at(wire_mm).shear_gpa


def better_wire(request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the spring of the same rate in another wire, and what it saves.

    `request` holds `present`: `wire_mm`, `mean_diameter_mm`, `active_turns`, `total_turns`, `ends`, `material`
    (a key of `MATERIALS`) as in `coil`, optional `shear_modulus_gpa` and `strength_mpa`; `new`: `material`,
    optional `shear_modulus_gpa` and `strength_mpa`; `force_n`, the most force that the spring carries; `keep`,
    what stays: `mean_diameter` or `index`. A strength that is stated goes before the table's.

    With `k = G d⁴/(8 D³ n)` and `τ = K·8FD/(πd³)` [1] the new wire d solves `τ(d)/R_m(d) = τ/R_m` of the
    present one [2], by halving; its active turns follow from the rate, the dead turns stay.

    Returns `present` and `new`, each what `coil` answers with its `wire_mm`, `mean_diameter_mm`, `active_turns`,
    `total_turns` and `strength_mpa`; `share_of_strength`, `mass_saved_g`, `oil_to_add_cm3` (per spring: what
    the new one displaces less) and `solid_length_less_mm`, each negative where the new wire is the worse;
    `notes`. Six significant figures. Raises `Refusal` with every problem found: what `coil` refuses, a strength
    that is not known or exceeded, a wire outside the strength table, fewer than two active turns.

    Half the stress in wire twice as strong: the wire goes down to 0.8 of itself at one index (d² by 1/2).

    Source: [1], [2].

    >>> present = {"wire_mm": 5, "mean_diameter_mm": 40, "active_turns": 20, "total_turns": 22,
    ...     "ends": "closed_ground", "material": "a229", "strength_mpa": 1000}
    >>> found = better_wire({"present": present, "force_n": 500, "keep": "index",
    ...     "new": {"material": "a229", "strength_mpa": 2000}})
    >>> found["new"]["wire_mm"], found["new"]["index"], round((5 / found["new"]["wire_mm"]) ** 2, 4)
    (3.53553, 8.0, 2.0)
    """
    present, new, share = _checked(request)
    held, force = request["present"], request["force_n"]
    wire, across = held["wire_mm"], held["mean_diameter_mm"]
    across_of = _kept(request["keep"], wire, across)
    thin = _wire(new, share, force, across_of)
    rate_n_per_mm = present.shear_gpa(wire) * 1000 * wire**4 / (8 * across**3 * held["active_turns"])
    active = new.shear_gpa(thin) * 1000 * thin**4 / (8 * across_of(thin) ** 3 * rate_n_per_mm)
    if active < FEWEST_TURNS:
        text = say(
            "The same rate in {thin:.3g} mm wire would take {active:.3g} active turns, and these equations need "
            "{fewest_turns:g} (EN 13906-1, from memory){cure}.",
            thin=thin, active=active, fewest_turns=FEWEST_TURNS,
            cure=say(": keep the index in place of the mean diameter") if request["keep"] == "mean_diameter" else "",
        )
        raise Refusal(Problem("new.material", "too_few_turns", text, rounded(active), None, FEWEST_TURNS))
    dead = held["total_turns"] - held["active_turns"]
    wound = {
        "wire_mm": thin,
        "mean_diameter_mm": across_of(thin),
        "active_turns": active,
        "total_turns": active + dead,
        "ends": held["ends"],
        "material": new.material,
        "shear_modulus_gpa": new.shear_modulus_gpa,
    }
    was = _spring({key: held.get(key) for key in COIL}, present, force, "present")
    now = _spring(wound, new, force, "new")
    return {
        "share_of_strength": rounded(share),
        "present": was,
        "new": now,
        "mass_saved_g": rounded(was["mass_g"] - now["mass_g"]),
        "oil_to_add_cm3": rounded(was["displaced_cm3"] - now["displaced_cm3"]),
        "solid_length_less_mm": rounded(was["solid_length_mm"] - now["solid_length_mm"]),
        "notes": [note.as_dict() for note in _notes(was, now, request["keep"], share)],
    }


def _checked(request: Mapping[str, Any]) -> tuple[Stock, Stock, float]:
    """Return both wires and the share of its strength that the present one bears, or refuse what is wrong."""
    findings = Findings()
    findings.number(request, "force_n", "", BANDS["force_n"])
    if request.get("keep") not in KEPT:
        findings.add("keep", "unknown_choice", say(
            "{x!r} to keep: give one of {names}.",
            x=request.get("keep"), names=", ".join(KEPT),
        ))
    for name in ("present", "new"):
        for key in ("strength_mpa", "shear_modulus_gpa"):
            if request[name].get(key) is not None:
                findings.number(request[name], key, name, BANDS[key])
        if request[name].get("material") not in MATERIALS:
            text = say(
                "{x!r} for the material: give one of {names}.",
                x=request[name].get("material"), names=", ".join(MATERIALS),
            )
            findings.add(f"{name}.material", "unknown_choice", text)
    try:
        coil({key: request["present"].get(key) for key in COIL})
    except Refusal as refusal:
        known = {problem.field for problem in findings.problems}
        moved = [replace(problem, field=f"present.{problem.field}") for problem in refusal.problems]
        findings.problems += [problem for problem in moved if problem.field not in known]
    findings.raise_any()
    present, new = (
        Stock(each["material"], each.get("shear_modulus_gpa"), each.get("strength_mpa"))
        for each in (request["present"], request["new"])
    )
    wire, across = request["present"]["wire_mm"], request["present"]["mean_diameter_mm"]
    strength = present.strength_mpa(wire)
    share = 0.0 if strength is None else stress_mpa(request["force_n"], wire, across) / strength
    if strength is None:
        _unknown_strength(findings, "present", present, say("{wire:g} mm", wire=wire))
    if share >= 1:
        text = say(
            "At {force_n:.5g} N the present wire would bear {share:.0f} % of its tensile strength and break: "
            "check the force, in N, the wire and the mean diameter, in mm.",
            force_n=request["force_n"], share=share * 100,
        )
        findings.add("force_n", "past_strength", text, request["force_n"], BANDS["force_n"])
    if new.own_strength_mpa is None and MATERIALS[new.material].strength is None:
        _unknown_strength(findings, "new", new, say("any size"))
    findings.raise_any()
    return present, new, share


def _unknown_strength(findings: Findings, name: str, stock: Stock, size: str) -> None:
    material = MATERIALS[stock.material]
    text = say(
        "The tensile strength of {x} wire of {size} is not in our table: give it, in MPa, from the wire's "
        "certificate.",
        x=material.standard or say(material.name), size=size,
    )
    findings.add(f"{name}.strength_mpa", "strength_unknown", text, None, BANDS["strength_mpa"])


def _kept(keep: str, wire: float, across: float) -> Callable[[float], float]:
    """Return what mean diameter (mm) goes with a wire diameter (mm)."""
    return (lambda thin: across) if keep == "mean_diameter" else (lambda thin: thin * across / wire)


def _wire(stock: Stock, share: float, force: float, across_of: Callable[[float], float]) -> float:
    """Return the wire diameter (mm) that bears `share` of its strength at `force` (N).

    A thicker wire always bears less of its strength, so halving finds the one.
    """
    low, high = stock.sizes_mm
    if across_of(2.0) == across_of(1.0):
        high = min(high, across_of(1.0) / LEAST_INDEX)

    def over(wire: float) -> float:
        return stress_mpa(force, wire, across_of(wire)) / (stock.strength_mpa(wire) or 0.0) - share

    sizes = say("{low:g} to {high:.4g} mm", low=low, high=high)
    if low >= high or over(high) > 0 or over(low) < 0:
        which = say("thicker") if low >= high or over(high) > 0 else say("thinner")
        text = say(
            "The same share of strength would take a wire {which} than the {sizes} that can be judged here: "
            "check the force, in N, and both strengths, in MPa.",
            which=which, sizes=sizes,
        )
        raise Refusal(Problem("new.material", "wire_out_of_reach", text, stock.material, "mm", low, high))
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if over(middle) > 0 else (low, middle)
    return high


def _spring(wound: Mapping[str, Any], stock: Stock, force: float, name: str) -> dict[str, Any]:
    """Return what `coil` says of a spring, with its dimensions and strength."""
    try:
        said = coil({**wound, "force_n": force})
    except Refusal as refusal:
        raise Refusal(*(replace(problem, field=f"{name}.{problem.field}") for problem in refusal.problems)) from None
    names = ("wire_mm", "mean_diameter_mm", "active_turns", "total_turns")
    strength = stock.strength_mpa(wound["wire_mm"])
    return {
        **{each: rounded(wound[each]) for each in names},
        "strength_mpa": None if strength is None else rounded(strength),
        **said,
    }


def _notes(was: Mapping[str, Any], now: Mapping[str, Any], keep: str, share: float) -> list[Note]:
    """Say what the new wire changes, and what it does not answer for."""
    saved = was["mass_g"] - now["mass_g"]
    text = say(
        "Each spring of the same rate is {saved:.3g} g {word} and displaces {displaced_cm3:.3g} cm³ {word2}: "
        "correct the oil for it.",
        saved=abs(saved),
        word=say("lighter") if saved > 0 else say("heavier"),
        displaced_cm3=abs(was["displaced_cm3"] - now["displaced_cm3"]),
        word2=say("less") if was["displaced_cm3"] > now["displaced_cm3"] else say("more"),
    )
    notes = [Note("mass_and_oil", "info" if saved > 0 else "warning", text, rounded(saved), "g")]
    text = say(
        "Both wires bear {share:.0f} % of their tensile strength at this force; whether the spring lasts also "
        "hangs on setting, surface and shot peening, which its maker answers for.",
        share=share * 100,
    )
    notes.append(Note("same_share", "info", text, rounded(share)))
    outside, inside = (
        (now["mean_diameter_mm"] + sign * now["wire_mm"]) - (was["mean_diameter_mm"] + sign * was["wire_mm"])
        for sign in (1, -1)
    )
    text = say(
        "With the {kept} kept the coil is {outside:.2g} mm {word} outside and {inside:.2g} mm {word2} inside: "
        "check its seats and guides.",
        kept=say(keep.replace("_", " ")),
        outside=abs(outside),
        word=say("larger") if outside > 0 else say("smaller"),
        inside=abs(inside),
        word2=say("larger") if inside > 0 else say("smaller"),
    )
    notes.append(Note("check_the_seats", "info", text, rounded(inside), "mm"))
    return notes

"""The cautions of suspension work, each with the step before whose action it must be read.

Signal words are used by their meaning in ANSI Z535.6 (from memory): DANGER, will result in death or serious
injury if not avoided; WARNING, could result in death or serious injury; CAUTION, could result in minor or
moderate injury; NOTICE, is not about injury. The texts are common practice, no source; the maker's manual and
local codes come first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from calc.words import mark
from setups.models import JobCard

Word = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
BIKE, FORK, SHOCK = "", "fork", "shock"
"""What a card is about, as `JobCard.loose` says it: a whole bike, a loose fork, a loose shock."""
ALL = (BIKE, FORK, SHOCK)
WORDS = (mark("DANGER"), mark("WARNING"), mark("CAUTION"), mark("NOTICE"))
"""The signal words, as a sentence says them; a caution's own `word` is the code that decides how it is drawn."""


@dataclass(frozen=True)
class Caution:
    """One caution: its key, the step where it is read, signal word and text, and which cards it is left out
    of.

    `about` lists the jobs that it applies to; a job on a whole bike gets every one but what is certain not to
    matter.
    """

    key: str
    step: str
    word: Word
    text: str
    about: tuple[str, ...] = ALL


CAUTIONS = (
    Caution(
        "manual_first",
        "received",
        "WARNING",
        mark(
            "The maker's manual for this very bike and part, and the local codes, come first, before anything "
            "on this card. This work is for trained people, and where the law asks for it, licensed ones: a "
            "fault in it can cause a crash that kills."
        ),
    ),
    Caution(
        "bike_support",
        "measured",
        "WARNING",
        mark(
            "A bike that falls from its stand could crush you. Support it by the frame on a stand made for it, "
            "strap it down, and have a second person hold it, before a wheel leaves the ground and while the "
            "rider mounts for the readings."
        ),
        (BIKE,),
    ),
    Caution(
        "spring_compressor",
        "built",
        "WARNING",
        mark(
            "A compressed spring holds enough energy to kill if it slips. Use a compressor made for this "
            "spring, check its hooks or plates for cracks, keep head and hands out of the spring's line, and "
            "never loosen a seat or collar that the compressor does not hold."
        ),
    ),
    Caution(
        "gas_pressure",
        "built",
        "DANGER",
        mark(
            "A charged damper or reservoir that is opened under pressure will throw its parts and will kill or "
            "maim whoever is in the way. Release the gas only by the maker's procedure, if you are trained for "
            "it, eyes protected, valve pointing away. Never heat, drill or cut a charged part. Refill with "
            "nitrogen only, never with air or oxygen."
        ),
    ),
    Caution(
        "cap_pressure",
        "built",
        "WARNING",
        mark(
            "A fork cap under spring preload and trapped air could fly off and blind you. Bleed the air, fully "
            "extend the leg, back off the preload, and keep your face aside while you unscrew the cap against "
            "your hand's weight."
        ),
        (BIKE, FORK),
    ),
    Caution(
        "hot_oil",
        "built",
        "CAUTION",
        mark(
            "Oil that was just ridden hot could scald, and it makes the floor slippery. Let the parts cool, "
            "wear gloves and eye protection, wipe up at once."
        ),
    ),
    Caution(
        "brakes_and_leads",
        "built",
        "WARNING",
        mark(
            "A pinched or stretched brake hose or wheel-speed sensor lead could leave the bike without brakes "
            "or ABS. Never hang a caliper by its hose, never work the lever with the caliper off its disc, "
            "route hoses and leads as the manual shows, and pump the brake until it is firm before the bike "
            "moves."
        ),
        (BIKE,),
    ),
    Caution(
        "axle_and_clamps",
        "built",
        "WARNING",
        mark(
            "A loose axle or clamp could let the wheel or the fork go while riding, and an overtightened clamp "
            "could crack or make the fork bind. Tighten in the manual's order to the manual's values with a "
            "calibrated wrench, and let a second person check."
        ),
        (BIKE,),
    ),
    Caution(
        "clearance",
        "built",
        "WARNING",
        mark(
            "At full compression a wheel could hit mudguard, exhaust, radiator or belly and lock. After a "
            "change of spring length, fork height or ride height, move the wheel through its whole travel with "
            "the springs out or held, and look."
        ),
        (BIKE,),
    ),
    Caution(
        "spring_seating",
        "built",
        "WARNING",
        mark(
            "A spring that is loose or off its seat, or that goes solid before the end of the stroke, could "
            "break parts and throw the rider. Check seat, collar, lock ring and spacer before the load comes "
            "on."
        ),
        (FORK, SHOCK),
    ),
    Caution(
        "oil_disposal",
        "built",
        "NOTICE",
        mark(
            "Old oil harms water and soil. Collect it and give it to a licensed taker by the local codes; do "
            "not mix it with brake fluid or coolant."
        ),
    ),
    Caution(
        "first_ride",
        "handed_over",
        "WARNING",
        mark(
            "A bike set up anew handles otherwise, and a mistake shows on the first ride, where it could cause "
            "a crash. Before it, check brakes, axles, clamps and free travel of the steering; start slowly, "
            "away from traffic; stop at any noise, leak or pull; check the torques again after the first ride "
            "as the manual asks."
        ),
        (BIKE,),
    ),
    Caution(
        "refitting",
        "handed_over",
        "WARNING",
        mark(
            "A fork or shock that is refitted wrongly could come loose and cause a crash. Whoever fits it to "
            "the bike does so by the bike's own manual: its torques, clearance at full compression, hose and "
            "lead routing, and a slow first ride."
        ),
        (FORK, SHOCK),
    ),
)


def applying(card: JobCard) -> tuple[Caution, ...]:
    """Return the cautions of a card, in the order of its steps.

    A job on one end of a bike keeps those of the other: both wheels leave the ground sooner or later.
    """
    return tuple(caution for caution in CAUTIONS if card.loose in caution.about)

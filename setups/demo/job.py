"""One story worked through the verbs, step by step, until where it stands today."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from setups import cautions, fasteners, sums
from setups.demo.clock import standing_at
from setups.demo.stories import TORQUES, UNTOUCHED, Clicks, Fitted, Story, Tape
from setups.demo.workshop import Workshop
from setups.models import Bike, Customer, JobCard, Rider, TorqueLine
from setups.record import links, seal
from setups.verbs import bikes, cards, parts, readings, settings, sign_offs, torques
from shops.models import Tool
from shops.trail import Actor

ENDS = ("front", "rear")
FASTENERS = {"front": fasteners.FORK, "rear": fasteners.SHOCK}
STEPS = ("received", "measured", "chosen", "built", "remeasured", "handed_over", "sealed")
OPENS = time(8, 30)
STEP_MINUTES = {
    "received": 0,
    "measured": 40,
    "chosen": 80,
    "built": 150,
    "remeasured": 390,
    "handed_over": 450,
    "sealed": 480,
}
"""How long after opening each step is done, in minutes."""
WRENCHES = {"HAR": ("TW-0417", "TW-0523"), "HIL": ("TW-1105", "TW-1106")}
SCALES = {"HAR": "AX-31", "HIL": "AX-44"}
TAPE = "tape, axle to mark"
LINES_LEFT_OPEN = 3


@dataclass
class Job:
    """A job card on its way. `springs` has the codes of the springs that the bike stands on, by end."""

    workshop: Workshop
    story: Story
    bike: Bike
    customer: Customer
    rider: Rider
    springs: dict[str, str]
    today: date
    card: JobCard = field(init=False)
    link_secret: str | None = None

    @property
    def actor(self) -> Actor:
        """Return the technician whose job it is."""
        return self.workshop.actor(self.story.technician)

    def run(self) -> None:
        """Do every step up to the story's last, each at its own time."""
        for step in STEPS[: STEPS.index(self.story.until) + 1]:
            with self.at(step):
                getattr(self, step)()

    @contextmanager
    def at(self, step: str, days: int = 0) -> Iterator[None]:
        """Let the clock stand where `step` of this job is done, or `days` later."""
        day = self.today - timedelta(days=self.story.days_ago - days)
        with standing_at(datetime.combine(day, OPENS, UTC) + timedelta(minutes=STEP_MINUTES[step])):
            yield

    def received(self) -> None:
        """Open the card and write down how the bike came in."""
        story = self.story
        self.card = cards.open_card(
            self.actor, customer=self.customer, bike=self.bike, rider=self.rider, complaint=story.complaint
        )
        self.note(distance_km=story.distance_km, hours=story.hours, internal_notes=story.internal_notes)
        for end in ENDS:
            self.write("received", end, self.as_received(end))
        self.read_cautions("received")

    def measured(self) -> None:
        """Weigh the bike and read the sags."""
        self.read_cautions("measured")
        self.weigh()
        self.read_sags("received")
        if self.story.cases:
            names = ("label", "mass_kg", "rear_share")
            self.note(cases=[dict(zip(names, case, strict=True)) for case in self.story.cases])
        if self.story.prepared:
            self.list_torques(ENDS)
        self.note(step="measured")

    def chosen(self) -> None:
        """Fit the story's springs on paper: preload, gap and spacer come from the ranking."""
        for end, fitted in self.fitted.items():
            spring = self.workshop.springs[self.story.shop, fitted.code]
            settings.fit(self.actor, self.card, end, spring, fitted.preload_mm)
        self.note(step="chosen")

    def built(self) -> None:
        """Read the cautions, build, and tighten; a job that stops here has some lines still open."""
        self.read_cautions("built")
        for end in self.fitted:
            settings.copy_to_built(self.actor, self.card, end)
            self.write("built", end, self.as_built(end))
            self.swap_parts(end)
        lines = self.list_torques(self.fitted)
        self.tighten(lines[:-LINES_LEFT_OPEN] if self.story.until == "built" else lines)
        self.note(step="built")

    def remeasured(self) -> None:
        """Read the sags of the rebuilt bike, and sign the work off."""
        self.read_sags("built")
        sign_offs.sign_off(self.actor, self.card, "work")
        self.note(step="remeasured")

    def handed_over(self) -> None:
        """Explain the work to the rider and hand the bike over."""
        story = self.story
        self.read_cautions("handed_over")
        opened = self.today - timedelta(days=story.days_ago)
        self.note(
            explanation=story.explanation,
            next_service_on=opened + timedelta(days=story.service_days),
            next_service_note=story.service_note,
            step="handed_over",
        )
        sign_offs.sign_off(self.actor, self.card, "hand_over")

    def sealed(self) -> None:
        """Seal the card, keep the bike's data up to date, and do what the story has after that."""
        seal.seal(self.actor, self.card)
        self.keep_with_bike()
        if self.story.link_days:
            _, self.link_secret = links.share(
                self.actor, self.card, days=self.story.link_days, share_mass=False
            )
        if self.story.amendment:
            change = self.story.amendment
            with self.at("sealed", days=1):
                new = self.story.explanation + change["add"]
                seal.amend(self.actor, self.card, path=change["path"], new=new, why=change["why"])

    def note(self, **values: Any) -> None:
        """Change the card's face."""
        cards.change_card(self.actor, self.card, self.card.version, values)

    def write(self, stage: str, end: str, body: dict[str, Any]) -> None:
        """Write a setting over the one that the card holds."""
        present = sums.setting_of(self.card, stage, end)
        settings.write_setting(self.actor, self.card, stage, end, body, present.version if present else None)

    @property
    def fitted(self) -> dict[str, Fitted]:
        """Return what the story fits, by end; an end left alone is not in it."""
        told = {"front": self.story.front, "rear": self.story.rear}
        return {end: fitted for end, fitted in told.items() if fitted is not None}

    def as_received(self, end: str) -> dict[str, Any]:
        """Return the received setting with what the technician found on the bench written in."""
        body = deepcopy(dict(sums.body_of(self.card, "received", end) or {}))
        spring = self.workshop.springs.get((self.story.shop, self.springs[end]))
        named = {"stock_spring": spring.pk, "label": f"{spring.code} {spring.label}"} if spring else {}
        sources = body["sources"]
        if end == "rear":
            body |= named
            sources |= {"spring": {"from": "stamped"}, "preload_mm": {"from": "measured"}}
        else:
            for number, leg in enumerate(body["legs"]):
                if leg["spring"] is not None:
                    leg.update(named)
                    sources |= {
                        f"legs.{number}.spring": {"from": "stamped"},
                        f"legs.{number}.preload_mm": {"from": "measured"},
                    }
                sources[f"legs.{number}.air_gap_mm"] = {"from": "measured"}
            body["fork_height_mm"] = 4.0
        body["clickers"] = clickers(self.story.clicks.get(end))
        body["tyre_pressure_kpa"] = self.story.tyres_kpa[ENDS.index(end)]
        return body

    def as_built(self, end: str) -> dict[str, Any]:
        """Return what was built: the chosen setting in whole half millimetres, oil and clickers as set."""
        body = deepcopy(dict(sums.body_of(self.card, "built", end) or {}))
        for holder in [body] if end == "rear" else body["legs"]:
            if holder["spring"] is not None:
                holder["preload_mm"] = round(holder["preload_mm"] * 2) / 2
            if end == "front":
                holder["air_gap_mm"] = float(round(holder["air_gap_mm"]))
        if end == "front":
            body["oil_grade"] = self.story.oil
        for clicker in body["clickers"]:
            if clicker["adjuster"] == "rebound":
                clicker["position"] -= 1
        return body

    def weigh(self) -> None:
        """Take the axle scales' readings."""
        scales = self.story.scales
        loads = {
            "front": (scales.front_alone, scales.front_rider),
            "rear": (scales.rear_alone, scales.rear_rider),
        }
        tool = self.workshop.tools[SCALES[self.story.shop]]
        readings.take_readings(
            self.actor,
            self.card,
            [
                {
                    "stage": "received",
                    "end": end,
                    "quantity": quantity,
                    "value": value,
                    "instrument": str(tool),
                }
                for end in ENDS
                for quantity, value in zip(("axle_alone_kg", "axle_rider_kg"), loads[end], strict=True)
            ],
        )

    def read_sags(self, stage: str) -> None:
        """Read the tape where calc says that such springs settle, the story's slips and stiction added."""
        for end in self.fitted if stage == "built" else ENDS:
            tape = self.story.front_tape if end == "front" else self.story.rear_tape
            side = sums.side(self.card, stage, end, sums.body_of(self.card, stage, end))
            if side.result is None:
                raise ValueError(f"{self.card} {stage} {end}: {side.problems or side.missing}")
            sags = (side.result["static_sag_mm"], side.result["rider_sag_mm"])
            taken = (
                pairs(tape, sags)
                if stage == "built"
                else {"wheel_free_mm": tape.free_mm, **pairs(tape, sags)}
            )
            readings.take_readings(
                self.actor,
                self.card,
                [
                    {"stage": stage, "end": end, "quantity": quantity, "value": value, "instrument": TAPE}
                    for quantity, value in taken.items()
                ],
            )

    def read_cautions(self, step: str) -> None:
        """Read every caution of a step."""
        for caution in cautions.applying(self.card):
            if caution.step == step:
                sign_offs.read_caution(self.actor, self.card, caution.key)

    def swap_parts(self, end: str) -> None:
        """Note the new spring as fitted and the old one as given back, if another was fitted."""
        if self.fitted[end].code == self.springs[end]:
            return
        spring = self.workshop.springs[self.story.shop, self.fitted[end].code]
        body = sums.body_of(self.card, "built", end) or {}
        count = (
            self.story.bike.rear["shocks"]
            if end == "rear"
            else sum(leg["spring"] is not None for leg in body["legs"])
        )
        parts.add_part(
            self.actor,
            self.card,
            direction="fitted",
            description=f"{spring.code} {spring.label}",
            quantity=count,
            batch=spring.batch,
            spring=spring,
        )
        parts.add_part(
            self.actor,
            self.card,
            direction="given_back",
            description=f"Spring {self.springs[end]}",
            quantity=count,
        )

    def list_torques(self, ends: Iterable[str]) -> list[TorqueLine]:
        """Write value, source and wrench into the lines of what is undone at `ends`; remove the others."""
        undone = {fastener.name for end in ends for fastener in FASTENERS[end]}
        values = {name: torque for name, torque in TORQUES[self.story.bike.key].items() if name in undone}
        listed = []
        for line in self.card.torques.all():
            if line.fastener not in values:
                torques.remove_torque(self.actor, line, line.version, UNTOUCHED)
                continue
            torque = values[line.fastener]
            written = {
                "value_nm": torque.value_nm,
                "source_edition": self.story.bike.manual,
                "source_page": torque.page,
                "wrench": self.wrench(big=torque.big),
            }
            listed.append(torques.change_torque(self.actor, line, line.version, written))
        return listed

    def tighten(self, lines: Sequence[TorqueLine]) -> None:
        """Tighten, and let another check what needs it."""
        for line in lines:
            torques.tighten(self.actor, line)
            if line.needs_second_check:
                torques.check(self.workshop.actor(self.story.checker), line)

    def wrench(self, *, big: bool) -> Tool:
        """Return the shop's wrench for the torque at hand."""
        return self.workshop.tools[WRENCHES[self.story.shop][big]]

    def keep_with_bike(self) -> None:
        """Write what was built into the bike's own data, from which its next card starts."""
        values: dict[str, Any] = {}
        kept = ("spring", "preload_mm", "air_gap_mm", "solids_cm3", "pressure_kpa")
        for end in self.fitted:
            body = sums.body_of(self.card, "built", end) or {}
            if end == "front":
                changed: dict[str, Any] = {"legs": [{key: leg[key] for key in kept} for leg in body["legs"]]}
            else:
                changed = {key: body[key] for key in ("spring", "preload_mm")}
            values[end] = {**getattr(self.bike, end), **changed}
        bikes.change_bike(self.actor, self.bike, self.bike.version, values)
        self.springs.update({end: fitted.code for end, fitted in self.fitted.items()})


def clickers(clicks: Clicks | None) -> list[dict[str, Any]]:
    """Return the clickers as a setting keeps them."""
    if clicks is None:
        return []
    return [
        {"adjuster": adjuster, "leg": "", "position": position, "unit": "clicks", "counted_from": "fully_in"}
        for adjuster, position in (("rebound", clicks.rebound), ("compression", clicks.compression))
        if position is not None
    ]


def pairs(tape: Tape, sags: tuple[float, float]) -> dict[str, float]:
    """Return the lengths in whole mm that `tape` reads, settled from above and below, at the two sags."""
    read = {}
    for name, sag, half, slip in zip(("alone", "rider"), sags, tape.half_gap_mm, tape.slips_mm, strict=True):
        settled = tape.free_mm - sag + slip
        read[f"{name}_from_above_mm"] = float(round(settled + half))
        read[f"{name}_from_below_mm"] = float(round(settled - half))
    return read

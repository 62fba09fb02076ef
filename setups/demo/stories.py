"""The demo's job cards as told: who brings what, what is found and fitted, how far the job has come."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from setups.demo.bikes import DUNLIN, FELLSIDE, LANCET, MINNOW, PARADE, WHEATEAR, BikeData


@dataclass(frozen=True)
class Scales:
    """What the axle scales read, in kg: each end alone and with the rider on."""

    front_alone: float
    front_rider: float
    rear_alone: float
    rear_rider: float


@dataclass(frozen=True)
class Tape:
    """How the tape is read at one end: wheel-free length, half the gap of each stiction pair, the slips.

    All in mm. The slips (bike alone, with the rider) shift a pair away from where the springs would settle.
    """

    free_mm: float
    half_gap_mm: tuple[float, float]
    slips_mm: tuple[float, float]


@dataclass(frozen=True)
class Fitted:
    """What is fitted at one end: the spring's code, and the preload in mm if not the one proposed."""

    code: str
    preload_mm: float | None = None


@dataclass(frozen=True)
class Clicks:
    """Damping clicks out from fully in; None where the end has no such adjuster."""

    rebound: int | None
    compression: int | None


@dataclass(frozen=True)
class Story:
    """One job card. `until` is the step where it stands today; `days_ago` when it was opened.

    `cases`: what rides along on other days, as label, mass in kg and the rear axle's share of it.
    `prepared`: what the manual says of the torques is written in ahead of the build.
    """

    bike: BikeData
    shop: str
    technician: str
    checker: str
    rider: int
    days_ago: int
    until: str
    complaint: str
    scales: Scales
    front_tape: Tape
    rear_tape: Tape
    front: Fitted | None = None
    rear: Fitted | None = None
    clicks: Mapping[str, Clicks] = field(default_factory=dict)
    tyres_kpa: tuple[float, float] = (220.0, 240.0)
    oil: str = ""
    distance_km: float | None = None
    hours: float | None = None
    internal_notes: str = ""
    explanation: str = ""
    service_days: int = 365
    service_note: str = ""
    cases: tuple[tuple[str, float, float], ...] = ()
    prepared: bool = False
    link_days: int | None = None
    amendment: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class Torque:
    """A value and page as the bike's (invented) manual has them; `big` asks for the larger wrench."""

    value_nm: float
    page: str
    big: bool = False


TORQUES: Mapping[str, Mapping[str, Torque]] = {
    "dunlin": {
        "Front axle": Torque(38.0, "4-9"),
        "Front axle clamp bolts": Torque(16.0, "4-9"),
        "Fork clamp bolts, upper": Torque(18.0, "4-11"),
        "Fork caps": Torque(27.0, "4-15"),
        "Shock bolt, upper": Torque(46.0, "5-8"),
        "Shock bolt, lower": Torque(46.0, "5-8"),
    },
    "fellside": {
        "Front axle": Torque(62.0, "6-11", big=True),
        "Front axle clamp bolts": Torque(18.0, "6-11"),
        "Fork clamp bolts, upper": Torque(22.0, "6-14"),
        "Fork clamp bolts, lower": Torque(19.0, "6-14"),
        "Handlebar clamp bolts": Torque(24.0, "6-16"),
        "Front brake caliper bolts": Torque(34.0, "7-5"),
        "Fork caps": Torque(32.0, "6-18"),
        "Rear axle": Torque(104.0, "8-3", big=True),
        "Rear brake caliper bolts": Torque(26.0, "7-9"),
        "Shock bolt, upper": Torque(56.0, "8-12"),
        "Shock bolt, lower": Torque(56.0, "8-12"),
    },
    "lancet": {
        "Front axle": Torque(66.0, "12-7", big=True),
        "Front axle clamp bolts": Torque(21.0, "12-7"),
        "Fork clamp bolts, upper": Torque(20.0, "12-9"),
        "Fork clamp bolts, lower": Torque(23.0, "12-9"),
        "Front brake caliper bolts": Torque(36.0, "13-4"),
        "Fork caps": Torque(28.0, "12-12"),
        "Rear axle": Torque(112.0, "12-15", big=True),
        "Shock bolt, upper": Torque(48.0, "12-18"),
        "Shock bolt, lower": Torque(48.0, "12-18"),
        "Linkage bolts": Torque(52.0, "12-19"),
    },
    "minnow": {
        "Front axle": Torque(58.0, "5-6", big=True),
        "Front axle clamp bolts": Torque(19.0, "5-6"),
        "Fork clamp bolts, upper": Torque(23.0, "5-8"),
        "Fork clamp bolts, lower": Torque(27.0, "5-8"),
        "Front brake caliper bolts": Torque(29.0, "6-3"),
        "Fork caps": Torque(24.0, "5-10"),
        "Shock bolt, upper": Torque(33.0, "5-14"),
        "Shock bolt, lower": Torque(38.0, "5-14"),
    },
    "parade": {
        "Front axle": Torque(64.0, "10-8", big=True),
        "Front axle clamp bolts": Torque(20.0, "10-8"),
        "Fork clamp bolts, upper": Torque(25.0, "10-10"),
        "Fork clamp bolts, lower": Torque(29.0, "10-10"),
        "Front brake caliper bolts": Torque(31.0, "11-2"),
        "Fork caps": Torque(26.0, "10-12"),
        "Shock bolt, upper": Torque(37.0, "10-15"),
        "Shock bolt, lower": Torque(41.0, "10-15"),
    },
}
"""Per bike, the fasteners that were undone. They belong to invented bikes: never use them on a real one."""

UNTOUCHED = "Not undone in this job."

STORIES = (
    Story(
        bike=FELLSIDE,
        shop="HAR",
        technician="tamsin",
        checker="jory",
        rider=0,
        days_ago=735,
        until="sealed",
        complaint="Dives hard on the brakes and weaves with boxes on.",
        scales=Scales(112.0, 150.0, 118.0, 177.0),
        front_tape=Tape(612.0, (4.0, 5.0), (1.0, -1.0)),
        rear_tape=Tape(598.0, (2.0, 3.0), (2.0, 1.0)),
        front=Fitted("A45-6.6"),
        rear=Fitted("B60-94"),
        clicks={"front": Clicks(12, 10), "rear": Clicks(14, None)},
        tyres_kpa=(230.0, 260.0),
        oil="Fork oil 10W, fresh",
        distance_km=21480.0,
        internal_notes="Left stanchion lightly pitted below the seal; customer told.",
        explanation="Your fork's adjuster could not wind its springs far enough for you and the boxes. The new, "
        "stiffer ones hold the front up when you brake; the rear spring now carries the load with less winding up.",
        service_note="Fork oil and seals.",
    ),
    Story(
        bike=LANCET,
        shop="HAR",
        technician="jory",
        checker="tamsin",
        rider=0,
        days_ago=402,
        until="sealed",
        complaint="Front pushes wide mid-corner and bottoms under hard braking.",
        scales=Scales(92.0, 132.0, 91.0, 135.0),
        front_tape=Tape(428.0, (3.0, 3.5), (0.0, 1.0)),
        rear_tape=Tape(512.0, (1.5, 2.0), (-0.5, 0.5)),
        front=Fitted("T43-11.0"),
        clicks={"front": Clicks(9, 8), "rear": Clicks(11, 12)},
        tyres_kpa=(215.0, 195.0),
        oil="Fork oil 5W, fresh",
        hours=31.0,
        internal_notes="Brought on a van; stand at the swingarm only.",
        explanation="The shock suits you and stays. Stiffer fork springs keep the front from using up its "
        "travel while you brake. Turn the rebound one click at a time from where it stands now.",
        service_days=200,
        service_note="Fork oil after 20 hours on track.",
        amendment={
            "path": "explanation",
            "add": " Tyre pressures on this record are for a cold tyre.",
            "why": "The rider asked whether the pressures are for a cold or a warm tyre.",
        },
    ),
    Story(
        bike=MINNOW,
        shop="HIL",
        technician="idris",
        checker="bexley",
        rider=0,
        days_ago=214,
        until="sealed",
        complaint="Nose dives at every light; the rear kicks over speed bumps.",
        scales=Scales(78.0, 106.0, 82.0, 128.0),
        front_tape=Tape(466.0, (3.0, 4.0), (-1.0, 0.5)),
        rear_tape=Tape(421.0, (2.0, 2.0), (1.5, 0.0)),
        front=Fitted("R41-5.8"),
        rear=Fitted("W44-16.0"),
        clicks={},
        tyres_kpa=(210.0, 230.0),
        oil="Fork oil 15W, fresh",
        distance_km=14120.0,
        explanation="The fork springs suit you; they are wound on, so the front stays level when you stop. "
        "The shocks got a pair of springs that need less winding up.",
        service_note="Look at the shocks for oil.",
        link_days=300,
    ),
    Story(
        bike=FELLSIDE,
        shop="HIL",
        technician="bexley",
        checker="idris",
        rider=0,
        days_ago=12,
        until="remeasured",
        complaint="Now rides with luggage for two weeks at a time; the rear squats and the lamp shines high.",
        scales=Scales(112.0, 150.0, 134.0, 216.0),
        front_tape=Tape(612.0, (4.5, 5.0), (0.5, -0.5)),
        rear_tape=Tape(598.0, (2.5, 3.0), (-0.5, 1.0)),
        rear=Fitted("B60-126"),
        clicks={"front": Clicks(12, 10), "rear": Clicks(12, None)},
        tyres_kpa=(230.0, 280.0),
        oil="Fork oil 10W, fresh",
        distance_km=38950.0,
        internal_notes="Harbour's record of two years ago read before the job.",
        cases=(("passenger", 68.0, 0.85), ("tent and food", 12.0, 1.1)),
    ),
    Story(
        bike=LANCET,
        shop="HAR",
        technician="jory",
        checker="tamsin",
        rider=1,
        days_ago=6,
        until="handed_over",
        complaint="A heavier rider takes it over for the season: sits low at the rear and runs wide.",
        scales=Scales(92.0, 138.0, 91.0, 154.0),
        front_tape=Tape(428.0, (3.0, 3.0), (1.0, 0.0)),
        rear_tape=Tape(512.0, (1.5, 1.5), (0.0, -0.5)),
        rear=Fitted("C57-105"),
        clicks={"front": Clicks(8, 8), "rear": Clicks(10, 12)},
        tyres_kpa=(215.0, 195.0),
        oil="Fork oil 5W, fresh",
        hours=58.0,
        explanation="The fork suits you as it is. The stiffer shock spring brings the rear back up to "
        "where the lighter rider had it.",
        service_days=200,
        service_note="Fork oil after 20 hours on track.",
    ),
    Story(
        bike=PARADE,
        shop="HIL",
        technician="idris",
        checker="bexley",
        rider=0,
        days_ago=3,
        until="built",
        complaint="Wallows in fast bends, the front sinks when braking, the rear bottoms on bumps.",
        scales=Scales(96.0, 138.0, 107.0, 171.0),
        front_tape=Tape(489.0, (4.0, 4.5), (0.0, -1.0)),
        rear_tape=Tape(437.0, (2.0, 2.5), (0.5, 0.5)),
        front=Fitted("R41-8.2"),
        rear=Fitted("W44-20.0"),
        clicks={},
        tyres_kpa=(230.0, 250.0),
        oil="Fork oil 15W, fresh",
        distance_km=46210.0,
        internal_notes="Chrome good, bushes worn: replaced in this job.",
    ),
    Story(
        bike=WHEATEAR,
        shop="HAR",
        technician="jory",
        checker="tamsin",
        rider=0,
        days_ago=2,
        until="chosen",
        complaint="Beats me up on roots and will not settle; bought from a heavier rider.",
        scales=Scales(50.0, 87.0, 53.0, 94.0),
        front_tape=Tape(641.0, (4.0, 4.0), (-0.5, 1.0)),
        rear_tape=Tape(655.0, (2.0, 3.0), (1.0, 0.0)),
        front=Fitted("E48-6.4"),
        rear=Fitted("L62-40"),
        clicks={"front": Clicks(14, 12), "rear": Clicks(15, 14)},
        tyres_kpa=(90.0, 85.0),
        hours=44.0,
        cases=(("bags for a long weekend", 14.0, 0.95),),
    ),
    Story(
        bike=DUNLIN,
        shop="HAR",
        technician="tamsin",
        checker="jory",
        rider=0,
        days_ago=1,
        until="measured",
        complaint="Bottoms on landings, dives into ruts, and the rear kicks in braking bumps.",
        scales=Scales(58.0, 106.0, 57.0, 107.0),
        front_tape=Tape(636.0, (4.0, 5.0), (0.5, -1.0)),
        rear_tape=Tape(662.0, (2.5, 3.0), (-0.5, 1.0)),
        clicks={"front": Clicks(11, 12), "rear": Clicks(13, 10)},
        tyres_kpa=(95.0, 90.0),
        hours=26.0,
        internal_notes="Bought used; springs stamped for a light rider. Torques written in ahead.",
        prepared=True,
    ),
    Story(
        bike=MINNOW,
        shop="HIL",
        technician="bexley",
        checker="idris",
        rider=0,
        days_ago=1,
        until="received",
        complaint="Yearly look; has begun to carry a tool box.",
        scales=Scales(80.0, 109.0, 88.0, 137.0),
        front_tape=Tape(466.0, (3.0, 4.0), (0.0, 0.0)),
        rear_tape=Tape(421.0, (2.0, 2.0), (0.0, 0.0)),
    ),
)
"""In the order of opening; every card is opened after the one before it in its shop is as far as it gets."""

LOOSE_FORK_COMPLAINT = "Fork only, off the bike: leaks on the left, and the rider is heavier than before."
LOOSE_FORK_DESCRIPTION = "48 mm fork of an enduro bike, marked LARCH on the clamps"

"""An invented job in the shapes of the API: bike, people and every value are made up."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from calc.evaluate import evaluate
from setups import cautions
from setups.record.document import Documents, Gathered, Heading, build
from shops.models import default_units

MASS_KG = 83.25
OWNER, PLATE, FRAME = "Ilse Marrant", "QX 771", "VKD450R0001932"
AXLE_KG = {"front": (62.25, 103.75), "rear": (60.25, 109.75)}

FRONT = {
    "stroke_mm": 300,
    "rake_deg": 26.5,
    "unsprung_kg": 16,
    "seal_diameter_mm": 48,
    "bore_diameter_mm": 42,
    "seat_length_mm": 560,
    "washers_mm": 2,
    "adjuster_mm": None,
    "spring_outer_max_mm": 40,
    "spring_length_mm": 480,
}
REAR = {
    "wheel_travel_mm": 300,
    "unsprung_kg": 22,
    "shocks": 1,
    "adjuster_mm": [2, 18],
    "spring_length_mm": 240,
    "leverage": {
        "kind": "table",
        "wheel_mm": [0, 60, 120, 180, 240, 300],
        "shock_mm": [0, 18.5, 38.2, 59.3, 82, 106.5],
    },
}


def leg(rate: float, preload: float, gap: float, label: str) -> dict[str, Any]:
    return {
        "spring": {"kind": "straight", "rate_n_per_mm": rate},
        "stock_spring": None,
        "label": label,
        "preload_mm": preload,
        "air_gap_mm": gap,
        "gap_read_with": "spring_out",
        "solids_cm3": 70,
        "pressure_kpa": 0,
        "spacer_mm": None,
    }


def front_body(rate: float, preload: float, gap: float, label: str, origin: str, clicks: int) -> dict[str, Any]:
    keys = [f"legs.{n}.{key}" for n in (0, 1) for key in ("spring", "preload_mm", "air_gap_mm")]
    return {
        "legs": [leg(rate, preload, gap, label), leg(rate, preload, gap, label)],
        "clickers": [
            {
                "adjuster": "rebound",
                "leg": "both",
                "position": clicks,
                "unit": "clicks",
                "counted_from": "fully_in",
            },
            {
                "adjuster": "compression",
                "leg": "both",
                "position": 14,
                "unit": "clicks",
                "counted_from": "fully_in",
            },
        ],
        "fork_height_mm": 5,
        "tyre_pressure_kpa": 105,
        "oil_grade": "SAE 5W",
        "oil_cm3_per_leg": 612,
        "sources": {key: {"from": origin} for key in keys},
    }


def rear_body(rate: float, preload: float, label: str, origin: str, clicks: int) -> dict[str, Any]:
    return {
        "spring": {"kind": "straight", "rate_n_per_mm": rate},
        "stock_spring": None,
        "label": label,
        "preload_mm": preload,
        "gas_force_n": 250,
        "ride_height_mm": None,
        "tyre_pressure_kpa": 110,
        "clickers": [
            {
                "adjuster": "rebound",
                "leg": "",
                "position": clicks,
                "unit": "clicks",
                "counted_from": "fully_in",
            },
            {
                "adjuster": "high_speed_compression",
                "leg": "",
                "position": 1.5,
                "unit": "turns",
                "counted_from": "fully_in",
            },
        ],
        "sources": {
            "spring": {"from": origin},
            "preload_mm": {"from": "measured"},
            "gas_force_n": {"from": "assumed"},
        },
    }


SETTINGS: dict[str, Any] = {
    "received": {
        "front": front_body(3.6, 12, 110, "", "stamped", 12),
        "rear": rear_body(46, 15, "", "stamped", 12),
    },
    "chosen": {
        "front": front_body(4.0, 8, 108.5, "QF-40", "stamped", 11),
        "rear": rear_body(52, 9, "QR-52", "stamped", 10),
    },
    "built": {
        "front": front_body(4.0, 8.5, 108, "QF-40", "measured", 11),
        "rear": rear_body(52, 9.5, "QR-52", "measured", 10),
    },
}


def request(stage: str, end: str) -> dict[str, Any]:
    """What calc is asked for one stage and end."""
    static, rider = AXLE_KG[end]
    loads = {"load_static_kg": static, "load_rider_kg": rider}
    body = SETTINGS[stage][end]
    if end == "rear":
        keys = ("wheel_travel_mm", "unsprung_kg", "shocks", "leverage")
        rest = {key: body[key] for key in ("spring", "preload_mm", "gas_force_n")}
        return {**{key: REAR[key] for key in keys}, **loads, **rest}
    tube = {"seal_diameter_mm": 48, "bore_diameter_mm": 42}
    keys = ("spring", "preload_mm", "air_gap_mm", "solids_cm3", "pressure_kpa")
    legs = [{**{key: one[key] for key in keys}, **tube} for one in body["legs"]]
    return {"stroke_mm": 300, "rake_deg": 26.5, "unsprung_kg": 16, "altitude_m": 0, **loads, "legs": legs}


VERDICTS = {
    "received": {
        "front": "The fork springs are too soft: rider sag 81.5 mm is over 68 to 78 mm, though static sag is right.",
        "rear": "The shock spring is too soft and living on preload: rider sag 112 mm is right (102 to "
        "112 mm), but static sag 21.5 mm is under 28 to 38 mm; fit stiffer with less preload.",
    },
    "chosen": {"front": "4 N/mm suits this rider.", "rear": "52 N/mm suits this rider."},
    "built": {
        "front": "The fork springs suit this rider: both sags lie in the band.",
        "rear": "The shock spring suits this rider: both sags lie in the band.",
    },
}

SAG = {
    "received": {"front": (39, 81.5), "rear": (21.5, 112)},
    "built": {"front": (36.5, 76), "rear": (31, 110.5)},
}


def sag(static: float, rider: float) -> dict[str, Any]:
    return {
        "static_sag_mm": static,
        "rider_sag_mm": rider,
        "static_band_mm": 2.0,
        "rider_band_mm": 2.5,
        "friction_n": 18.4,
        "static_u_mm": 1.5,
        "rider_u_mm": 1.8,
        "notes": [],
    }


def readings() -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for stage, label in (("received", "as received"), ("built", "measured again")):
        for end, free in (("front", 921.0), ("rear", 640.0)):
            static, rider = SAG[stage][end]
            lengths = {
                "wheel_free_mm": free,
                "alone_from_above_mm": free - static + 2,
                "alone_from_below_mm": free - static - 2,
                "rider_from_above_mm": free - rider + 2.5,
                "rider_from_below_mm": free - rider - 2.5,
            }
            loads = {"axle_alone_kg": AXLE_KG[end][0], "axle_rider_kg": AXLE_KG[end][1]} if stage == "received" else {}
            for quantity, value in {**lengths, **loads}.items():
                found.append(
                    {
                        "id": len(found) + 1,
                        "stage": stage,
                        "end": end,
                        "quantity": quantity,
                        "label": f"{quantity.rsplit('_', 1)[0].replace('_', ' ')}, {label}",
                        "value": value,
                        "unit": quantity.rsplit("_", 1)[1],
                        "instrument": "steel rule",
                        "origin": "measured",
                        "taken_by_name": "Tove Brask",
                        "taken_at": "2031-04-02T09:10:00+00:00",
                        "struck": False,
                        "counts": True,
                    }
                )
    return found


def torque(fastener: str, value: float, page: str, checked: str | None) -> dict[str, Any]:
    return {
        "id": 1,
        "version": 2,
        "fastener": fastener,
        "count": 1,
        "value_nm": value,
        "source_edition": "owner's manual, 2nd edition",
        "source_page": page,
        "wrench": 1,
        "wrench_name": "Click wrench 5–60 N·m (W-104)",
        "calibrated_on": "2030-09-30",
        "calibration_due": "2031-09-30",
        "wrench_cycles": 212,
        "needs_second_check": checked is not None,
        "tightened_by_name": "Tove Brask",
        "tightened_at": "2031-04-02T14:05:00+00:00",
        "checked_by_name": checked,
        "checked_at": "2031-04-02T14:20:00+00:00" if checked else None,
    }


CAUTIONS = [(one.key, one.step, one.word, one.text) for one in cautions.CAUTIONS if cautions.BIKE in one.about]


def card() -> dict[str, Any]:
    """The whole card as the API answers it."""
    return {
        "id": 7,
        "version": 31,
        "number": "NOR-0007",
        "shop": 1,
        "shop_name": "Harbour Works",
        "step": "handed_over",
        "step_label": "handed over",
        "may_change": True,
        "bike": {
            "id": 3,
            "version": 2,
            "owner": 4,
            "owner_name": OWNER,
            "make": "Veldt",
            "model": "Kestrel 450 R",
            "year": 2029,
            "kind": "enduro",
            "plate": PLATE,
            "frame_number": FRAME,
            "front": FRONT,
            "rear": REAR,
            "sources": {
                "front.stroke_mm": {
                    "from": "manual",
                    "edition": "owner's manual, 2nd edition",
                    "page": "112",
                },
                "front.seal_diameter_mm": {"from": "measured"},
                "front.bore_diameter_mm": {"from": "measured"},
                "rear.leverage": {"from": "measured"},
                "front.rake_deg": {"from": "manual"},
            },
            "notes": "",
            "title": "Veldt Kestrel 450 R 2029",
        },
        "loose": "",
        "loose_description": "",
        "loose_front": None,
        "loose_rear": None,
        "customer": {"id": 4, "name": OWNER, "phone": "000 0101", "email": "ilse@example.org"},
        "rider": {"id": 5, "name": OWNER, "mass_in_kit_kg": MASS_KG},
        "complaint": "Dives under braking, bottoms over jumps, and the front tucks in slow corners.",
        "internal_notes": "Pays on Friday. Previous shop left the left cap cross-threaded.",
        "explanation": "Both springs were too soft for you, so they had been wound up until the sag "
        "looked right. "
        "Now the springs carry you and the preload is back where it belongs. The fork will stay higher "
        "when you brake.",
        "distance_km": 4210.0,
        "hours": 96.5,
        "next_service_on": "2032-04-01",
        "next_service_note": "or after 50 hours: fork oil and seals",
        "altitude_m": 0.0,
        "cases": [],
        "corrections": [],
        "opened_by_name": "Tove Brask",
        "opened_at": "2031-04-02T08:30:00+00:00",
        "targets": {
            "front": {"static_sag_mm": [30, 40], "rider_sag_mm": [68, 78]},
            "rear": {"static_sag_mm": [28, 38], "rider_sag_mm": [102, 112]},
            "source": "the shop's own for enduro",
        },
        "loads": {
            stage: {
                end: {"static_kg": AXLE_KG[end][0], "rider_kg": AXLE_KG[end][1], "from": "axle scales"}
                for end in ("front", "rear")
            }
            for stage in ("received", "built")
        },
        "readings": readings(),
        "sag": {stage: {end: sag(*SAG[stage][end]) for end in ("front", "rear")} for stage in ("received", "built")},
        "sag_problems": {},
        "settings": {
            stage: {end: {"version": 1, "body": SETTINGS[stage][end]} for end in ("front", "rear")}
            for stage in SETTINGS
        },
        "torques": [
            torque("front axle nut", 90, "74", "Jonas Feld"),
            torque("front axle clamp bolts", 12, "74", "Jonas Feld"),
            torque("lower fork clamp bolts", 17, "81", "Jonas Feld"),
            torque("upper fork clamp bolts", 19, "81", "Jonas Feld"),
            torque("fork caps", 30, "83", None),
            torque("brake caliper bolts", 28, "90", "Jonas Feld"),
            torque("shock, upper bolt", 60, "97", None),
            torque("shock, lower bolt", 60, "97", None),
            torque("linkage bolts", 80, "98", None),
            torque("handlebar clamp bolts", 24, "60", "Jonas Feld"),
            torque("rear axle", 100, "79", "Jonas Feld"),
            torque("rear brake caliper bolts", 26, "91", "Jonas Feld"),
        ],
        "parts": [
            {
                "id": 1,
                "direction": "fitted",
                "description": "Fork spring QF-40, 4 N/mm",
                "quantity": 2,
                "batch": "B117",
            },
            {
                "id": 2,
                "direction": "fitted",
                "description": "Shock spring QR-52, 52 N/mm",
                "quantity": 1,
                "batch": "B098",
            },
            {
                "id": 3,
                "direction": "given_back",
                "description": "Fork spring 3.6 N/mm",
                "quantity": 2,
                "batch": "",
            },
            {
                "id": 4,
                "direction": "given_back",
                "description": "Shock spring 46 N/mm",
                "quantity": 1,
                "batch": "",
            },
        ],
        "cautions": [
            {
                "key": key,
                "step": step,
                "word": word,
                "text": text,
                "read_by_name": "Tove Brask",
                "read_at": "2031-04-02T10:00:00+00:00",
            }
            for key, step, word, text in CAUTIONS
        ],
        "sign_offs": [
            {
                "part": "work",
                "part_label": "work done",
                "statement": "The work above was done as written here.",
                "by_name": "Tove Brask",
                "at": "2031-04-02T15:00:00+00:00",
            },
            {
                "part": "hand_over",
                "part_label": "handed over and explained",
                "statement": "The bike was handed over and the changes explained.",
                "by_name": "Jonas Feld",
                "at": "2031-04-02T16:00:00+00:00",
            },
        ],
        "blockers": [],
        "overrides": [],
        "photos": [],
        "estimate": None,
        "record": None,
        "links": [],
    }


SHOP = {
    "business": "Brask & Feld Suspension",
    "name": "Harbour Works",
    "code": "NOR",
    "address": "2 Quay Lane\nNordhaven",
    "phone": "000 0100",
    "time_zone": "Etc/GMT-1",
    "paper": "A4",
    "language": "en",
    "units": default_units(),
}


def gathered(**shop: Any) -> Gathered:
    """Everything that the record is made of."""
    inputs = {stage: {end: request(stage, end) for end in ("front", "rear")} for stage in SETTINGS}
    sides = {
        stage: {
            end: {
                "result": evaluate({end: ends[end]})[end],
                "verdict": {"code": "suits", "text": VERDICTS[stage][end]},
            }
            for end in ("front", "rear")
        }
        for stage, ends in inputs.items()
    }
    return deepcopy(Gathered(card(), sides, inputs, SHOP | shop, {"front": None, "rear": None}, [11, 12, 13]))


def documents(number: int = 12, **shop: Any) -> Documents:
    """The invented job's documents, as they are sealed."""
    return build(gathered(**shop), Heading(number, "2031-04-02T16:05:00Z", "Jonas Feld"))


def loose_fork() -> Documents:
    """A loose fork of which nothing was weighed or read: unlike legs, no rear end, nothing computed."""
    whole = gathered()
    no_ends: dict[str, Any] = {"front": None, "rear": None}
    settings = {stage: {"front": ends["front"], "rear": None} for stage, ends in whole.card["settings"].items()}
    legs = settings["received"]["front"]["body"]["legs"]
    legs[0]["spring"] = {"kind": "dual", "soft_n_per_mm": 3.2, "hard_n_per_mm": 4.4, "change_mm": 120}
    legs[1]["spring"] = {"kind": "progressive", "start_n_per_mm": 3.2, "end_n_per_mm": 4.4, "over_mm": 220}
    card_of_part = {
        **whole.card,
        "bike": None,
        "rider": None,
        "loose": "fork",
        "loose_description": "48 mm, closed cartridge",
        "loose_front": FRONT,
        "readings": [],
        "targets": {**no_ends, "source": "none"},
        "sag": dict.fromkeys(("received", "built"), no_ends),
        "loads": dict.fromkeys(("received", "built"), no_ends),
        "settings": settings,
        "explanation": "",
        "next_service_on": None,
        "next_service_note": "",
    }
    unknown = {"result": None, "verdict": {"code": "unknown", "text": "No verdict yet."}}
    sides = {stage: {"front": unknown, "rear": unknown} for stage in SETTINGS}
    part = Gathered(card_of_part, sides, {}, SHOP, no_ends, [])
    return build(part, Heading(12, "2031-04-02T16:05:00Z", "Jonas Feld"))

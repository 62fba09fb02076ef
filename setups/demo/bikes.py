"""The demo's bikes: invented makes and models with suspension data that hang together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from setups.demo.springs import shelf

SHELF = {spring.code: spring for spring in shelf("HAR")}


@dataclass(frozen=True)
class BikeData:
    """A bike as the business knows it: its owner's key, papers, the data of both ends and their sources.

    `came_with` has the codes of the fork's and the shock's springs when the business first saw the bike.
    """

    key: str
    owner: str
    make: str
    model: str
    year: int
    kind: str
    plate: str
    frame_number: str
    front: Mapping[str, Any]
    rear: Mapping[str, Any]
    came_with: tuple[str, str]
    sources: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    notes: str = ""
    chassis: Mapping[str, Any] | None = None

    @property
    def manual(self) -> str:
        """Return the name of the invented manual that its torque values are read from."""
        return f"{self.make} {self.model} workshop manual, edition 2 (invented)"


def spring(code: str) -> dict[str, Any]:
    """Return the spring with this code in the demo's list, as calc takes it."""
    return dict(SHELF[code].spring)


def leg(code: str | None, preload_mm: float, air_gap_mm: float, solids_cm3: float) -> dict[str, Any]:
    """Return a vented fork leg with a spring of the list; `code` None is an empty one."""
    return {
        "spring": None if code is None else spring(code),
        "preload_mm": preload_mm,
        "air_gap_mm": air_gap_mm,
        "solids_cm3": solids_cm3,
        "pressure_kpa": 0.0,
    }


def sources(manual: str, **pages: str) -> dict[str, dict[str, str]]:
    """Return the sources of facts read from `manual`, by path with a double underscore for the dot."""
    return {
        path.replace("__", "."): {"from": "manual", "edition": manual, "page": page}
        for path, page in pages.items()
    }


MEASURED = {"from": "measured"}
STAMPED = {"from": "stamped"}

DUNLIN = BikeData(
    key="dunlin", owner="elowen", make="Halvard", model="Dunlin 450", year=2023, kind="motocross",
    plate="", frame_number="HVD450X7K004417", came_with=("D48-3.4", "L62-38"),
    front={
        "stroke_mm": 305.0, "rake_deg": 26.8, "unsprung_kg": 15.0,
        "seal_diameter_mm": 48.0, "bore_diameter_mm": 43.0, "seat_length_mm": 548.0, "washers_mm": 2.0,
        "adjuster_mm": [0.0, 20.0], "spring_outer_max_mm": 42.0, "spring_length_mm": 485.0,
        "legs": [leg("D48-3.4", 8.0, 112.0, 72.0), leg("D48-3.4", 8.0, 112.0, 72.0)],
    },
    rear={
        "wheel_travel_mm": 305.0, "unsprung_kg": 22.0, "shocks": 1,
        "leverage": {
            "kind": "table",
            "wheel_mm": [0.0, 30.0, 60.0, 90.0, 120.0, 150.0, 180.0, 210.0, 240.0, 270.0, 305.0],
            "shock_mm": [0.0, 10.5, 21.4, 32.7, 44.4, 56.4, 68.7, 81.5, 94.6, 108.1, 124.3],
        },
        "adjuster_mm": [0.0, 18.0], "spring_inner_min_mm": 61.0, "spring_length_mm": 270.0,
        "spring": spring("L62-38"), "preload_mm": 13.0, "gas_force_n": 240.0,
        "bump": {"rate_n_per_mm": 60.0, "length_mm": 20.0},
    },
    sources={
        "rear.leverage": MEASURED, "rear.spring": STAMPED, "front.legs": STAMPED,
        **sources("Halvard Dunlin 450 workshop manual, edition 2 (invented)", front__stroke_mm="2-4",
                  front__rake_deg="2-3", rear__wheel_travel_mm="2-4"),
    },
    notes="Link rear; leverage measured pair by pair on the bench with the spring off.",
    chassis={
        "measured_at": "alone", "wheelbase_mm": 1475.0, "front_radius_mm": 343.0, "rear_radius_mm": 332.0,
        "offset_mm": 52.0, "mass_height_mm": 810.0, "pivot_x_mm": 572.0, "pivot_z_mm": 450.0,
        "front_sprocket_x_mm": 655.0, "front_sprocket_z_mm": 455.0, "front_teeth": 13, "rear_teeth": 49,
    },
)  # fmt: skip

FELLSIDE = BikeData(
    key="fellside", owner="hollis", make="Brenmark", model="Fellside 1000", year=2021, kind="adventure",
    plate="QM 21 FEL", frame_number="BRM1000F1M002290", came_with=("A45-5.4", "B60-86"),
    front={
        "stroke_mm": 220.0, "rake_deg": 26.0, "unsprung_kg": 19.0,
        "seal_diameter_mm": 45.0, "bore_diameter_mm": 38.0, "seat_length_mm": 505.0, "washers_mm": 1.5,
        "adjuster_mm": [0.0, 25.0], "spring_outer_max_mm": 37.0, "spring_length_mm": 400.0,
        "legs": [leg("A45-5.4", 18.0, 115.0, 70.0), leg("A45-5.4", 18.0, 115.0, 70.0)],
    },
    rear={
        "wheel_travel_mm": 220.0, "unsprung_kg": 27.0, "shocks": 1,
        "leverage": {"kind": "ratio", "wheel_per_shock": 2.75},
        "adjuster_mm": [0.0, 24.0], "spring_inner_min_mm": 59.0, "spring_length_mm": 225.0,
        "spring": spring("B60-86"), "preload_mm": 20.0, "gas_force_n": 300.0,
        "bump": {"rate_n_per_mm": 90.0, "length_mm": 18.0},
    },
    sources={
        **sources("Brenmark Fellside 1000 workshop manual, edition 2 (invented)", front__stroke_mm="1-9",
                  front__rake_deg="1-8", rear__wheel_travel_mm="1-9"),
        "rear.leverage": MEASURED,
    },
    chassis={
        "measured_at": "alone", "wheelbase_mm": 1545.0, "front_radius_mm": 332.0, "rear_radius_mm": 318.0,
        "trail_mm": 111.0, "mass_height_mm": 740.0, "pivot_x_mm": 560.0, "pivot_z_mm": 414.0,
        "front_sprocket_x_mm": 662.0, "front_sprocket_z_mm": 422.0, "front_teeth": 16, "rear_teeth": 42,
    },
)  # fmt: skip

PARADE = BikeData(
    key="parade", owner="cassian", make="Aldovar", model="Parade 750", year=2016, kind="street",
    plate="QM 16 PAR", frame_number="ALD750P0G011873", came_with=("R41-5.8", "W44-16.0"),
    front={
        "stroke_mm": 140.0, "rake_deg": 27.0, "unsprung_kg": 17.0,
        "seal_diameter_mm": 41.0, "bore_diameter_mm": 36.0, "seat_length_mm": 410.0, "washers_mm": 3.0,
        "adjuster_mm": [0.0, 30.0], "spring_outer_max_mm": 34.5, "spring_length_mm": 330.0,
        "legs": [leg("R41-5.8", 18.0, 125.0, 62.0), leg("R41-5.8", 18.0, 125.0, 62.0)],
    },
    rear={
        "wheel_travel_mm": 115.0, "unsprung_kg": 24.0, "shocks": 2,
        "leverage": {"kind": "ratio", "wheel_per_shock": 1.15},
        "adjuster_mm": [0.0, 24.0], "spring_inner_min_mm": 43.0, "spring_length_mm": 245.0,
        "spring": spring("W44-16.0"), "preload_mm": 20.0, "gas_force_n": 60.0,
        "bump": {"rate_n_per_mm": 40.0, "length_mm": 15.0},
    },
    sources=sources("Aldovar Parade 750 workshop manual, edition 2 (invented)", front__stroke_mm="10-2",
                    rear__wheel_travel_mm="10-2"),
    notes="Twin shocks; replace springs in pairs.",
)  # fmt: skip

WHEATEAR = BikeData(
    key="wheatear", owner="sunniva", make="Halvard", model="Wheatear 300", year=2022, kind="enduro",
    plate="QM 22 WHE", frame_number="HVD300E6N001205", came_with=("E48-8.8", "L62-48"),
    front={
        "stroke_mm": 290.0, "rake_deg": 26.5, "unsprung_kg": 15.0,
        "seal_diameter_mm": 48.0, "bore_diameter_mm": 43.0, "seat_length_mm": 560.0, "washers_mm": 2.0,
        "adjuster_mm": [0.0, 20.0], "spring_outer_max_mm": 42.0, "spring_length_mm": 500.0,
        "legs": [leg("E48-8.8", 6.0, 115.0, 95.0), leg(None, 0.0, 115.0, 20.0)],
    },
    rear={
        "wheel_travel_mm": 300.0, "unsprung_kg": 21.0, "shocks": 1,
        "leverage": {
            "kind": "table",
            "wheel_mm": [0.0, 50.0, 100.0, 150.0, 200.0, 250.0, 300.0],
            "shock_mm": [0.0, 18.2, 37.4, 57.6, 78.8, 101.0, 124.2],
        },
        "adjuster_mm": [0.0, 18.0], "spring_inner_min_mm": 61.0, "spring_length_mm": 270.0,
        "spring": spring("L62-48"), "preload_mm": 4.0, "gas_force_n": 235.0,
        "bump": {"rate_n_per_mm": 60.0, "length_mm": 20.0},
    },
    sources={"rear.leverage": MEASURED, "front.legs": STAMPED},
    notes="The spring stands in the left leg only; the right leg holds the damper.",
)  # fmt: skip

LANCET = BikeData(
    key="lancet", owner="averill", make="Corvenne", model="Lancet 600", year=2019, kind="track",
    plate="QM 19 LAN", frame_number="CRV600L3K007731", came_with=("T43-8.0", "C57-84"),
    front={
        "stroke_mm": 120.0, "rake_deg": 23.5, "unsprung_kg": 16.0,
        "seal_diameter_mm": 43.0, "bore_diameter_mm": 37.0, "seat_length_mm": 352.0, "washers_mm": 2.0,
        "adjuster_mm": [0.0, 20.0], "spring_outer_max_mm": 35.5, "spring_length_mm": 290.0,
        "legs": [leg("T43-8.0", 14.0, 118.0, 56.0), leg("T43-8.0", 14.0, 118.0, 56.0)],
    },
    rear={
        "wheel_travel_mm": 125.0, "unsprung_kg": 21.0, "shocks": 1,
        "leverage": {
            "kind": "linkage", "pivot_mm": [0.0, 0.0], "axle_mm": [-540.0, -90.0],
            "shock_top_mm": [-129.0, 174.0], "shock_foot_mm": [-197.0, -175.0],
            "rocker": {
                "on": "frame", "pivot_mm": [-59.0, -87.0],
                "rod_near_mm": [-59.0, -207.0], "rod_far_mm": [-295.0, -16.0],
            },
        },
        "adjuster_mm": [0.0, 16.0], "spring_inner_min_mm": 56.0, "spring_length_mm": 175.0,
        "spring": spring("C57-84"), "preload_mm": 10.0, "gas_force_n": 310.0,
        "bump": {"rate_n_per_mm": 120.0, "length_mm": 12.0},
    },
    sources={
        **sources("Corvenne Lancet 600 workshop manual, edition 2 (invented)", front__stroke_mm="12-1",
                  rear__wheel_travel_mm="12-1"),
        "rear.leverage": MEASURED,
    },
    notes="Linkage measured point by point, the wheel hanging free.",
)  # fmt: skip

MINNOW = BikeData(
    key="minnow", owner="odile", make="Aldovar", model="Minnow 300", year=2020, kind="street",
    plate="QM 20 MIN", frame_number="ALD300M2L003309", came_with=("R41-5.8", "W44-14.0"),
    front={
        "stroke_mm": 130.0, "rake_deg": 26.0, "unsprung_kg": 15.0,
        "seal_diameter_mm": 41.0, "bore_diameter_mm": 36.0, "seat_length_mm": 405.0, "washers_mm": 3.0,
        "adjuster_mm": [0.0, 30.0], "spring_outer_max_mm": 34.5, "spring_length_mm": 330.0,
        "legs": [leg("R41-5.8", 16.0, 125.0, 60.0), leg("R41-5.8", 16.0, 125.0, 60.0)],
    },
    rear={
        "wheel_travel_mm": 120.0, "unsprung_kg": 20.0, "shocks": 2,
        "leverage": {"kind": "ratio", "wheel_per_shock": 1.2},
        "adjuster_mm": [0.0, 24.0], "spring_inner_min_mm": 43.0, "spring_length_mm": 245.0,
        "spring": spring("W44-14.0"), "preload_mm": 16.0, "gas_force_n": 55.0,
        "bump": {"rate_n_per_mm": 40.0, "length_mm": 15.0},
    },
)  # fmt: skip

BIKES = (DUNLIN, FELLSIDE, PARADE, WHEATEAR, LANCET, MINNOW)
"""Every bike of the first business."""

LOOSE_FORK: Mapping[str, Any] = {
    **WHEATEAR.front, "unsprung_kg": 15.0,
    "legs": [leg("D48-4.2", 6.0, 112.0, 70.0), leg("D48-4.2", 6.0, 112.0, 70.0)],
}  # fmt: skip
"""A fork brought in without its bike."""

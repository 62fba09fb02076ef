"""What winding preload on or off does: how much brings the rider sag to a wanted place, and both sags after it.

Source: [1] elementary statics: at rest the wheel's force is the sprung load, and every spring's force rises with its
preload.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from calc.evaluate import end_from, rounded, sprung_load
from calc.fork import Fork
from calc.rear import Rear
from calc.solve import settle

_STEPS, _TIMES = 325, 3
"""Each time the range is cut into so many less one parts: three times find a preload to a nanometre."""


@dataclass(frozen=True)
class Wound:
    """A change of preload, `by_mm` on every spring, and the sags it gives, `static_mm` and `rider_mm`.

    All in mm, sags along the end's own coordinate. Raises nothing. Source: [1].

    >>> Wound(2.0, 25.0, 70.0).by_mm
    2.0
    """

    by_mm: float
    static_mm: float
    rider_mm: float


class Winding:
    """One end whose preload is wound on or off: made once, asked for as many rider sags as are wanted.

    `request` is one end as in `evaluate`, checked, `name` is front or rear. A spring's going solid is left out.
    Raises nothing. Source: [1].

    On 2.5 mm of wheel per mm of shock 90 kg are 90·g·2.5 at the spring of 52 N/mm; 76 mm of sag are 30.4 mm of its
    travel, and the rest of what that load compresses it is preload, of which 10 mm are there.

    >>> winding = Winding({"wheel_travel_mm": 300, "unsprung_kg": 22, "load_static_kg": 57, "load_rider_kg": 112,
    ...     "leverage": {"kind": "ratio", "wheel_per_shock": 2.5}, "preload_mm": 10,
    ...     "spring": {"kind": "straight", "rate_n_per_mm": 52}}, "rear")
    >>> round(winding.to(76.0, (-10.0, 60.0)).by_mm, 4), round(90 * 9.80665 * 2.5 / 52 - 76 / 2.5 - 10, 4)
    (2.0326, 2.0326)
    """

    def __init__(self, request: Mapping[str, Any], name: str) -> None:
        """Take the end as it stands."""
        self._end: Fork | Rear = end_from(request, name)
        self._static, self._rider = sprung_load(request, "static"), sprung_load(request, "rider")

    def to(self, rider_sag_mm: float, limits_mm: tuple[float, float]) -> Wound:
        """Return the change of preload within `limits_mm` that brings the rider sag nearest to `rider_sag_mm`.

        `rider_sag_mm` and both limits are in mm.
        """
        at = np.asarray(min(max(rider_sag_mm / 1000, 0.0), self._end.travel))
        low, high = (limit / 1000 for limit in limits_mm)
        for _ in range(_TIMES):
            tried = np.linspace(low, high, _STEPS)
            carried = np.broadcast_to(self._end.wound_up(tried).force_and_slope(at)[0], tried.shape)
            above = min(int(np.searchsorted(carried, self._rider)), _STEPS - 1)
            low, high = float(tried[max(above - 1, 0)]), float(tried[above])
        return self._sags(0.5 * (low + high))

    def _sags(self, by: float) -> Wound:
        end = self._end.wound_up(by)
        static, rider = settle(end, np.array([self._static, self._rider])).tolist()
        return Wound(rounded(by * 1000), rounded(static * 1000), rounded(rider * 1000))

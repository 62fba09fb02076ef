"""The accepted bands of what is typed on a card besides the physics; set wide (common practice, no
source).
"""

from __future__ import annotations

from calc.bands import Band

PERCENT = Band("a sag in percent of travel", "%", 0, 60)
YEAR = Band("the year of build", "", 1900, 2100)
DISTANCE = Band("the distance ridden", "km", 0, 2_000_000)
HOURS = Band("the hours run", "h", 0, 100_000)
QUANTITY = Band("the number of pieces", "", 1, 999)

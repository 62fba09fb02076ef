"""The accepted bands of what is typed on a card besides the physics; set wide (common practice, no
source).
"""

from __future__ import annotations

from calc.bands import Band
from calc.words import mark

PERCENT = Band(mark("a sag in percent of travel"), "%", 0, 60)
YEAR = Band(mark("the year of build"), "", 1900, 2100)
DISTANCE = Band(mark("the distance ridden"), "km", 0, 2_000_000)
HOURS = Band(mark("the hours run"), "h", 0, 100_000)
FASTENERS = Band(mark("the number of fasteners"), "", 1, 60)
QUANTITY = Band(mark("the number of pieces"), "", 1, 999)

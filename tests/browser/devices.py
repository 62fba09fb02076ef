"""Debian's Chromium, and the sizes in pixels of what it plays: known without Django, for benches begin before it."""

from __future__ import annotations

from pathlib import Path

CHROMIUM = Path("/usr/bin/chromium")
TABLET = {"width": 820, "height": 1180}
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1440, "height": 900}

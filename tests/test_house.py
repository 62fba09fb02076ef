"""The house itself: what stands at the top level, and what no committed file may hold."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "manage.py",
    "shops",
    "setups",
    "calc",
    "frontend",
    "tests",
    "requirements.lock",
}
# Assembled from halves, so that this file does not hold what it forbids.
FORBIDDEN = {
    "a package registry's host": re.compile(r"py" + r"pi\.org|python" + r"hosted\.org|registry\.np" + r"mjs"),
    "a path of a machine": re.compile(r"/wo" + r"rk/|/ro" + r"ot/|/home/[a-z]"),
}


def tracked() -> list[Path]:
    """Return the files that a commit would hold: tracked ones and new ones that are not ignored."""
    listing = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    return [ROOT / name for name in listing.splitlines() if (ROOT / name).is_file()]


def test_the_top_level_holds_exactly_what_is_agreed():
    visible = {path.relative_to(ROOT).parts[0] for path in tracked()}
    assert {name for name in visible if not name.startswith(".")} == TOP_LEVEL


@pytest.mark.parametrize("what", FORBIDDEN)
def test_no_file_holds(what):
    found = [
        str(path.relative_to(ROOT))
        for path in tracked()
        if FORBIDDEN[what].search(path.read_text(encoding="utf-8", errors="replace"))
    ]
    assert found == []


def test_the_readme_has_the_two_commands_and_ci_runs_the_second():
    commands = re.findall(r"^```sh\n(.*?)\n```$", (ROOT / "README.md").read_text(encoding="utf-8"), re.M | re.S)
    assert len(commands) == 2
    assert commands[0].endswith("manage.py start")
    printed = subprocess.run(["bash", ".ci/readme-command", "2"], cwd=ROOT, check=True, capture_output=True, text=True)
    assert printed.stdout.strip() == commands[1]


def test_the_client_brings_no_inline_script_or_style():
    for page in (ROOT / "frontend").glob("*.html"):
        text = page.read_text(encoding="utf-8")
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=", text), page.name
        assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", text)), page.name
        assert not re.search(r"(?:src|href)=[\"']?(?:https?:)?//", text), page.name

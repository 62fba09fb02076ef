"""The outside checks are counted: enough of them, each with its source, one module at least for each room of calc."""

from __future__ import annotations

import importlib
import inspect
import pkgutil

import pytest

import tests.published
from tests.published.source import KINDS, LIBRARY, PRINTED

MODULES = [
    importlib.import_module(f"tests.published.{found.name}")
    for found in pkgutil.iter_modules(tests.published.__path__)
    if found.name.startswith("test_") and found.name != "test_meta"
]
CHECKS = [
    (module, name, each)
    for module in MODULES
    for name, each in vars(module).items()
    if name.startswith("test_") and inspect.isfunction(each) and each.__module__ == module.__name__
]
ROOMS = {
    "springs", "coil", "materials", "tester", "fork", "gas", "leverage", "linkage", "rear", "sag", "choose", "chassis",
    "contact", "damping", "uncertainty", "units", "smoothing",
}  # fmt: skip
FEWEST, FEWEST_PRINTED = 40, 25


def test_there_are_enough_checks_from_outside():
    outside = [each for _, _, each in CHECKS if getattr(each, "kind", None) in (PRINTED, LIBRARY)]
    printed = [each for each in outside if each.kind == PRINTED]
    assert len(outside) >= FEWEST
    assert len(printed) >= FEWEST_PRINTED


@pytest.mark.parametrize(("module", "name", "each"), CHECKS, ids=lambda case: case if isinstance(case, str) else "")
def test_a_check_names_its_source(module, name, each):
    assert len(getattr(each, "source", "").split()) >= 2, f"{module.__name__}.{name} lacks @source(…)"
    assert each.kind in KINDS


def test_every_room_of_the_physics_has_its_outside_checks():
    having = {module.__name__.removeprefix("tests.published.test_") for module, _, _ in CHECKS}
    assert having >= ROOMS

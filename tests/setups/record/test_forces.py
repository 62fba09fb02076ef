"""The table behind a sealed picture, against the curves in the record's internal part and pint's table of units."""

from __future__ import annotations

import re

import numpy as np
import pint
import pytest

from setups import figures
from setups.record import page
from setups.record.forces import forces
from tests.setups.record import invented
from tests.setups.record.test_pdf import sealed_of

STAGES = ("received", "chosen", "built")


@pytest.fixture(scope="module")
def documents():
    return invented.documents()


@pytest.mark.parametrize("units", [{}, page.INCHES_AND_POUNDS])
@pytest.mark.parametrize("end", ["front", "rear"])
def test_it_tells_the_forces_of_every_curve_drawn(documents, end, units):
    with figures.as_read("en", units):
        table = forces(documents.public["pictures"][end])
    ureg = pint.UnitRegistry()
    mm, n = (ureg.Quantity(1, {"lbf": "force_pound"}.get(unit, unit)).to(metric).magnitude
             for unit, metric in ((table.length, "mm"), (table.force, "N")))  # fmt: skip
    assert (table.length, table.force) == (("in", "lbf") if units else ("mm", "N"))
    assert 5 <= len(table.rows) <= 8
    assert len(table.names) == len(STAGES)
    for (_, column), stage in zip(table.traces, STAGES, strict=True):
        curve = documents.internal["results"][stage][end]["curve"]
        wanted = np.interp([float(travel) * mm for travel in table.travels], curve["travel_mm"], curve["total_n"])
        # A tenth of a unit of the picture, and three figures.
        assert [float(force) * n for force in column] == pytest.approx(wanted, rel=6e-3, abs=max(wanted) * 2e-3)
    assert float(table.travels[-1]) * mm == pytest.approx(curve["travel_mm"][-1], rel=5e-3)


def test_a_picture_sealed_with_paths_tells_the_same(documents):
    """Earlier records hold each curve as path data."""
    svg = documents.public["pictures"]["front"]

    def as_path(found):
        return f'd="M{found[1].replace(" ", "L").replace(",", " ")}"'

    assert forces(re.sub(r'points="([^"]+)"', as_path, svg)) == forces(svg)


def test_the_customers_page_folds_it_under_the_picture(documents):
    html = page.html(sealed_of(documents))
    assert html.count("<summary>The same as a table</summary>") == 2
    [front, _] = re.findall(r"The same as a table</summary>(.*?)</details>", html, re.DOTALL)
    assert re.findall(r'scope="col">([^<]+)<', front) == ["Travel, mm", "as received, N", "chosen, N", "as built, N"]
    assert 5 <= len(re.findall(r'<tr><th scope="row">[\d.]+</th>(?:<td>[\d. \u202f]+</td>){3}</tr>', front)) <= 8


def test_no_picture_has_no_table():
    assert forces(None) is None

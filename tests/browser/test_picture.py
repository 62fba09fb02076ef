"""The picture's words, set by a browser: none lies over another."""

from __future__ import annotations

import numpy as np
import pytest

from calc.picture import picture
from tests.calc.test_picture import request_for

pytestmark = pytest.mark.browser

BOXES = """() => [...document.querySelectorAll("svg")].map((svg) =>
    [...svg.querySelectorAll("text")].map((text) => {
        const box = text.getBBox();
        return [text.textContent, box.x, box.y, box.x + box.width, box.y + box.height];
    }))"""


def test_words_do_not_collide_as_a_browser_sets_them(context):
    rng = np.random.default_rng(7)
    roles = [
        ("received",),
        ("received", "chosen"),
        ("received", "chosen", "built"),
        ("chosen", "soft_wound_up"),
    ]
    pictures = [
        picture(request_for(end, each, rng)) for end in ("front", "rear") for each in roles for _ in range(4)
    ]
    page = context.new_page()
    page.set_content("".join(pictures))
    found = page.evaluate(BOXES)
    assert len(found) == len(pictures)
    for boxes in found:
        for index, (one, left, top, right, bottom) in enumerate(boxes):
            assert left >= -1, one
            assert right <= 721, one
            for other, other_left, other_top, other_right, other_bottom in boxes[index + 1 :]:
                # A line of text is set in a box taller than its ink: up to a quarter may meet.
                across = min(right, other_right) - max(left, other_left)
                down = min(bottom, other_bottom) - max(top, other_top)
                assert across <= 1 or down <= 0.25 * min(bottom - top, other_bottom - other_top), (one, other)

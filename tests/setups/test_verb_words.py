"""Every verb that the trail is written with is named in the reader's language."""

from __future__ import annotations

import ast
from pathlib import Path

from django.utils import translation

from setups.audit.verb_words import VERBS, verb_words

ROOT = Path(__file__).resolve().parents[2]
PLACE = {"record": 1, "observe": 1, "line": 1, "_change": 1}
"""Where the verb stands in the calls that write the trail."""


def written():
    """Return the verbs that stand literally in calls that write the trail, with their places."""
    for room in ("shops", "setups"):
        for path in sorted((ROOT / room).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if not isinstance(node, ast.Call):
                    continue
                name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                if name in PLACE and len(node.args) > 3 and isinstance(node.args[1], ast.Constant):
                    verb = node.args[PLACE[name]].value
                    if isinstance(verb, str):
                        yield verb, f"{path.relative_to(ROOT)}:{node.lineno}"


def test_every_verb_of_the_source_is_known():
    found = list(written())
    assert len({verb for verb, _ in found}) > 50
    assert [(verb, place) for verb, place in found if verb not in VERBS] == []


def test_every_known_verb_has_a_german_name_and_a_foreign_one_stays():
    with translation.override("de"):
        assert [verb for verb in VERBS if verb_words(verb) == verb] == []
        assert verb_words("do what nobody does now") == "do what nobody does now"

"""Every text of the client can be collected, and nothing that people read goes past `t`."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings

from calc.units import EXACT
from shops.site import collect

CLIENT = Path(settings.ROOT, "frontend", "js")
COMMENT = re.compile(r"/\*.*?\*/|(?<!:)//[^\n]*", re.S)
WRAPPED = re.compile(r'(?<![\w.$])(?:t\(|tn\([^"`]*?)"((?:[^"\\]|\\.)*)"')
FILLED = re.compile(r"\$\{(?:[^{}`]|\{[^{}]*\})*\}?")

# Where a text for people stands, and is none of ours to translate: names, units, commands.
WORD = r'"[^"\n]*"|`[^`]*`'
SHOWN = {
    "a property": re.compile(rf'(?<![\w-])(?:label|title|hint|text|submit|add|none|empty|"aria-label"): ({WORD})'),
    "an element's text": re.compile(rf'(?<![\w.])h\(\s*"[a-z0-9]+",\s*(?:null|\{{[^{{}}]*\}}),\s*({WORD})'),
    "what is said": re.compile(rf"(?<![\w$])(?:say|title)\(({WORD})\)"),
}
OURS = re.compile(r'^"(?:Coilbook|manage\.py \w+|[a-z-]*)"$|^`\$\{[^}]*\} · Coilbook`$')
UNITS = {unit for units in EXACT.values() for unit in units}


def sources():
    for path in sorted(CLIENT.rglob("*.js")):
        yield path.relative_to(CLIENT).as_posix(), COMMENT.sub("", path.read_text(encoding="utf-8"))


def ours(text):
    return OURS.match(text) or set(text.strip('"').split(", ")) <= UNITS


def unwrapped(source):
    """Return the texts for people that stand in `source` without `t` around them."""
    found = [each.group(1) for pattern in SHOWN.values() for each in pattern.finditer(source)]
    return [each for each in found if not ours(each) and re.search(r"[A-Za-z]{2}", FILLED.sub("", each))]


@pytest.fixture(scope="module")
def collected():
    return {collect.first(each.id): each for each in collect.collected("djangojs", "de") if each.id}


def test_every_text_that_is_wrapped_is_collected(collected):
    """The collector reads JavaScript by rules of thumb; what it loses could never be translated."""
    wrapped = {(name, text.replace('\\"', '"')) for name, source in sources() for text in WRAPPED.findall(source)}
    assert len(wrapped) > 1000
    assert {(name, text) for name, text in wrapped if text not in collected} == set()


def test_no_text_for_people_goes_past_the_catalogue():
    assert [(name, text) for name, source in sources() for text in unwrapped(source)] == []


def test_a_text_that_went_past_would_be_found():
    for slip in (
        'h("p", null, "Not wrapped.")', 'h("p", { class: "soft" }, `No ${thing} here.`)', 'app.say("Saved")',
        'textField({ name: "plate", label: "Plate" })', 'h("nav", { "aria-label": "Places to go" })',
        '{ value: "one", text: "One of them" }',
    ):
        assert unwrapped(slip), slip
    assert unwrapped('h("p", { class: "soft" }, t("Wrapped.")), app.say(t("Saved")), { label: t("Plate") }') == []

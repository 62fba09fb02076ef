"""The catalogues: every text that people see is collected, translated, and keeps its place-holders.

What is looked at is the source itself: its calls by Python's own parser, its texts by Babel's extractors.
"""

from __future__ import annotations

import ast
import os
import shutil
import stat
from pathlib import Path
from string import Formatter

import pytest

from shops.site import collect, compiled

ROOT = Path(__file__).resolve().parents[1]
EVERY = [(language, domain) for language in compiled.translated() for domain in collect.DOMAINS]
PLURAL = 2
"""German has two plural forms, as English has (CLDR's plural rules)."""
OPERATORS = {"management", "migrations", "demo"}
"""Folders whose texts only the operator sees, or whose rows are invented."""
TEXT_AT = {
    "Problem": 2, "Note": 2, "wrong": 2, "forbidden": 1, "blocked": 1, "add": 2, "ValidationError": 0,
    "ErrorDetail": 0, "ParseError": 0, "PermissionDenied": 0,
}
"""Where the text stands in what refuses and remarks."""
SAYING = {"say": 1, "say_of": 3, "mark": 1, "_": 1, "gettext": 1, "gettext_lazy": 1, "ngettext": 2, "gettext_noop": 1}
"""What says a text: up to which argument templates stand."""


def strings(found):
    return [found] if isinstance(found, str) else list(found)


def fields(text):
    """Return the names between braces; a text that only looks like a template has none."""
    try:
        return {name for _, name, _, _ in Formatter().parse(text) if name is not None}
    except ValueError:
        return set()


@pytest.mark.parametrize(("language", "domain"), EVERY)
def test_the_catalogue_holds_every_text_and_no_other(language, domain):
    said = {(collect.first(each.id), each.context) for each in collect.collected(domain, language) if each.id}
    held = {(collect.first(each.id), each.context) for each in collect.kept(domain, language) if each.id}
    assert said - held == set(), "run manage.py words, then translate"
    assert held - said == set(), "run manage.py words"


def test_whoever_serves_reads_what_whoever_starts_has_made(tmp_path, settings):
    language = compiled.translated()[0]
    there = tmp_path / language / "LC_MESSAGES"
    there.mkdir(parents=True)
    shutil.copy(compiled.folder(language) / "django.po", there)
    settings.LOCALE_PATHS = [tmp_path]
    mask = os.umask(0o077)
    try:
        compiled.make()
    finally:
        os.umask(mask)
    assert stat.filemode((there / "django.mo").stat().st_mode) == "-rw-r--r--"
    assert not list(there.glob("*.tmp"))


@pytest.mark.parametrize(("language", "domain"), EVERY)
def test_every_text_is_translated_with_its_place_holders(language, domain):
    messages = [each for each in collect.kept(domain, language) if each.id]
    assert messages
    assert [each.id for each in messages if not collect.is_translated(each.string)] == []
    assert [each.id for each in messages if each.fuzzy] == []
    assert [each.id for each in messages if each.pluralizable and len(strings(each.string)) != PLURAL] == []
    differing = [
        (one, other)
        for each in messages
        for one, other in zip(strings(each.id), strings(each.string), strict=True)
        if fields(one) | {"n"} != fields(other) | {"n"}
    ]
    assert differing == []


def modules():
    for room in ("calc", "shops", "setups"):
        for path in sorted((ROOT / room).rglob("*.py")):
            if not OPERATORS & set(path.parts):
                yield path, ast.parse(path.read_text(encoding="utf-8"))


def name_of(call):
    return getattr(call.func, "id", getattr(call.func, "attr", ""))


def is_bare(node):
    """Tell whether a text is written out where it stands, with no call around it that would translate it."""
    if isinstance(node, ast.JoinedStr):
        return any(isinstance(part, ast.Constant) and any(map(str.isalpha, part.value)) for part in node.values)
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str) and " " in node.value
    if isinstance(node, ast.BinOp):
        return is_bare(node.left) or is_bare(node.right)
    if isinstance(node, ast.IfExp):
        return is_bare(node.body) or is_bare(node.orelse)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in ("format", "join"):
        return is_bare(node.func.value)
    return False


def bare_texts(tree):
    """Yield the line of every refusal or remark whose text is bare, in the call or in the variable it names."""
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    for scope in [*functions, tree]:
        assigned = {
            target.id
            for node in (scope.body if scope is tree else ast.walk(scope))
            if isinstance(node, ast.Assign) and is_bare(node.value)
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        for call in (node for node in ast.walk(scope) if isinstance(node, ast.Call)):
            at = TEXT_AT.get(name_of(call))
            if at is None:
                continue
            texts = [*call.args[at : at + 1], *(each.value for each in call.keywords if each.arg == "text")]
            if any(is_bare(text) or (isinstance(text, ast.Name) and text.id in assigned) for text in texts):
                yield call.lineno


def test_no_refusal_or_remark_is_left_in_the_source_language():
    assert [f"{path.relative_to(ROOT)}:{line}" for path, tree in modules() for line in set(bare_texts(tree))] == []


def test_a_bare_text_is_found_wherever_it_is_written():
    source = (
        "def f(a, findings):\n"
        "    text = f'{a} is wrong.'\n"
        "    findings.add('a', 'wrong', text)\n"
        "    raise Refusal(Problem('a', 'wrong', 'It is wrong.'))\n"
        "def g(a):\n"
        "    return Problem('a', 'wrong', say('It is wrong.'))\n"
    )
    assert sorted(set(bare_texts(ast.parse(source)))) == [3, 4]


def test_what_is_said_is_a_literal_that_the_collector_finds():
    collected = {
        text
        for each in collect.collected("django", compiled.translated()[0])
        if each.id
        for text in strings(each.id)
    }
    lost, made_up, hidden = [], [], []
    for path, tree in modules():
        where = path.relative_to(ROOT)
        for node in ast.walk(tree):
            if isinstance(node, ast.JoinedStr):
                # Python tells what stands within such a string apart from 3.12 on only; so does the collector.
                calls = [each for each in ast.walk(node) if isinstance(each, ast.Call) and name_of(each) in SAYING]
                hidden += [
                    f"{where}:{node.lineno}"
                    for call in calls
                    if any(isinstance(each, ast.Constant) and isinstance(each.value, str) for each in call.args)
                ]
            if isinstance(node, ast.Call) and name_of(node) in SAYING:
                for text in node.args[: SAYING[name_of(node)]]:
                    if isinstance(text, ast.JoinedStr | ast.BinOp):
                        made_up.append(f"{where}:{node.lineno}")
                    elif isinstance(text, ast.Constant) and isinstance(text.value, str) and text.value not in collected:
                        lost.append(f"{where}:{node.lineno} {text.value[:40]}")
    assert (lost, made_up, hidden) == ([], [], [])

"""Every public function and class of calc says what it does, in which units, on whose word, and shows it."""

from __future__ import annotations

import dataclasses
import doctest
import importlib
import inspect
import pkgutil
import re
from functools import cached_property

import pytest

import calc
from calc import words

MODULES = [
    importlib.import_module(f"calc.{found.name}") for found in pkgutil.iter_modules(calc.__path__) if not found.ispkg
]

NUMERIC = re.compile(r"float|int\b|Array|Values|NDArray|complex|Line")
UNIT = re.compile(
    r"(?<![\w/])(?:mm²?|m[²³]?|cm³|mm³|N/mm|N/m|m/N|N·s/m|N|kg|kPa|MPa|GPa|Pa|J|Hz|K|kg/m³|m/s²?|km/h|rad|%|g)(?![\w/²³])"
    r"|°|\b(degrees|no unit|without a unit|exponent|any shape|shape|broadcasts?|units? of|(own|one|same|its) unit)\b"
    r"|\b(0 to 1|(motion|leverage|damping) ratio|numbers?|turns|factors?|shares?|part of|count|seed|segments)\b"
)
SUFFIX = re.compile(
    r"_(mm|cm3|m3|n|kg|kpa|mpa|gpa|j|hz|deg|m|g|percent|share|n_per_mm|n_per_m|n_s_per_m|m_per_s2?|km_per_h)$"
)
SOURCE = re.compile(
    r"\[\d+\]|Sources?: .*?(common practice, no source|from memory|elementary (statics|calculus|geometry)"
    r"|none \((bookkeeping|wording|drawing)\))",
    re.DOTALL,
)
REACH = 160
"""How many characters away from a name its unit may stand."""


def functions(module):
    return [
        (name, each)
        for name, each in vars(module).items()
        if inspect.isfunction(each) and not name.startswith("_") and each.__module__ == module.__name__
    ]


def classes(module):
    return [
        (name, each)
        for name, each in vars(module).items()
        if inspect.isclass(each) and not name.startswith("_") and each.__module__ == module.__name__
    ]


def methods(kind):
    return [(name, each) for name, each in vars(kind).items() if inspect.isfunction(each) and not name.startswith("_")]


def properties(kind):
    return [
        (name, each)
        for name, each in vars(kind).items()
        if isinstance(each, property | cached_property) and not name.startswith("_")
    ]


def told(each):
    return inspect.getdoc(each) or ""


def spoken(text):
    """Return a docstring's prose, without its examples, on one line."""
    return " ".join(re.sub(r"(?m)^(>>>|\.\.\.).*(\n(?!\n|>>>|\.\.\.).+)*", "", text).split())


def a_unit_beside(name, text):
    """Say whether a unit or a shape stands near a name in the prose, or in the name itself."""
    if SUFFIX.search(name):
        return True
    places = [found.start() for found in re.finditer(rf"(?<!\w){re.escape(name)}(?!\w)", text)]
    return any(UNIT.search(text[max(place - REACH // 2, 0) : place + REACH]) for place in places)


def unnamed(names, annotations, text):
    """Return what is wrong with how parameters or fields are told."""
    wrong = []
    for name in names:
        if not re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text):
            wrong.append(f"{name} is not named")
        elif NUMERIC.search(str(annotations.get(name, ""))) and not a_unit_beside(name, text):
            wrong.append(f"{name} has neither unit nor shape")
    return wrong


def sources_of(module):
    return set(re.findall(r"\[(\d+)\]", told(module)))


def unsourced(text, module):
    if not SOURCE.search(spoken(text)):
        return ["no source is given"]
    missing = set(re.findall(r"\[(\d+)\]", spoken(text))) - sources_of(module)
    return [f"source [{number}] is not in the module's list" for number in sorted(missing)]


def of_function(each, module, holder=""):
    """Return what a function's docstring lacks; `holder` is its class's prose, which may say some of it for all."""
    text, signature = told(each), inspect.signature(each)
    prose = spoken(text)
    wrong = [] if re.match(r"[A-Z].+?[.:](\s|$)", prose) else ["no sentence"]
    names = [name for name in signature.parameters if name not in ("self", "cls")]
    annotations = {name: signature.parameters[name].annotation for name in names}
    wrong += unnamed(names, annotations, f"{prose} {holder}")
    back = str(signature.return_annotation)
    if back != "None" and not re.search(r"\b(Return|Answer|Yield|Write|Draw|Say|Count|Find)", prose):
        wrong.append("what comes back is not told")
    if re.match(r"(tuple\[)?(float|Array|Values|NDArray)", back) and not (
        UNIT.search(prose) or SUFFIX.search(each.__name__)
    ):
        wrong.append("what comes back has no unit")
    whole = f"{text}\n{holder}"
    if not re.search(r"\bRaises\b", whole):
        wrong.append("what it raises is not told")
    if ">>>" not in whole:
        wrong.append("no example")
    return wrong + unsourced(whole, module)


def of_class(kind, module):
    text = told(kind)
    prose = spoken(text)
    wrong = [] if re.match(r"[A-Z].+?[.:](\s|$)", prose) else ["no sentence"]
    if dataclasses.is_dataclass(kind):
        fields = {field.name: field.type for field in dataclasses.fields(kind) if not field.name.startswith("_")}
        own = [name for name in fields if name in vars(kind).get("__annotations__", {})]
        wrong += unnamed(own, fields, prose)
    if ">>>" not in text and not all(">>>" in told(each) for _, each in methods(kind)):
        wrong.append("no example")
    if not methods(kind) and ">>>" not in text:
        wrong.append("no example")
    return wrong + unsourced(text, module)


FUNCTIONS = [(module, name, each) for module in MODULES for name, each in functions(module)]
CLASSES = [(module, name, each) for module in MODULES for name, each in classes(module)]
METHODS = [(module, kind, name, each) for module, _, kind in CLASSES for name, each in methods(kind)]
PROPERTIES = [(kind, name, each) for _, _, kind in CLASSES for name, each in properties(kind)]


def named(case):
    return getattr(case, "__name__", None) or (case if isinstance(case, str) else "")


@pytest.mark.parametrize(("module", "name", "each"), FUNCTIONS, ids=named)
def test_a_function_is_documented(module, name, each):
    assert of_function(each, module) == []


@pytest.mark.parametrize(("module", "name", "kind"), CLASSES, ids=named)
def test_a_class_is_documented(module, name, kind):
    assert of_class(kind, module) == []


@pytest.mark.parametrize(("module", "kind", "name", "each"), METHODS, ids=named)
def test_a_method_is_documented(module, kind, name, each):
    assert of_function(each, module, told(kind)) == []


@pytest.mark.parametrize(("kind", "name", "each"), PROPERTIES, ids=named)
def test_a_property_is_documented(kind, name, each):
    assert re.match(r"[A-Z].+\.", spoken(told(each)))


@pytest.fixture
def _speech_given_back(monkeypatch):
    """Put back how this process translates: an example of `speak_through` changes it, and other tests follow here."""
    for name in ("translate", "translate_count", "signs"):
        monkeypatch.setattr(words._Speech, name, vars(words._Speech)[name])


@pytest.mark.usefixtures("_speech_given_back")
@pytest.mark.parametrize("module", MODULES, ids=named)
def test_every_example_runs(module):
    assert doctest.testmod(module).failed == 0


def test_nothing_public_is_overlooked():
    """The walk finds what a reader would: the calculations that the service answers are all among the functions."""
    found = {name for _, name, _ in FUNCTIONS}
    assert {"evaluate", "choose", "coil", "gap", "sag", "tester", "squat", "uncertainty", "better_wire"} <= found
    assert len(FUNCTIONS) > 100
    assert len(METHODS) > 50


@pytest.mark.parametrize(
    ("text", "lacks"),
    [
        ("Return k. `force` in N. Raises nothing. Source: [1].", "no example"),
        ("Return k in N/m.\n\n`force` is N. Raises nothing.\n\n>>> 1\n1", "no source is given"),
        ("Return k in N/m.\n\n`force`, N. Source: [7]. Raises nothing.\n\n>>> 1\n1", "source [7]"),
        ("Return k in N/m.\n\n`force`, N. Source: from memory.\n\n>>> 1\n1", "what it raises is not told"),
        ("Return k in N/m. Raises nothing. Source: from memory.\n\n>>> 1\n1", "force is not named"),
        ("Return it.\n\nIts `force`. Raises nothing. Source: from memory.\n\n>>> 1\n1", "force has neither unit"),
        ("Take `force` in N. Raises nothing. Source: from memory.\n\n>>> 1\n1", "what comes back is not told"),
    ],
)
def test_the_check_finds_what_is_missing(text, lacks):
    def sample(force: float) -> float:
        return force

    sample.__doc__ = text
    sample.__annotations__ = {"force": "float", "return": "float"}
    assert any(lacks in each for each in of_function(sample, calc))

"""What is different in a picture drawn again: a hand that drags a value moves curves, and all else may stay.

Both pictures are `calc.picture`'s text, in which every element begins a line. What is different is told by the place of
an element in the document, so that whoever shows the first picture can bring it to the second by touching little.

Source: [1] XML 1.0, from memory (names and values of attributes).
"""

from __future__ import annotations

import re
from html import unescape
from itertools import count

_ELEMENT = re.compile(r"<(?P<name>\w+)(?P<attributes>[^>]*?)/?>(?:(?P<text>[^<]*)</(?P=name)>)?")
_ATTRIBUTE = re.compile(r'([\w-]+)="([^"]*)"')
_NAMED_BY_CONTENT = re.compile(r' (?:id|aria-labelledby|aria-describedby)="[^"]*"')
"""Names by which only the picture's own parts call each other."""

Changes = dict[str, dict[str, str]]
"""By an element's place in the document (the picture itself is "0"): its new values by attribute, "" for its text."""


def changes(before: str, after: str) -> Changes | None:
    """Return what turns the picture `before` into `after`, both as `calc.picture.picture` returns them (SVG as text).

    None where that is more than other values of the same attributes, such as an element more. A place is a count of
    elements. Raises nothing. Source: [1].

    >>> before = '<svg class="pic">\\n<path d="M0 0L1 1" fill="none"/>\\n<text x="5">12</text>\\n</svg>'
    >>> changes(before, before.replace("L1 1", "L1 2").replace(">12<", ">13<"))
    {'1': {'d': 'M0 0L1 2'}, '2': {'': '13'}}
    >>> changes(before, before.replace('x="5"', "")) is None
    True
    """
    lines, others = before.split("\n"), after.split("\n")
    if len(lines) != len(others):
        return None
    found: Changes = {}
    place = count()
    for line, other in zip(lines, others, strict=True):
        at = next(place) if line[:1] == "<" and line[:2] != "</" else None
        if line == other:
            continue
        values = _values(_NAMED_BY_CONTENT.sub("", line), _NAMED_BY_CONTENT.sub("", other))
        if at is None or values is None:
            return None
        if values:
            found[str(at)] = values
    return found


def _values(line: str, other: str) -> dict[str, str] | None:
    was, now = _ELEMENT.fullmatch(line), _ELEMENT.fullmatch(other)
    if was is None or now is None or was["name"] != now["name"]:
        return None
    first, second = dict(_ATTRIBUTE.findall(was["attributes"])), dict(_ATTRIBUTE.findall(now["attributes"]))
    if first.keys() != second.keys() or (was["text"] is None) != (now["text"] is None):
        return None
    values = {name: unescape(value) for name, value in second.items() if value != first[name]}
    if now["text"] != was["text"]:
        values[""] = unescape(now["text"])
    return values

"""The client's ES modules, joined into one script: a waterfall of a hundred requests becomes one.

Nothing here parses JavaScript. The sources keep to a few plain forms instead, which `load` checks: every import and
export is static, named and begins a line; there is no default, no export that changes later, no `import()`, and no
ring of modules that import each other. Then a module is a function called once, in the order of need, and what it
exports is a constant beside it. A module may await something in the first line of a constant of its top level: those
after it then wait too, as the standard has it.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

_COMMENT = re.compile(r"^[ \t]*//[^\n]*$|(?<![^\s(,=])/\*\*.*?\*/", re.M | re.S)
_PATH = r'"(?P<path>\.{1,2}/[\w./-]+\.js)";$'
_IMPORT = re.compile(rf"^import (?:(?P<all>\* as \w+)|\{{(?P<named>[^}}]*)\}}) from {_PATH}", re.M)
_BARE = re.compile(rf"^import {_PATH}", re.M)
_EXPORT = re.compile(r"^export (?=(?:(?:async )?function\*?|const|class) (?P<name>[\w$]+))", re.M)
_STRAY = re.compile(r"^\s*(?:import|export)\b(?!\s*[:=])|\bimport\s*[(.]|^await\b")
_AWAITS = re.compile(r"^(?:const|let) .*\bawait\b", re.M)
_TOP = re.compile(r"^(?:export )?(?:(?:async )?function\*?|const|let|class) ([\w$]+)", re.M)
_SAID = re.compile(r'\bt\("(?:[^"\\\n]|\\.)*"')
"""What is said to people: no word in it means anything to the script."""
_WORD = re.compile(r"(?<![\w$.])[A-Za-z_$][\w$]*")


class Unjoinable(Exception):
    """A source that cannot be joined: its file, line, and what to write instead."""


@dataclass
class Module:
    """One source: its text with comments blanked, what it imports from where, and what it exports."""

    name: str
    text: str
    named: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    whole: dict[str, str] = field(default_factory=dict)
    needs: list[str] = field(default_factory=list)
    exports: list[str] = field(default_factory=list)

    def strange_words(self) -> set[str]:
        """Return every word that stands not behind a point, less what is imported or declared at the top by that name.

        Those in most strings count too: it is enough that no name of something else is missing.
        """
        imported = {inner for pairs in self.named.values() for outer, inner in pairs if inner == outer}
        own = {found[1] for found in _TOP.finditer(self.text)}
        return set(_WORD.findall(_SAID.sub("", self.text))) - imported - own


def load(folder: Path, entry: str) -> list[Module]:
    """Return `entry` and all that it needs, below `folder`, in the order of need.

    Raises Unjoinable for a form that `join` does not know, a missing file or name, and a ring.
    """
    found: dict[str, Module] = {}
    order: list[Module] = []
    _visit(folder, entry, found, order, ())
    for module in order:
        for path, pairs in module.named.items():
            for outer, _inner in pairs:
                if outer not in found[path].exports:
                    raise Unjoinable(f"{module.name}: {path} exports no {outer}.")
    return order


def _visit(folder: Path, name: str, found: dict[str, Module], order: list[Module], way: tuple[str, ...]) -> None:
    if name in way:
        raise Unjoinable(f"These modules import each other in a ring: {' → '.join((*way[way.index(name):], name))}.")
    if name in found:
        return
    module = found[name] = _read(folder, name)
    for need in module.needs:
        if not (folder / need).is_file():
            raise Unjoinable(f"{name} imports {need}, which is no file.")
        _visit(folder, need, found, order, (*way, name))
    order.append(module)


def _blanked(match: re.Match[str]) -> str:
    return "\n" * match[0].count("\n")


def _read(folder: Path, name: str) -> Module:
    """Read one source and take its imports and exports off it."""
    text = _COMMENT.sub(_blanked, (folder / name).read_text(encoding="utf-8"))
    module = Module(name, text)
    module.exports = [found["name"] for found in _EXPORT.finditer(text)]
    for found in _IMPORT.finditer(text):
        path = _resolve(name, found["path"])
        module.needs.append(path)
        if found["all"]:
            module.whole[found["all"].removeprefix("* as ")] = path
        else:
            pairs = [part.strip().split(" as ") for part in found["named"].split(",") if part.strip()]
            module.named.setdefault(path, []).extend((pair[0], pair[-1]) for pair in pairs)
    module.needs += [_resolve(name, found["path"]) for found in _BARE.finditer(text)]
    module.text = _EXPORT.sub("", _BARE.sub(_blanked, _IMPORT.sub(_blanked, text)))
    for number, line in enumerate(module.text.split("\n"), 1):
        if _STRAY.search(line):
            raise Unjoinable(
                f'{name}:{number}: "{line.strip()}" cannot be joined. Write import {{ a, b as c }} or * as all from '
                f'"./file.js"; and export before a function, const or class, each at the beginning of a line.'
            )
    return module


def _resolve(name: str, path: str) -> str:
    parts = name.split("/")[:-1]
    for part in path.split("/"):
        if part == "..":
            parts.pop()
        elif part != ".":
            parts.append(part)
    return "/".join(parts)


def join(modules: list[Module]) -> str:
    """Return one script that does what `modules`, in the order of need, do."""
    names = _outer_names(modules)
    parts = []
    for module in modules:
        known = []
        for path, pairs in module.named.items():
            known += [f"{inner}={names[path, outer]}" for outer, inner in pairs if names[path, outer] != inner]
        for inner, path in module.whole.items():
            every = next(each for each in modules if each.name == path).exports
            known.append(f"{inner}={{{','.join(f'{each}:{names[path, each]}' for each in every)}}}")
        inside = f"const {','.join(known)};{module.text}" if known else module.text
        outer = ",".join(names[module.name, each] for each in module.exports)
        begin = "await(async()=>{" if _AWAITS.search(module.text) else "(()=>{"
        if outer:
            parts.append(f"const[{outer}]={begin}{inside}\nreturn[{','.join(module.exports)}]}})();")
        else:
            parts.append(f"{begin}{inside}\n}})();")
    return f"(async()=>{{{''.join(parts)}}})();"


def _outer_names(modules: list[Module]) -> dict[tuple[str, str], str]:
    """Return what each export is called beside the modules.

    It keeps its name, so that importers need no line for it, where nobody else could mean something else by the
    word: its exporter alone has it, and every module that writes it imports it or has its own at the top.
    """
    strange = set().union(*(module.strange_words() for module in modules))
    seen = Counter(export for module in modules for export in module.exports)
    return {
        (module.name, export): export if seen[export] == 1 and export not in strange else f"{export}${place}"
        for place, module in enumerate(modules)
        for export in module.exports
    }

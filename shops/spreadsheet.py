"""Spreadsheet files, in and out: comma-separated text that no spreadsheet program runs, and any of them may send.

Written as RFC 4180 says, in UTF-8 with a byte order mark, so that a spreadsheet program reads accents right. A text
that such a program would take for a formula is written behind an apostrophe, which `read` takes off again.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from calc.refusal import Problem, Refusal
from calc.words import mark

BOM = "\ufeff"
MOST_BYTES = 4 * 1024 * 1024
MOST_ROWS = 10_000
MOST_COLUMNS = 100
LONGEST_CELL = 10_000
SEPARATORS = {";": mark("semicolon"), ",": mark("comma"), "\t": mark("tab")}
# What spreadsheet programs take for the start of a formula, in their wide forms too, and after blanks (OWASP, "CSV
# injection"); an apostrophe may stand before it already.
_FORMULA = re.compile(r"['\s]*[=+\-@\uff1d\uff0b\uff0d\uff20]|[' ]*[\t\r\n]")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d{1,3})?", re.ASCII)
_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_DOUBTFUL = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", re.ASCII)


def guarded(value: object) -> str:
    """Return a cell's text: None is empty, a number stays one, a text that looks like a formula is made harmless.

    >>> guarded('=1+2'), guarded("-4.5"), guarded(-4.5), guarded(None)
    ("'=1+2", "'-4.5", '-4.5', '')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    text = str(value)
    return f"'{text}" if _FORMULA.match(text) else text


def unguarded(text: str) -> str:
    """Return what `guarded` was given."""
    return text[1:] if text.startswith("'") and _FORMULA.match(text[1:]) else text


def lines(header: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """Yield a file line by line, the header first, as text to be sent in UTF-8."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    buffer.write(BOM)
    writer.writerow([guarded(name) for name in header])
    yield _taken(buffer)
    for row in rows:
        writer.writerow([guarded(cell) for cell in row])
        yield _taken(buffer)


def _taken(buffer: io.StringIO) -> str:
    text = buffer.getvalue()
    buffer.seek(0)
    buffer.truncate()
    return text


@dataclass(frozen=True)
class Line:
    """One line of a file: the number that an editor shows for it (of its first line), and its cells by column."""

    number: int
    cells: dict[str, str]


@dataclass(frozen=True)
class Table:
    """A file as it was read, and how: `encoding`, `separator` and `decimal` are said to whoever sent it."""

    header: list[str]
    lines: list[Line]
    encoding: str
    separator: str
    decimal: str

    def number(self, text: str) -> float | None:
        """Return the number that a cell's text is, None where it is none or may be two (`doubtful`).

        A decimal comma is read as a point where the file uses it.
        """
        plain = text.replace("\u2212", "-").replace("\u00a0", "").replace("\u202f", "").strip()
        if self.doubtful(plain):
            return None
        if _COMMA.fullmatch(plain):
            plain = plain.replace(",", ".")
        value = float(plain) if _NUMBER.fullmatch(plain) and len(plain) < 40 else math.inf
        return value if math.isfinite(value) else None

    def doubtful(self, text: str) -> bool:
        """Tell whether a text may be two numbers: "1,000" in a file that does not otherwise show its decimal sign."""
        plain = text.strip()
        if not _DOUBTFUL.fullmatch(plain):
            return False
        sign = "comma" if "," in plain else "point"
        return self.decimal != sign


def refused(code: str, text: str, value: object = None) -> Refusal:
    """Return the refusal of a whole file."""
    return Refusal(Problem("file", code, text, value))


def decode(data: bytes) -> tuple[str, str]:
    """Return a file's text and the name of its encoding; raises Refusal for what is too large or no text."""
    if len(data) > MOST_BYTES:
        most = f"{MOST_BYTES // 1024 // 1024} MB"
        raise refused(
            "too_large", _("The file has more than {most}, the most that is taken: split it.").format(most=most), most
        )
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise refused(
            "not_text", _("This is a spreadsheet program's own file, not text: save it as CSV (UTF-8) first.")
        )
    for sign, name in ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if data.startswith(sign):
            return _decoded(data[2:], name, "UTF-16")
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        raise refused(
            "not_text",
            _("Line {line} holds a NUL byte, so this is not a text file: save it as CSV (UTF-8).").format(line=line),
        )
    try:
        return data.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError:
        return _decoded(data, "cp1252", "Windows-1252 (Latin 1)")


def _decoded(data: bytes, codec: str, name: str) -> tuple[str, str]:
    try:
        text = data.decode(codec)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise refused(
            "unknown_encoding",
            _("Line {line} holds bytes that are neither UTF-8 nor {name}: save the file as CSV (UTF-8).").format(
                line=line, name=name
            ),
        ) from None
    if "\0" in text:
        raise refused("not_text", _("The file holds NUL characters, so it is no text: save it as CSV (UTF-8)."))
    return text, name


def read(text: str, encoding: str = "UTF-8") -> Table:
    """Return the table that a file's text holds; its first line names the columns.

    Separator (comma, semicolon, tab) and decimal sign are told from the file itself. Column names are lower-cased,
    blanks in them become underscores. Raises Refusal where the text is no table; what the cells hold is not judged.
    """
    text = text.removeprefix(BOM)
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not first:
        raise refused("empty", _("The file is empty: its first line names the columns, the next ones hold a row each."))
    separator = max(SEPARATORS, key=first.count)
    rows = _rows(text, separator)
    header = _header(rows[0][1])
    found = [Line(number, _cells(header, cells, number)) for number, cells in rows[1:]]
    return Table(header, found, encoding, SEPARATORS[separator], _decimal(found))


def _rows(text: str, separator: str) -> list[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows: list[tuple[int, list[str]]] = []
    start = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((start, cells))
            start = reader.line_num + 1
            if len(rows) > MOST_ROWS + 1:
                raise refused(
                    "too_many", _("The file has more than {most} rows: split it.").format(most=MOST_ROWS), MOST_ROWS
                )
    except csv.Error:
        cause = _("does a quotation mark stand where none belongs, or is its partner missing?")
        raise refused(
            "not_csv",
            _("From line {start} on the file cannot be read as a table: {cause}").format(start=start, cause=cause),
            start,
        ) from None
    return rows


def _header(cells: list[str]) -> list[str]:
    names = [re.sub(r"[\s\-]+", "_", unguarded(cell).strip().lower()) for cell in cells]
    while names and not names[-1]:
        names.pop()
    if len(names) > MOST_COLUMNS:
        raise refused(
            "too_many",
            _("The file has {count} columns; up to {most} are taken.").format(count=len(names), most=MOST_COLUMNS),
            len(names),
        )
    twice = next((name for name in names if name and names.count(name) > 1), None)
    if twice:
        raise refused(
            "twice",
            _("The first line names the column “{column}” twice: keep one.").format(column=twice[:60]),
            twice[:60],
        )
    return names


def _cells(header: list[str], cells: list[str], number: int) -> dict[str, str]:
    over = [cell for cell in cells[len(header) :] if cell.strip()]
    if over:
        raise refused(
            "too_long",
            _(
                "Line {number} has {cells} cells, but the first line names {columns} columns: is a text with the "
                "separator in it not in quotation marks?"
            ).format(number=number, cells=len(cells), columns=len(header)),
            number,
        )
    long = next((cell for cell in cells if len(cell) > LONGEST_CELL), None)
    if long is not None:
        raise refused(
            "too_long",
            _("A cell of line {number} has {count} characters; {most} fit.").format(
                number=number, count=len(long), most=LONGEST_CELL
            ),
            number,
        )
    return {name: unguarded(cell.strip()) for name, cell in zip(header, cells, strict=False) if name}


def _decimal(found: list[Line]) -> str:
    """Return which sign the file's unambiguous numbers use: comma, point, both or none."""
    cells = [cell for line in found for cell in line.cells.values() if len(cell) < 40 and not _DOUBTFUL.fullmatch(cell)]
    comma = any(_COMMA.fullmatch(cell) for cell in cells)
    point = any("." in cell and _NUMBER.fullmatch(cell) for cell in cells)
    return "both" if comma and point else "comma" if comma else "point" if point else "none"

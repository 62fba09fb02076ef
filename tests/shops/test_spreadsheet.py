"""Comma-separated text: read whoever wrote it, written so that nothing in it runs.

Checked against RFC 4180, the standard library's reader, and OWASP's page "CSV injection".
"""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.refusal import Refusal
from shops import spreadsheet

# OWASP, "CSV injection": =, +, -, @, tab, carriage return, line feed, and the wide forms.
STARTS = ["=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20"]


def written(header, rows):
    return "".join(spreadsheet.lines(header, rows))


@pytest.mark.parametrize("start", STARTS)
@pytest.mark.parametrize("before", ["", "'", "  ", "''"])
def test_no_cell_starts_as_a_formula(start, before):
    text = written(["notes"], [[f"{before}{start}cmd|' /C calc'!A0"]])
    [_, [cell]] = csv.reader(io.StringIO(text, newline=""))
    assert cell[0] == "'"


def test_numbers_stay_numbers():
    text = written(["a", "b", "c", "d"], [[-4.5, 3, None, True]])
    assert text.splitlines()[1] == "-4.5,3,,true"


def test_lines_end_and_quotes_double_as_rfc_4180_says():
    assert written(["a"], [['say "ah", twice\nover']]) == '\ufeffa\r\n"say ""ah"", twice\nover"\r\n'


TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=30).map(str.strip).filter(bool)


@given(st.lists(st.tuples(TEXTS, TEXTS), min_size=1, max_size=8))
def test_what_is_written_is_read_back(rows):
    table = spreadsheet.read(written(["one", "two"], rows))
    assert [(line.cells["one"], line.cells["two"]) for line in table.lines] == rows


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        ("näme\nÖre".encode(), "UTF-8"),
        ("\ufeffnäme\nÖre".encode(), "UTF-8"),
        ("näme\nÖre".encode("latin-1"), "Windows-1252 (Latin 1)"),
        ("\ufeffnäme\nÖre".encode("utf-16-le"), "UTF-16"),
        ("\ufeffnäme\nÖre".encode("utf-16-be"), "UTF-16"),
    ],
)
def test_encodings_are_told_apart(data, encoding):
    assert spreadsheet.decode(data) == ("näme\nÖre", encoding)


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"code;name\nA\x00B;x", "not_text"),
        (b"PK\x03\x04rest", "not_text"),
        (b"code\n\x81\x8d", "unknown_encoding"),
        (b"a" * (spreadsheet.MOST_BYTES + 1), "too_large"),
        ("\ufeffa\0b".encode("utf-16-le"), "not_text"),
        (b"\xff\xfea", "unknown_encoding"),
    ],
)
def test_what_is_no_text_is_refused_in_a_sentence(data, code):
    with pytest.raises(Refusal) as refusal:
        spreadsheet.decode(data)
    [problem] = refusal.value.problems
    assert problem.code == code
    assert problem.text.endswith((".", "?"))


@pytest.mark.parametrize(
    ("text", "separator", "decimal"),
    [
        ("code;rate\nF1;4,6", "semicolon", "comma"),
        ("code,rate\nF1,4.6", "comma", "point"),
        ('code,rate\nF1,"4,6"', "comma", "comma"),
        ("code\trate\nF1\t46", "tab", "none"),
        ("code;rate;wire\nF1;4,6;3.5", "semicolon", "both"),
    ],
)
def test_separator_and_decimal_sign_are_told_from_the_file(text, separator, decimal):
    table = spreadsheet.read(text)
    assert (table.separator, table.decimal) == (separator, decimal)


def test_a_decimal_comma_is_a_point():
    table = spreadsheet.read("code;rate\nF1;4,6")
    assert table.number("4,6") == 4.6
    assert table.number("\u22124,6") == -4.6


def test_one_comma_nought_nought_nought_is_two_numbers_unless_the_file_shows_which():
    unknown = spreadsheet.read("code;rate\nF1;1,000")
    assert unknown.doubtful("1,000")
    assert unknown.number("1,000") is None
    shown = spreadsheet.read("code;rate\nF1;1,000\nF2;4,6")
    assert shown.number("1,000") == 1
    assert shown.doubtful("1.000")
    assert shown.number("0,460") == 0.46


@pytest.mark.parametrize("text", ["4.6 N/mm", "4,6,7", "nan", "inf", "1e999999", "1e999", "0x10", "", "4 6", "\u0664"])
def test_what_is_no_number_is_none(text):
    assert spreadsheet.read("code;rate\nF1;4,6").number(text) is None


def test_lines_are_counted_as_an_editor_does():
    table = spreadsheet.read('code,notes\n\nA,"two\nlines"\nB,one\n')
    assert [(line.number, line.cells["code"]) for line in table.lines] == [(3, "A"), (5, "B")]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "empty"),
        ("\n\n", "empty"),
        ("code,Code\nA,B", "twice"),
        ("code,rate\nA,4,6", "too_long"),
        ('code\n"A', "not_csv"),
        ('code,x\n"A"b,c', "not_csv"),
        ("code\n" + "a" * (spreadsheet.LONGEST_CELL + 1), "too_long"),
        ("code\n" + "a\n" * (spreadsheet.MOST_ROWS + 1), "too_many"),
        (";".join(f"c{n}" for n in range(spreadsheet.MOST_COLUMNS + 1)), "too_many"),
    ],
)
def test_what_is_no_table_is_refused_in_a_sentence(text, code):
    with pytest.raises(Refusal) as refusal:
        spreadsheet.read(text)
    assert [problem.code for problem in refusal.value.problems] == [code]

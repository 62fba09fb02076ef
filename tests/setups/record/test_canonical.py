"""Canonical JSON against RFC 8785's own examples, SHA-256 against FIPS 180-4's, and the commitments."""

from __future__ import annotations

import json
import struct

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from setups.record.canonical import at_path, canonical, commitment, digest, is_committed, personal

JSON = st.recursive(
    # Past 2**53 a float is written as an integer that RFC 8785 does not take back; no quantity here comes
    # near.
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(-(2.0**53) + 1, 2.0**53 - 1)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner, max_size=4)
    ),
    max_leaves=12,
)


def test_the_example_of_rfc_8785_section_3_2_2():
    """Input of section 3.2.2, output of section 3.2.3, its UTF-8 bytes of section 3.2.4."""
    given_text = r"""{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }"""
    wanted = bytes.fromhex(
        "7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 75 65 2c 66 61 6c 73 65 5d 2c 22 "
        "6e 75 6d 62 65 72"
        "73 22 3a 5b 33 33 33 33 33 33 33 33 33 2e 33 33 33 33 33 33 33 2c 31 65 2b 33 30 2c 34 2e 35 "
        "2c 30 2e 30 30 32"
        "2c 31 65 2d 32 37 5d 2c 22 73 74 72 69 6e 67 22 3a 22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 "
        "27 42 5c 22 5c 5c"
        "5c 5c 5c 22 2f 22 7d"
    )
    assert canonical(json.loads(given_text)).encode("utf-8") == wanted


def test_the_key_order_of_rfc_8785_section_3_2_3():
    document = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    assert list(json.loads(canonical(document)).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


@pytest.mark.parametrize(
    ("bits", "wanted"),
    [
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("4430000000000000", "295147905179352830000"),
        ("44b52d02c7e14af5", "9.999999999999997e+22"),
        ("44b52d02c7e14af6", "1e+23"),
        ("444b1ae4d6e2ef4e", "999999999999999700000"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555553", "333333333.3333332"),
        ("41b3de4355555555", "333333333.3333333"),
    ],
)
def test_the_numbers_of_rfc_8785_appendix_b(bits, wanted):
    assert canonical(struct.unpack(">d", bytes.fromhex(bits))[0]) == wanted


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**53 + 1])
def test_what_json_cannot_hold_is_refused(value):
    with pytest.raises(rfc8785.CanonicalizationError):
        canonical({"value": value})


def test_sha_256_of_abc():
    """FIPS 180-4, the one-block message of its published examples."""
    assert digest("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@given(JSON)
def test_canonical_text_reads_back_as_the_same_document_and_is_stable(document):
    text = canonical(document)
    assert json.loads(text) == document
    assert canonical(json.loads(text)) == text


@given(JSON, JSON)
def test_only_the_committed_value_opens_a_commitment(value, other):
    kept = personal("public.rider.mass_in_kit_kg", value, shared=False)
    stands = kept.commitment
    assert is_committed(stands, kept.path, kept.salt, value)
    assert is_committed(stands, kept.path, kept.salt, other) == (canonical(other) == canonical(value))
    assert not is_committed(stands, "public.customer.name", kept.salt, value)
    assert not is_committed(stands, kept.path, "00" * 32, value)


def test_equal_values_get_unlike_commitments():
    """Without a salt, a mass could be found by trying every mass there is."""
    one, two = (personal("p", 83.0, shared=False) for _ in range(2))
    assert one.commitment != two.commitment
    assert len(bytes.fromhex(one.salt)) * 8 >= 128
    assert one.commitment == {"commitment": commitment("p", one.salt, 83.0)}


@pytest.mark.parametrize("path", ["a.2", "a.-1", "a.x", "b", "a.0.c", "", "a.٠"])
def test_a_path_that_leads_nowhere_is_an_error(path):
    with pytest.raises(KeyError):
        at_path({"a": [1, 2]}, path)

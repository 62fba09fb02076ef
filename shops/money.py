"""Amounts of money: whole minor units of one currency, written with as many decimals as the currency has.

Minor units as in ISO 4217, those that are not two from memory.
"""

from __future__ import annotations

import re
from decimal import Decimal

from calc.words import number

_DIGITS = {
    **dict.fromkeys(("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV"), 0),
    **dict.fromkeys(("XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
}
LARGEST = 10**9
"""The largest amount of one line, in minor units: set wide (common practice, no source)."""


def is_code(text: str) -> bool:
    """Return whether `text` has the form of a currency's code in ISO 4217: three capital letters."""
    return re.fullmatch("[A-Z]{3}", text) is not None


def digits(currency: str) -> int:
    """Return how many decimals an amount in `currency` is written with."""
    return _DIGITS.get(currency, 2)


def written(minor: int, currency: str) -> str:
    """Write an amount of whole minor units, 0 or more, with its currency.

    >>> written(123456, "EUR"), written(1500, "JPY"), written(1500, "KWD")
    ('1,234.56 EUR', '1,500 JPY', '1.500 KWD')
    """
    places = digits(currency)
    return f"{number(Decimal(minor).scaleb(-places), f',.{places}f')} {currency}"

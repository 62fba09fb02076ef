"""The mark that every outside check carries: where its values come from."""

from __future__ import annotations

PRINTED = "printed"
"""Values as a standard, a table or a worked example prints them, at the precision printed."""
LIBRARY = "library"
"""An independent general-purpose library, or a round trip through one."""
BALANCE = "balance"
"""Equations of statics or calculus written anew in the test, that share nothing with calc."""
KINDS = (PRINTED, LIBRARY, BALANCE)


def source(words, kind=PRINTED):
    """Name the source of a test's values, beside it."""

    def mark(test):
        test.source, test.kind = words, kind
        return test

    return mark

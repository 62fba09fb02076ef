"""Finds rows by the beginnings of the words typed, as fast in a million rows as in ten thousand.

The words of customers (with their riders), bikes and loose parts are kept apart, in lower case and without accents,
in one table with an ordinary index; a look-up takes the range of words with that beginning, on either database.
Plates, frame numbers and telephone numbers are found by their end, too, and however they are spaced.

The words follow every saved row: `create`, `save` and `shops.versions.save` tell of themselves. Whoever writes rows
customers in bulk calls `keep_words_of_customers` afterwards.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import Exists, OuterRef, Q

from setups.models import Bike, Customer, JobCard, Rider
from setups.search_models import SearchWord
from shops.access import everywhere, rows
from shops.each_row import has_any
from shops.models import Person, Shop

RARE = 100
"""Of so many rows, or fewer, with one word each is asked for the other words; else these are looked up, too."""
FEW = 1500
"""A word that so many rows have, or fewer, is looked up first; of a commoner one the rows are asked in their order."""
MOST_FOUND = 1000
"""As many rows are counted, and put in order by themselves; more are walked through in the list's own order."""
SHOWING = (300, 1200)
"""So many rows with a common word mostly show that more than `MOST_FOUND` are found: bikes of which each has a few
cards; or, where it is they that are found, though some are hidden.
"""
MOST_WORDS = 8
LONGEST = 60
SHORTEST_END = 3
BACKWARDS = "~"
"""Begins a word that is kept backwards: no letter and no digit, so that no typed word begins so."""
AFTER_ALL = b"\xff"
"""Follows every UTF-8 text that has the same beginning."""
KINDS = {Customer: SearchWord.Of.CUSTOMER, Bike: SearchWord.Of.BIKE, JobCard: SearchWord.Of.CARD}


def plain(text: str) -> str:
    """Return the text in lower case, without accents and case."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def words_of(texts: Iterable[str], numbers: Iterable[str] = ()) -> set[str]:
    """Return the words by which `texts`, and `numbers` such as plates, are found."""
    found = set()
    for text in (*texts, *numbers):
        for word in plain(text).split():
            found |= {word, *re.findall(r"[^\W_]+", word)}
    for number in numbers:
        joined = "".join(re.findall(r"[^\W_]+", plain(number)))
        found |= {joined, BACKWARDS + joined[::-1]} if joined else set()
    return {word[:LONGEST] for word in found}


def words_of_row(row: Any) -> set[str]:
    """Return the words of one customer, bike or card."""
    if isinstance(row, Bike):
        return words_of((row.make, row.model), (row.plate, row.frame_number))
    if isinstance(row, JobCard):
        return words_of((row.loose_description,))
    riders = everywhere(Rider, why="the customer whose words are kept is held").filter(customer=row)
    return words_of((row.name, row.email, *riders.values_list("name", flat=True)), (row.phone,))


def keep_words(row: Customer | Bike | JobCard) -> None:
    """Let `row` be found by what it holds now, and by nothing that it held before."""
    kind = KINDS[type(row)]
    kept = everywhere(SearchWord, why="the words of a row already held").filter(of=kind, row_id=row.pk)
    old, new = {bytes(word) for word in kept.values_list("word", flat=True)}, {w.encode() for w in words_of_row(row)}
    if gone := old - new:
        kept.filter(word__in=gone).delete()
    SearchWord.objects.bulk_create(
        [SearchWord(business_id=row.business_id, of=kind, row_id=row.pk, word=word) for word in sorted(new - old)]
    )


def keep_words_of_customers(customers: Iterable[Customer]) -> None:
    """Let customers that were written in bulk be found by what they and their riders hold now."""
    keys = {row.pk: row for row in customers}
    kind = SearchWord.Of.CUSTOMER
    names: dict[int, list[str]] = {}
    riders = everywhere(Rider, why="customers whose words are kept are held").filter(customer__in=keys)
    for customer, name in riders.values_list("customer", "name"):
        names.setdefault(customer, []).append(name)
    everywhere(SearchWord, why="the words of rows already held").filter(of=kind, row_id__in=keys).delete()
    SearchWord.objects.bulk_create(
        [
            SearchWord(business_id=row.business_id, of=kind, row_id=key, word=word.encode())
            for key, row in keys.items()
            for word in sorted(words_of((row.name, row.email, *names.get(key, ())), (row.phone,)))
        ],
        batch_size=5000,
    )


def forget_words(row: Customer | Bike | JobCard) -> None:
    """Forget the words of a row that is deleted."""
    everywhere(SearchWord, why="a row that was held").filter(of=KINDS[type(row)], row_id=row.pk).delete()


@dataclass(frozen=True)
class Narrowed:
    """The rows found, and how many there are; no rows are counted (None) where nothing was typed."""

    rows: Any
    count: int | None


def narrowed(queryset: Any, person: Person, typed: str, places: Mapping[SearchWord.Of, Any]) -> Narrowed:
    """Return the rows of `queryset` in which every word typed begins a word, or ends a number.

    `places` says where: by kind of `SearchWord.Of` the field that holds the id ("bike_id"), or that field and a
    condition (Q) under which it counts. Job cards are also found by their number. Counting ends at one more than
    `MOST_FOUND`.

    Rows are looked for by the rarest word, and the others are asked of what that one finds. Where even the rarest is
    common, the first of its rows mostly show already that more are found than are counted.
    """
    words = plain(typed).split()[:MOST_WORDS]
    if not words:
        return Narrowed(queryset, None)
    shops = dict(rows(Shop, person).values_list("id", "code")) if queryset.model is JobCard else {}
    found: list[_Typed] = []
    # The longest first, which mostly is the rarest: once a rare one is found, the others need no look-up of their own.
    for word in sorted(words, key=len, reverse=True):
        rare = any(one.looked_up and len(one.some) <= RARE for one in found)
        found.append(_typed(person, word[:LONGEST], places, shops, look_up=not rare))
    rarest = min((one for one in found if one.looked_up), key=lambda one: len(one.some))
    others = [one for one in found if one is not rarest]
    asked = queryset.filter(*(one.condition() for one in others))
    if rarest.few:
        narrow = asked.filter(rarest.named())
    else:
        # Without a limit: for its sake a planner would read the table until it has met that many of those named.
        if any(asked.filter(rarest.named(some)).order_by().count() > MOST_FOUND for some in SHOWING):
            return Narrowed(asked.filter(rarest.condition()), MOST_FOUND + 1)
        # Words that many rows have, but few rows together: a planner may gather each word's rows first.
        narrow = queryset.filter(*(one.condition(gathered=True) for one in found))
    keys = list(narrow.order_by().values_list("pk", flat=True)[: MOST_FOUND + 1])
    # Few enough are put in order by themselves: else a planner may walk the whole list for them.
    return Narrowed(queryset.filter(pk__in=keys) if len(keys) <= MOST_FOUND else narrow, len(keys))


@dataclass(frozen=True)
class _Typed:
    """One typed word: the kept words that it begins, and some of the rows that have it, all where it is rare."""

    kept: Any
    looked_up: bool
    some: Sequence[tuple[str, int]]
    places: Mapping[SearchWord.Of, Any]
    number: Q

    @property
    def few(self) -> bool:
        return self.looked_up and len(self.some) <= FEW

    def named(self, most: int | None = None) -> Q:
        """Return the condition that a row is one of `some`, or of the first so many of them; an index finds each."""
        named = list(dict.fromkeys(self.some))[:most]
        return self._anywhere(lambda kind, column: Q(**{f"{column}__in": {key for of, key in named if of == kind}}))

    def condition(self, *, gathered: bool = False) -> Q:
        """Return the condition that a row has the word: one of those named, or asked row by row. `gathered` lets a
        planner gather all rows with the word beforehand, which takes the longer, the more there are.
        """
        if self.few:
            return self.named()

        def asked(kind: SearchWord.Of, column: str) -> Q:
            kept = self.kept.filter(of=kind, row_id=OuterRef(column))
            return Q(Exists(kept)) if gathered else has_any(kept)

        return self._anywhere(asked)

    def _anywhere(self, having: Callable[[SearchWord.Of, str], Q]) -> Q:
        condition = self.number
        for kind, place in self.places.items():
            column, only = place if isinstance(place, tuple) else (place, Q())
            condition |= having(kind, column) & only
        return condition


def _typed(
    person: Person, word: str, places: Mapping[SearchWord.Of, Any], shops: Mapping[int, str], *, look_up: bool
) -> _Typed:
    kept = rows(SearchWord, person).filter(of__in=list(places))
    begins = _beginnings(word)
    # One after the other, and not by an OR, for which a database gathers all that have the word before it gives one.
    first, *more = (kept.filter(one).values_list("of", "row_id") for one in begins)
    some = list((first.union(*more, all=True) if more else first)[: FEW + 1]) if look_up else []
    # Whoever looks for a card's number finds it by the index of the numbers, which begins with the shop.
    number = Q(shop__in=list(shops), number__in=_numbers(shops.values(), word)) if shops else Q(pk__in=())
    return _Typed(kept.filter(reduce(or_, begins)), look_up, some, places, number)


def _beginnings(word: str) -> list[Q]:
    # Whoever types a plate with a hyphen finds it without one.
    joined = "".join(re.findall(r"[^\W_]+", word))
    wanted = {word, joined} if joined else {word}
    if len(joined) >= SHORTEST_END:
        wanted.add(BACKWARDS + joined[::-1])
    starts = (text.encode() for text in sorted(wanted))
    return [Q(word__gte=start, word__lt=start + AFTER_ALL) for start in starts]


def _numbers(codes: Iterable[str], word: str) -> list[str]:
    """Return the card numbers that a typed word can mean: a whole number, or its digits alone."""
    if not word.isascii() or not word.isdigit() or len(word) > 9:
        return [word.upper()]
    return [f"{code}-{int(word):04d}" for code in codes]

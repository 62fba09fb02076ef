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
from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import Exists, OuterRef, Q

from setups.models import Bike, Customer, JobCard, Rider
from setups.search_models import SearchWord
from shops.access import everywhere, rows
from shops.models import Person, Shop

FEW = 500
"""A word that so many rows have, or fewer, is looked up first; of a commoner one the rows are asked in their order."""
MOST_FOUND = 1000
"""As many rows are put in order by themselves; more are walked through in the list's own order."""
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


def narrowed(queryset: Any, person: Person, typed: str, places: Mapping[SearchWord.Of, Any]) -> Any:
    """Return the rows of `queryset` in which every word typed begins a word, or ends a number.

    `places` says where: by kind of `SearchWord.Of` the field that holds the id ("bike_id"), or that field and a
    condition (Q) under which it counts. Job cards are also found by their number.
    """
    found, all_few = queryset, True
    for word in plain(typed).split()[:MOST_WORDS]:
        condition, few = _having(person, word[:LONGEST], places)
        if queryset.model is JobCard:
            condition |= Q(number__in=_numbers(person, word))
        found, all_few = found.filter(condition), all_few and few
    if not typed.split() or not all_few:
        return found
    # Few enough to be put in order by themselves: else a planner may walk the whole list for them.
    keys = list(found.order_by().values_list("pk", flat=True)[: MOST_FOUND + 1])
    return queryset.filter(pk__in=keys) if len(keys) <= MOST_FOUND else found


def _having(person: Person, word: str, places: Mapping[SearchWord.Of, Any]) -> tuple[Q, bool]:
    """Return the condition that a row has the word, and whether it names the rows (True) or asks each (False)."""
    kept = rows(SearchWord, person).filter(_beginning(word), of__in=list(places))
    few = list(kept.values_list("of", "row_id")[: FEW + 1])
    condition = Q(pk__in=())
    for kind, place in places.items():
        column, only = place if isinstance(place, tuple) else (place, Q())
        if len(few) <= FEW:
            one = Q(**{f"{column}__in": {key for of, key in few if of == kind}})
        else:
            one = Q(Exists(kept.filter(of=kind, row_id=OuterRef(column))))
        condition |= one & only
    return condition, len(few) <= FEW


def _beginning(word: str) -> Q:
    # Whoever types a plate with a hyphen finds it without one.
    joined = "".join(re.findall(r"[^\W_]+", word))
    wanted = {word, joined} if joined else {word}
    if len(joined) >= SHORTEST_END:
        wanted.add(BACKWARDS + joined[::-1])
    condition = Q()
    for text in sorted(wanted):
        start = text.encode()
        condition |= Q(word__gte=start, word__lt=start + AFTER_ALL)
    return condition


def _numbers(person: Person, word: str) -> list[str]:
    """Return the card numbers that a typed word can mean: a whole number, or its digits alone."""
    if not word.isascii() or not word.isdigit() or len(word) > 9:
        return [word.upper()]
    codes = rows(Shop, person).values_list("code", flat=True)
    return [f"{code}-{int(word):04d}" for code in codes]

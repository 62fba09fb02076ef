"""Makes the demo's business large: cards by the hundred thousand, with bikes, customers, readings, torque lines,
batches, sags, trail and seals; and, now and then, what an audit looks for.

The rows are as the verbs leave them, but written in bulk: what varies from card to card is put into a prepared row,
and the sealed documents are one card's own, made canonical once, with the next card's values in their places. The
chain is a chain, and `manage.py verify` recomputes it like any other.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from itertools import islice
from typing import Any

from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models import Max, Model
from django.utils import timezone

from setups import sag_totals, search
from setups.approval_models import Override
from setups.batches import batch_key
from setups.demo.clock import standing_at
from setups.learned import model_key
from setups.models import (
    BatchUse,
    Bike,
    BuiltSag,
    Customer,
    JobCard,
    Kind,
    PersonalValue,
    Reading,
    SealedRecord,
    TorqueLine,
)
from setups.record.canonical import canonical, digest, personal
from setups.record.document import AMENDMENT_FORMAT, Documents, Gathered, Heading, build, program
from setups.record.gather import shop_facts
from setups.record.verify import head_of, moment
from setups.search_models import SearchWord
from setups.whole_card import whole_card
from shops import verbs
from shops.access import everywhere
from shops.models import AuditEntry, Person, Shop, Tool
from shops.trail import Actor

WHY = "the demo's own business is made large"
BATCH = 5000
CARDS_A_CUSTOMER = 4
"""So many cards has a customer with one bike, in the mean."""
LEFT_OPEN = 200
"""So many of the newest cards are not sealed yet."""
YEARS = 12
MINUTES = 60 * 24 * 365 * YEARS
MAKES = ("Brackwater", "Halvard", "Veldt", "Ostrim", "Tarnell", "Quindle", "Morrowby", "Esker")
MODELS = ("Heron", "Curlew", "Dunlin", "Otter", "Kestrel", "Plover", "Marten", "Siskin", "Wagtail", "Pipit")
FIRST = ("Ada", "Bryn", "Corin", "Dilys", "Edda", "Finn", "Greta", "Hale", "Imke", "Jory", "Kerra", "Linus", "Maren")
SYLLABLES = ("bar", "cor", "dun", "fel", "gar", "hol", "kel", "lim", "mor", "nar", "oss", "pel", "quin", "ros", "tam",
             "ulv", "ven", "wick", "yor", "zel")  # fmt: skip
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
CARDS_A_BATCH = 40
OPEN, UNCHECKED, UNSOURCED, AMENDED = 97, 101, 103, 89
"""One card in so many stays open, has a fastener unchecked or a torque without its page, was amended."""
FASTENER = "Fork cap, left"
WRENCH = "Torque wrench of the large demo"
UNCALIBRATED_DAYS = 4
"""So long every year the wrench waits for its next calibration, in use all the same."""
QUANTITIES = ("wheel_free_mm", "alone_from_above_mm", "rider_from_above_mm", "rider_from_below_mm")


class Rows:
    """Rows of one model to be written in bulk: a prepared row, of which some columns vary.

    PostgreSQL gets them as lines of its COPY format, for which the row is a line with gaps; SQLite as parameters.
    """

    def __init__(self, example: Model, *varying: str) -> None:
        meta = example._meta
        fields = {field.attname: field for field in meta.concrete_fields}
        self.table = connection.ops.quote_name(meta.db_table)
        self.copied = connection.vendor == "postgresql"
        # The varying columns come first, the others follow with the prepared row's values.
        fixed = {name: field for name, field in fields.items() if name not in varying}
        self.columns = [connection.ops.quote_name(str(fields[name].column)) for name in (*varying, *fixed)]
        form = _copied if self.copied else _plain
        values = [form(field)(getattr(example, name)) for name, field in fixed.items()]
        self.rest: Any = "".join(f"\t{value}" for value in values) + "\n" if self.copied else tuple(values)
        self.prepare: list[Callable[[Any], Any]] = [form(fields[name]) for name in varying]
        self.waiting: list[Any] = []

    def add(self, *values: Any) -> None:
        """Add a row with these values of the varying columns."""
        plain = [prepare(value) for prepare, value in zip(self.prepare, values, strict=True)]
        self.waiting.append("\t".join(plain) + self.rest if self.copied else (*plain, *self.rest))

    def taken(self) -> list[Any]:
        """Return the rows that wait; they wait no longer."""
        waiting, self.waiting = self.waiting, []
        return waiting

    def write(self, waiting: Sequence[Any]) -> None:
        """Write rows that were taken."""
        if not waiting:
            return
        names = ", ".join(self.columns)
        with connection.cursor() as cursor:
            if self.copied:
                with cursor.copy(f"COPY {self.table} ({names}) FROM STDIN") as copy:
                    copy.write("".join(waiting))
            else:
                marks = ", ".join(["%s"] * len(self.columns))
                statement = f"INSERT INTO {self.table} ({names}) VALUES ({marks})"  # noqa: S608  # names of our own
                cursor.executemany(statement, waiting)


class CountedRows(Rows):
    """Rows that count their own ids on from the last one there."""

    def __init__(self, example: Model, *varying: str) -> None:
        super().__init__(example, "id", *varying)
        self.last = _last(type(example))

    def add(self, *values: Any) -> None:
        """Add a row with the next id and these values."""
        self.last += 1
        super().add(self.last, *values)


def _plain(field: Any) -> Callable[[Any], Any]:
    """Return what turns a value of the field into text, number, bytes or None, as both databases take it."""
    kind = field.get_internal_type()
    if kind == "DateTimeField":
        return _moment
    if kind == "DateField":
        return lambda value: None if value is None else value.isoformat()
    if kind == "JSONField":
        return lambda value: None if value is None else json.dumps(value)
    return lambda value: value


@lru_cache(maxsize=64)  # a card's rows share a few moments
def _moment(at: datetime | None) -> str | None:
    # As Django writes it: SQLite keeps no zone, and PostgreSQL's connection is in UTC.
    return None if at is None else at.astimezone(UTC).replace(tzinfo=None).isoformat(" ")


def _copied(field: Any) -> Callable[[Any], str]:
    """Return what turns a value of the field into what PostgreSQL's COPY reads it from, in a line of text."""
    plain, kind = _plain(field), field.get_internal_type()
    if kind == "BinaryField":
        return lambda value: f"\\\\x{value.hex()}"
    if kind in {"CharField", "TextField", "EmailField", "JSONField", "GenericIPAddressField"}:
        return lambda value: "\\N" if value is None else _escaped(plain(value))
    return lambda value: "\\N" if value is None else str(plain(value))


def _escaped(text: str) -> str:
    if text.isprintable() and "\\" not in text:
        return text
    return text.replace("\\", "\\\\").replace("\n", "\\n").replace("\t", "\\t").replace("\r", "\\r")


class Marked:
    """A text with marks, in the places of which values are put."""

    def __init__(self, text: str, marks: Iterable[str]) -> None:
        """Take the text apart at its marks."""
        self.pieces = re.split(f"({'|'.join(re.escape(mark) for mark in marks)})", text)

    def filled(self, values: Mapping[str, str]) -> str:
        """Return the text with `values`, by mark; they must need no escaping where they go."""
        return "".join([values.get(piece, piece) for piece in self.pieces])


COMMITTED = Marked(canonical({"path": "@path@", "salt": "@salt@", "value": "@value@"}), ("@path@", "@salt@", "@value@"))
"""What a commitment is the digest of; see `setups.record.canonical.commitment`."""


@dataclass
class Frozen:
    """A card's sealed documents as canonical texts with marks where another card's values go."""

    public: Marked
    internal: Marked

    MARKS = ("@number@", "@opened@", "@sealed@", "@name@", "@plate@", "@frame@")
    RECORD, CARD, BIKE, CUSTOMER = (9007199254740000 + place for place in range(4))
    """Numbers that no row has, in the places of the record's number and the rows' ids."""

    @classmethod
    def of(cls, card: JobCard) -> Frozen:
        """Return the documents of `card`, lean: the job's face and readings, without words and computed results."""
        plain = dict(whole_card(card))
        plain |= {"number": "@number@", "opened_at": "@opened@", "id": cls.CARD, "complaint": "", "explanation": ""}
        plain["bike"] = {**plain["bike"], "id": cls.BIKE}
        plain["customer"] = {**plain["customer"], "id": cls.CUSTOMER}
        nothing: dict[str, Any] = {"front": None, "rear": None}
        gathered = Gathered(plain, {}, {}, shop_facts(card.shop), nothing, [])
        made: Documents = build(gathered, Heading(cls.RECORD, "@sealed@", card.opened_by.name))
        made.public["customer"]["name"] = {"commitment": "@name@"}
        for key, mark in (("plate", "@plate@"), ("frame_number", "@frame@")):
            made.public["bike"][key] = {"commitment": mark}
        numbers = [str(one) for one in (cls.RECORD, cls.CARD, cls.BIKE, cls.CUSTOMER)]
        return cls(*(Marked(canonical(part), (*cls.MARKS, *numbers)) for part in (made.public, made.internal)))

    def filled(self, number: int, ids: tuple[int, int, int], texts: Mapping[str, str]) -> tuple[str, str]:
        """Return both documents with a card's values in the places."""
        marks = (self.RECORD, self.CARD, self.BIKE, self.CUSTOMER)
        values = {**texts, **{str(mark): str(value) for mark, value in zip(marks, (number, *ids), strict=True)}}
        return self.public.filled(values), self.internal.filled(values)


def enlarge(shop: Shop, technician: Person, wanted: int, say: Callable[[str], object] = print) -> int:
    """Add cards to `shop` until its business has `wanted`, and return how many were added."""
    there = everywhere(JobCard, why=WHY).filter(business=shop.business_id).count()
    missing = wanted - there
    if missing <= 0:
        return 0
    many = Many(shop, technician, missing)
    added, batch = 0, many.batch()
    with ThreadPoolExecutor(1) as maker:
        while batch.cards:
            # While the database is busy with one batch, the next is made.
            coming = maker.submit(many.batch)
            batch.write(shop)
            added += batch.cards
            if added % (BATCH * 10) == 0:
                say(f"{there + added} cards")
            batch = coming.result()
    sag_totals.count_again(shop)
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), [*many.rows]):
            cursor.execute(statement)
        cursor.execute("ANALYZE")
    return added


@dataclass
class Batch:
    """Rows that were made and wait to be written, of so many cards, up to the shop's card of this number."""

    cards: int
    last_number: int
    rows: Sequence[tuple[Rows, Sequence[Any]]]

    def write(self, shop: Shop) -> None:
        """Write all of it, and the shop's last card number, or nothing."""
        with transaction.atomic():
            _compress_quickly()
            for rows, waiting in self.rows:
                rows.write(waiting)
            everywhere(Shop, why=WHY).filter(pk=shop.pk).update(cards_opened=self.last_number)


def _compress_quickly() -> None:
    """Have PostgreSQL compress long texts the quick way in this transaction: the slow one takes a fifth of all work."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT 'lz4' = ANY(enumvals) FROM pg_settings WHERE name = 'default_toast_compression'")
        if cursor.fetchone() == (True,):
            cursor.execute("SET LOCAL default_toast_compression = 'lz4'")


class Many:
    """The rows that come, and the ids, numbers and head that they go on from."""

    def __init__(self, shop: Shop, technician: Person, count: int) -> None:
        self.shop, self.technician, self.count = shop, technician, count
        self.next = {model: _last(model) + 1 for model in (Customer, Bike, JobCard, SealedRecord)}
        self.card_number = shop.cards_opened
        last = shop.records.order_by("-number").first()
        self.link = (last.number, last.head) if last else (0, "")
        self.begin = timezone.now() - timedelta(days=365 * YEARS)
        self._prepare()
        self.coming = self._cards()

    def _prepare(self) -> None:
        business, shop, technician = self.shop.business_id, self.shop, self.technician
        at = self.begin
        colleague = _colleague(technician)
        self.colleague = colleague.pk
        customer = Customer(business_id=business, name="x")
        bike = Bike(business_id=business, make="Brackwater", model="Heron", kind=Kind.ENDURO, year=2019)
        card = JobCard(
            business_id=business, shop=shop, opened_by=technician, complaint="Dives under braking.", step="sealed",
            explanation="Springs and oil renewed.", customer_id=0, bike_id=0, number="x", opened_at=at,
        )  # fmt: skip
        reading = Reading(
            card_id=0, stage="received", end="rear", quantity=QUANTITIES[0], value=0.0, instrument="steel tape",
            taken_by=technician, taken_at=at,
        )  # fmt: skip
        entry = AuditEntry(
            business_id=business, shop=shop, person=technician, verb="open card", subject="jobcard", subject_id=0
        )
        self.record = SealedRecord(shop=shop, what=SealedRecord.What.CARD, sealed_by=technician, number=0)
        value = PersonalValue(path="x", value="", salt="", shared=True)
        word = SearchWord(business_id=business, word=b"", of=SearchWord.Of.BIKE, row_id=0)
        line = TorqueLine(
            business_id=business, card_id=0, opened_at=at, fastener=FASTENER, value_nm=20.0,
            source_edition="Manual, ed. 2", source_page="3-4",
            wrench=_wrench(shop, technician, at), needs_second_check=True, tightened_by=technician, tightened_at=at,
            checked_by=colleague, checked_at=at,
            calibration={"calibrated_on": None, "due_on": None, "cycles": 100},
        )  # fmt: skip
        passed = Override(
            business_id=business, card_id=0, code="not_checked", about="x",
            text=f"{FASTENER}: not checked by a second person yet.",
            reason="Nobody else was in the shop that day.", by=colleague, at=at,
        )  # fmt: skip
        batch = BatchUse(
            business_id=business, shop=shop, card_id=0, what="oil", end="front", batch="x", batch_key="x",
            label="oil 5 W", at=at,
        )  # fmt: skip
        self.sag = BuiltSag(
            business_id=business, shop=shop, card_id=0, make="x", model="x", model_key="x", kind=Kind.ENDURO, year=2019,
            end="rear", sag="rider", predicted_mm=100.0, measured_mm=100.0, difference_mm=0.0, u_mm=1.0, sealed_at=at,
        )  # fmt: skip
        self.rows = {
            Customer: Rows(customer, "id", "name", "phone", "email"),
            Bike: Rows(bike, "id", "owner_id", "make", "model", "plate", "frame_number"),
            JobCard: Rows(card, "id", "number", "step", "bike_id", "customer_id", "opened_at"),
            Reading: CountedRows(reading, "card_id", "quantity", "value", "taken_at"),
            AuditEntry: CountedRows(entry, "at", "verb", "subject_id", "after"),
            SealedRecord: Rows(
                self.record, "id", "card_id", "what", "number", "public", "internal", "public_digest",
                "internal_digest", "previous_head", "head", "sealed_at",
            ),
            PersonalValue: CountedRows(value, "record_id", "path", "value", "salt"),
            SearchWord: CountedRows(word, "of", "row_id", "word"),
            TorqueLine: CountedRows(
                line, "card_id", "opened_at", "tightened_at", "checked_by_id", "checked_at", "source_page"
            ),
            Override: CountedRows(passed, "card_id", "about", "at"),
            BatchUse: CountedRows(batch, "card_id", "batch", "batch_key", "at"),
            BuiltSag: CountedRows(
                self.sag, "card_id", "make", "model", "model_key", "end", "measured_mm", "difference_mm", "sealed_at"
            ),
        }  # fmt: skip

    def batch(self) -> Batch:
        """Return the rows of the next cards; no cards where all are made. The first call reads the database."""
        cards = sum(1 for _ in islice(self.coming, BATCH))
        return Batch(cards, self.card_number, [(rows, rows.taken()) for rows in self.rows.values()])

    def _cards(self) -> Iterator[int]:
        """Make the rows of one card after the other, a customer with a bike before every few."""
        frozen: Frozen | None = None
        owner: tuple[int, int, dict[str, str]] | None = None
        for place in range(self.count):
            if place % CARDS_A_CUSTOMER == 0 or owner is None:
                owner = self._customer()
            at = (self.begin + timedelta(minutes=MINUTES * place // self.count)).replace(microsecond=0)
            sealed = place < self.count - LEFT_OPEN and place % OPEN != OPEN - 1
            pk = self._card(owner, at, "sealed" if sealed else "received")
            if sealed:
                frozen = frozen or self._frozen(pk)
                self._work(place, pk, at)
                self._seal(frozen, pk, owner, at)
                if place % AMENDED == AMENDED - 1:
                    self._amend(pk, at)
            yield pk

    def _frozen(self, first: int) -> Frozen:
        """Return what the first card of all would be sealed as, the model of the others' documents: to be read it must
        be there, and so it is for a moment.
        """
        with transaction.atomic():
            for rows in self.rows.values():
                rows.write(rows.waiting)
            frozen = Frozen.of(everywhere(JobCard, why=WHY).get(pk=first))
            transaction.set_rollback(True)
        return frozen

    def _customer(self) -> tuple[int, int, dict[str, str]]:
        pk, bike = self.next[Customer], self.next[Bike]
        self.next[Customer], self.next[Bike] = pk + 1, bike + 1
        many = len(SYLLABLES)
        name = f"{FIRST[pk % len(FIRST)]} " + "".join(
            SYLLABLES[pk // step % many] for step in (1, many, many**2, many**3)
        ).capitalize()
        make, model = MAKES[pk % len(MAKES)], f"{MODELS[pk % len(MODELS)]} {250 + pk % 7 * 50}"
        self.bike = make, model, model_key(make, model)
        letters = "".join(LETTERS[pk // step % len(LETTERS)] for step in (1, 23))
        personal_values = {"name": name, "plate": f"{letters} {pk:06d}", "frame": f"XQZ{pk * 7919 % 10**9:09d}{pk:07d}"}
        phone, email = f"555 {pk:07d}", f"rider{pk}@rider.example"
        self.rows[Customer].add(pk, name, phone, email)
        self.rows[Bike].add(bike, pk, make, model, personal_values["plate"], personal_values["frame"])
        words = self.rows[SearchWord]
        for word in search.words_of((name, email), (phone,)):
            words.add(SearchWord.Of.CUSTOMER.value, pk, word.encode())
        for word in search.words_of((make, model), (personal_values["plate"], personal_values["frame"])):
            words.add(SearchWord.Of.BIKE.value, bike, word.encode())
        return pk, bike, personal_values

    def _card(self, owner: tuple[int, int, dict[str, str]], at: datetime, step: str) -> int:
        pk = self.next[JobCard]
        self.next[JobCard] += 1
        self.card_number += 1
        self.number = f"{self.shop.code}-{self.card_number:04d}"
        self.rows[JobCard].add(pk, self.number, step, owner[1], owner[0], at)
        for place, quantity in enumerate(QUANTITIES):
            self.rows[Reading].add(pk, quantity, 640.0 - 20 * place - pk % 13, at)
        self.rows[AuditEntry].add(at, "open card", pk, {"number": self.number})
        return pk

    def _work(self, place: int, card: int, at: datetime) -> None:
        """Tighten, check, fill with oil, measure: before a card is sealed, some of it with what an audit looks for."""
        done = at + timedelta(hours=4)
        unchecked, page = place % UNCHECKED == UNCHECKED - 1, "" if place % UNSOURCED == UNSOURCED - 1 else "3-4"
        checked = (None, None) if unchecked else (self.colleague, done)
        batch = f"OIL-{place // CARDS_A_BATCH:05d}"
        self.rows[TorqueLine].add(card, at, done, *checked, page)
        if unchecked:
            self.rows[Override].add(card, f"torque of card {card}", done)
        self.rows[BatchUse].add(card, batch, batch_key(batch), done)
        for end, predicted in (("front", 90.0), ("rear", 100.0)):
            difference = float(place % 11 - 5 + (end == "rear"))
            values = (card, *self.bike, end, predicted + difference, difference, at + timedelta(hours=8))
            self.rows[BuiltSag].add(*values)

    def _amend(self, card: int, at: datetime) -> None:
        """Add an amendment to the record just written."""
        amended, sealed_at = self.link, at + timedelta(days=2)
        common = {
            "format": AMENDMENT_FORMAT, "program": program(), "card": {"number": self.number},
            "record": {
                "number": amended[0] + 1, "sealed_at": moment(sealed_at.astimezone(UTC)),
                "sealed_by": self.technician.name,
            },
            "amends": {"number": amended[0], "head": amended[1]},
        }  # fmt: skip
        change = {"path": "card.distance_km", "old": None, "new": 4200.0, "why": "It stood on the other page."}
        texts = canonical(common | {"amendment": change}), canonical(common | {"amendment": None})
        self._append(card, SealedRecord.What.AMENDMENT, texts, sealed_at)
        self.rows[AuditEntry].add(sealed_at, "amend record", card, {"path": "card.distance_km", "value": 4200.0})

    def _seal(self, frozen: Frozen, card: int, owner: tuple[int, int, dict[str, str]], at: datetime) -> None:
        number, sealed_at = self.link[0] + 1, (at + timedelta(hours=8)).astimezone(UTC)
        paths = {
            "@name@": "public.customer.name", "@plate@": "public.bike.plate", "@frame@": "public.bike.frame_number"
        }  # fmt: skip
        texts = {"@number@": self.number, "@opened@": moment(at), "@sealed@": moment(sealed_at)}
        for mark, path in paths.items():
            kept = personal(path, owner[2][mark.strip("@")], shared=True)
            texts[mark] = digest(COMMITTED.filled({"@path@": path, "@salt@": kept.salt, "@value@": kept.value}))
            self.rows[PersonalValue].add(self.next[SealedRecord], path, kept.value, kept.salt)
        filled = frozen.filled(number, (card, owner[1], owner[0]), texts)
        self._append(card, SealedRecord.What.CARD, filled, sealed_at)
        self.rows[AuditEntry].add(sealed_at, "seal card", card, {"record": number, "head": self.link[1]})

    def _append(self, card: int, what: str, texts: tuple[str, str], sealed_at: datetime) -> None:
        """Add a link to the chain."""
        pk, (last, previous), record = self.next[SealedRecord], self.link, self.record
        self.next[SealedRecord] += 1
        record.public, record.internal = texts
        record.what, record.card_id, record.number = what, card, last + 1
        record.previous_head, record.sealed_at = previous, sealed_at
        record.public_digest, record.internal_digest = digest(record.public), digest(record.internal)
        record.head = head_of(record)
        self.link = record.number, record.head
        self.rows[SealedRecord].add(
            pk, card, what, record.number, record.public, record.internal, record.public_digest, record.internal_digest,
            previous, record.head, sealed_at,
        )  # fmt: skip


def _colleague(technician: Person) -> Person:
    """Return who checks a second time: somebody else of the shop, where there is anybody."""
    others = everywhere(Person, why=WHY).filter(shop=technician.shop_id).exclude(pk=technician.pk)
    return others.order_by("id").first() or technician


def _wrench(shop: Shop, technician: Person, begin: datetime) -> Tool:
    """Return the large demo's wrench, entered with a calibration for each year since `begin`."""
    held = everywhere(Tool, why=WHY).filter(shop=shop, name=WRENCH).first()
    if held is not None:
        return held
    actor = Actor(technician)
    for year in range(YEARS + 1):
        day = begin + timedelta(days=365 * year + UNCALIBRATED_DAYS)
        if day > timezone.now():
            break
        dates = {"calibrated_on": day.date(), "calibration_due": (day + timedelta(days=365 - UNCALIBRATED_DAYS)).date()}
        with standing_at(day):
            if held is None:
                held = verbs.add_tool(
                    actor, shop=shop, kind=Tool.Kind.TORQUE_WRENCH, name=WRENCH, serial="L-1", **dates
                )
            else:
                held = verbs.change_tool(actor, held, held.version, dates)
    if held is None:
        raise RuntimeError("A year is over before it began.")
    return held


def _last(model: Any) -> int:
    return everywhere(model, why=WHY).aggregate(last=Max("id"))["last"] or 0

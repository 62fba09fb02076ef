"""Makes the demo's business large: cards by the hundred thousand, with bikes, customers, readings, trail and seals.

The rows are as the verbs leave them, but written in bulk: what varies from card to card is put into a prepared row,
and the sealed documents are one card's own, made canonical once, with the next card's values in their places. The
chain is a chain, and `manage.py verify` recomputes it like any other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import islice
from typing import Any

from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models import Max, Model
from django.utils import timezone

from setups import search
from setups.models import Bike, Customer, JobCard, Kind, PersonalValue, Reading, SealedRecord
from setups.record.canonical import canonical, commitment, digest, personal
from setups.record.document import Documents, Gathered, Heading, build
from setups.record.gather import shop_facts
from setups.record.verify import head_of, moment
from setups.search_models import SearchWord
from setups.whole_card import whole_card
from shops.access import everywhere
from shops.models import AuditEntry, Person, Shop

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
QUANTITIES = ("wheel_free_mm", "alone_from_above_mm", "rider_from_above_mm", "rider_from_below_mm")


class Rows:
    """Rows of one model to be written in bulk: a prepared row, of which some columns vary."""

    def __init__(self, example: Model, *varying: str) -> None:
        meta = example._meta
        fields = list(meta.concrete_fields)
        self.table = connection.ops.quote_name(meta.db_table)
        self.columns = [connection.ops.quote_name(str(field.column)) for field in fields]
        values = [getattr(example, field.attname) for field in fields]
        pairs = zip(fields, values, strict=True)
        self.base = [field.get_db_prep_save(value, connection) for field, value in pairs]
        places = {field.attname: place for place, field in enumerate(fields)}
        self.places = [places[name] for name in varying]
        self.prepare: list[Callable[[Any], Any]] = [_prepared(meta.get_field(name)) for name in varying]
        self.waiting: list[list[Any]] = []

    def add(self, *values: Any) -> None:
        """Add a row with these values of the varying columns."""
        row = self.base.copy()
        for place, prepare, value in zip(self.places, self.prepare, values, strict=True):
            row[place] = prepare(value)
        self.waiting.append(row)

    def write(self) -> None:
        """Write the rows that wait."""
        if not self.waiting:
            return
        names = ", ".join(self.columns)
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                with cursor.copy(f"COPY {self.table} ({names}) FROM STDIN") as copy:
                    for row in self.waiting:
                        copy.write_row(row)
            else:
                marks = ", ".join(["%s"] * len(self.columns))
                statement = f"INSERT INTO {self.table} ({names}) VALUES ({marks})"  # noqa: S608  # names of our own
                cursor.executemany(statement, self.waiting)
        self.waiting = []


class CountedRows(Rows):
    """Rows that count their own ids on from the last one there."""

    def __init__(self, example: Model, *varying: str) -> None:
        super().__init__(example, "id", *varying)
        self.last = _last(type(example))

    def add(self, *values: Any) -> None:
        """Add a row with the next id and these values."""
        self.last += 1
        super().add(self.last, *values)


def _prepared(field: Any) -> Callable[[Any], Any]:
    """Return what turns a value of the field into the database's own; text and numbers are that already."""
    if field.get_internal_type() in {"DateTimeField", "JSONField", "BinaryField"}:
        return lambda value: field.get_db_prep_save(value, connection)
    return lambda value: value


@dataclass
class Frozen:
    """A card's sealed documents as canonical texts with marks where another card's values go."""

    public: str
    internal: str

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
        return cls(canonical(made.public), canonical(made.internal))

    def filled(self, number: int, ids: tuple[int, int, int], texts: Mapping[str, str]) -> tuple[str, str]:
        """Return both documents with a card's values in the places."""
        public, internal = self.public, self.internal
        for mark, text in texts.items():
            public = public.replace(mark, text)
        public = public.replace(str(self.RECORD), str(number))
        for mark_number, value in zip((self.RECORD, self.CARD, self.BIKE, self.CUSTOMER), (number, *ids), strict=True):
            internal = internal.replace(str(mark_number), str(value))
        return public, internal


def enlarge(shop: Shop, technician: Person, wanted: int, say: Callable[[str], object] = print) -> int:
    """Add cards to `shop` until its business has `wanted`, and return how many were added."""
    there = everywhere(JobCard, why=WHY).filter(business=shop.business_id).count()
    missing = wanted - there
    if missing <= 0:
        return 0
    many = Many(shop, technician, missing)
    cards = many.cards()
    added = 0
    while batch := list(islice(cards, BATCH)):
        with transaction.atomic():
            added += len(batch)
            many.write()
        if added % (BATCH * 10) == 0:
            say(f"{there + added} cards")
    with connection.cursor() as cursor:
        models = [Customer, Bike, JobCard, Reading, AuditEntry, SealedRecord, PersonalValue, SearchWord]
        for statement in connection.ops.sequence_reset_sql(no_style(), models):
            cursor.execute(statement)
        cursor.execute("ANALYZE")
    return added


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

    def _prepare(self) -> None:
        business, shop, technician = self.shop.business_id, self.shop, self.technician
        at = self.begin
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
        self.rows = {
            Customer: Rows(customer, "id", "name", "phone", "email"),
            Bike: Rows(bike, "id", "owner_id", "make", "model", "plate", "frame_number"),
            JobCard: Rows(card, "id", "number", "step", "bike_id", "customer_id", "opened_at"),
            Reading: CountedRows(reading, "card_id", "quantity", "value", "taken_at"),
            AuditEntry: CountedRows(entry, "at", "verb", "subject_id", "after"),
            SealedRecord: Rows(
                self.record, "id", "card_id", "number", "public", "internal", "public_digest", "internal_digest",
                "previous_head", "head", "sealed_at",
            ),
            PersonalValue: CountedRows(value, "record_id", "path", "value", "salt"),
            SearchWord: CountedRows(word, "of", "row_id", "word"),
        }  # fmt: skip

    def write(self) -> None:
        """Write all that waits, and the shop's last card number."""
        for rows in self.rows.values():
            rows.write()
        everywhere(Shop, why=WHY).filter(pk=self.shop.pk).update(cards_opened=self.card_number)

    def cards(self) -> Iterator[int]:
        """Make the rows of one card after the other, a customer with a bike before every few."""
        frozen: Frozen | None = None
        owner: tuple[int, int, dict[str, str]] | None = None
        for place in range(self.count):
            if place % CARDS_A_CUSTOMER == 0 or owner is None:
                owner = self._customer()
            at = (self.begin + timedelta(minutes=MINUTES * place // self.count)).replace(microsecond=0)
            sealed = place < self.count - LEFT_OPEN
            pk = self._card(owner, at, "sealed" if sealed else "received")
            if sealed and frozen is None:
                # The first card of all is the model of the others' documents: it must be there to be read.
                self.write()
                frozen = Frozen.of(everywhere(JobCard, why=WHY).get(pk=pk))
            if sealed and frozen is not None:
                self._seal(frozen, pk, owner, at)
            yield pk

    def _customer(self) -> tuple[int, int, dict[str, str]]:
        pk, bike = self.next[Customer], self.next[Bike]
        self.next[Customer], self.next[Bike] = pk + 1, bike + 1
        many = len(SYLLABLES)
        name = f"{FIRST[pk % len(FIRST)]} " + "".join(
            SYLLABLES[pk // step % many] for step in (1, many, many**2, many**3)
        ).capitalize()
        make, model = MAKES[pk % len(MAKES)], f"{MODELS[pk % len(MODELS)]} {250 + pk % 7 * 50}"
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

    def _seal(self, frozen: Frozen, card: int, owner: tuple[int, int, dict[str, str]], at: datetime) -> None:
        pk, (last, previous) = self.next[SealedRecord], self.link
        self.next[SealedRecord] += 1
        record, number = self.record, last + 1
        record.sealed_at = (at + timedelta(hours=8)).astimezone(UTC)
        paths = {
            "@name@": "public.customer.name", "@plate@": "public.bike.plate", "@frame@": "public.bike.frame_number"
        }  # fmt: skip
        texts = {"@number@": self.number, "@opened@": moment(at), "@sealed@": moment(record.sealed_at)}
        for mark, path in paths.items():
            kept = personal(path, owner[2][mark.strip("@")], shared=True)
            texts[mark] = commitment(path, kept.salt, kept.value)
            self.rows[PersonalValue].add(pk, path, kept.value, kept.salt)
        record.public, record.internal = frozen.filled(number, (card, owner[1], owner[0]), texts)
        record.card_id, record.number, record.previous_head = card, number, previous
        record.public_digest, record.internal_digest = digest(record.public), digest(record.internal)
        record.head = head_of(record)
        self.link = number, record.head
        self.rows[SealedRecord].add(
            pk, card, number, record.public, record.internal, record.public_digest, record.internal_digest,
            previous, record.head, record.sealed_at,
        )  # fmt: skip
        self.rows[AuditEntry].add(record.sealed_at, "seal card", card, {"record": number, "head": record.head})


def _last(model: Any) -> int:
    return everywhere(model, why=WHY).aggregate(last=Max("id"))["last"] or 0

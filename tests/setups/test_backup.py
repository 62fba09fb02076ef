"""Everything in one file, put back whole on either database, and erasures followed."""

from __future__ import annotations

import hashlib
import io
import json
import threading

import pytest
from django.contrib.sessions.models import Session
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, connections, transaction
from django.test import Client

from setups.data import inventory, journal, travel
from setups.data.archive import BACKUP, Archive, BadArchiveError
from setups.data.rows import stored, written
from setups.data.snapshot import snapshot
from setups.models import Customer, Erasure, SealedRecord
from setups.photo_models import Photo
from setups.record import seal
from setups.record.verify import verify_shop
from setups.verbs import photos
from setups.verbs.erasure import erase_customer
from shops.access import everywhere
from shops.models import AuditEntry, Person, Shop
from shops.trail import Actor
from tests.factories import PASSWORD, CustomerFactory, RiderFactory, ShopFactory
from tests.setups.record import conftest as invented_record
from tests.setups.test_photos import encoded, picture

make_ready_card = invented_record.make_ready_card
WHY = "a test compares everything"


@pytest.fixture(autouse=True)
def _own_data_folder(settings, tmp_path):
    settings.DATA = tmp_path


def everything():
    return {model._meta.label: list(written(model, None, secrets=True)) for model in inventory.backed_up()}


@pytest.fixture
def card(shop, technician, owner, make_ready_card, other_shop):
    card = make_ready_card()
    seal.seal(Actor(technician), card)
    CustomerFactory(business=other_shop.business)
    return card


@pytest.fixture
def backup(card, tmp_path):
    path = tmp_path / "all.zip"
    call_command("backup", path, stdout=io.StringIO())
    return path


def restore(path, **options):
    said = io.StringIO()
    call_command("restore", path, stdout=said, **options)
    return said.getvalue()


@pytest.mark.django_db
class TestRestoring:
    def test_every_row_of_every_business_comes_back_passwords_included(self, backup, technician):
        before = everything()
        travel._empty()
        assert "1 sealed records hold" in restore(backup)
        assert everything() == before
        assert everywhere(Person, why=WHY).get(pk=technician.pk).check_password(PASSWORD)

    def test_nothing_that_stands_is_touched_unless_it_is_said_to_go(self, backup):
        late = CustomerFactory()
        before = everything()
        with pytest.raises(CommandError, match="not empty"):
            restore(backup)
        assert everything() == before
        restore(backup, replace=True)
        assert not everywhere(Customer, why=WHY).filter(pk=late.pk).exists()

    def test_everybody_signs_in_anew(self, backup, technician):
        Client().force_login(technician)
        assert Session.objects.exists()
        restore(backup, replace=True)
        assert not Session.objects.exists()

    def test_a_byte_wrong_anywhere_is_read_as_it_was_or_refused_in_words(self, backup, tmp_path):
        """Whatever the damage makes of the packing: no other error, and never other rows."""
        whole, broken, refused = backup.read_bytes(), tmp_path / "broken.zip", 0
        with Archive(backup, BACKUP) as archive:
            sound = {model: list(archive.rows(model)) for model in inventory.backed_up()}
        for place in range(0, len(whole), len(whole) // 150):
            broken.write_bytes(whole[:place] + bytes([whole[place] ^ 0xFF]) + whole[place + 1 :])
            try:
                with Archive(broken, BACKUP) as archive:
                    assert {model: list(archive.rows(model)) for model in inventory.backed_up()} == sound
            except BadArchiveError:
                refused += 1
        assert refused > 75

    def test_a_damaged_backup_changes_nothing(self, backup, tmp_path):
        data = bytearray(backup.read_bytes())
        data[len(data) // 3] ^= 0xFF
        broken = tmp_path / "broken.zip"
        broken.write_bytes(bytes(data))
        before = everything()
        with pytest.raises(CommandError):
            restore(broken, replace=True)
        assert everything() == before

    def test_the_guards_stand_again_afterwards(self, backup, card):
        restore(backup, replace=True)
        record = everywhere(SealedRecord, why=WHY).get()
        for rows in (everywhere(SealedRecord, why=WHY).filter(pk=record.pk), everywhere(AuditEntry, why=WHY)):
            with pytest.raises(DatabaseError), transaction.atomic():
                rows.update(**{"number": 9} if rows.model is SealedRecord else {"verb": "nothing"})

    def test_new_rows_are_numbered_after_those_that_came(self, backup):
        last = max(row["id"] for row in everything()["setups.Customer"])
        restore(backup, replace=True)
        assert CustomerFactory().pk > last

    def test_a_backup_takes_no_others_place_and_leaves_no_part_behind(self, backup, tmp_path, monkeypatch):
        with pytest.raises(CommandError, match="there already"):
            call_command("backup", backup)
        monkeypatch.setattr(travel, "write", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            call_command("backup", tmp_path / "new.zip")
        assert [path.name for path in tmp_path.iterdir()] == ["all.zip"]

    def test_a_place_that_cannot_be_written_is_said(self, card, tmp_path):
        with pytest.raises(CommandError, match="cannot be written"):
            call_command("backup", tmp_path / "nowhere" / "x.zip")
        with pytest.raises(CommandError, match="cannot be read"):
            restore(tmp_path / "nowhere.zip")


@pytest.mark.django_db
class TestFollowingErasures:
    def test_a_restored_backup_follows_the_journal_of_the_database_that_it_replaces(self, backup, card, owner):
        name = card.customer.name
        erase_customer(Actor(owner), card.customer, why="Asked for.")
        assert "1 erasures" in restore(backup, replace=True)
        assert name not in json.dumps(everything())
        line = everywhere(AuditEntry, why=WHY).get(verb="erase again")
        assert (line.subject, line.subject_id, line.person) == ("customer", card.customer_id, None)
        assert everywhere(Erasure, why=WHY).get().customer_id == card.customer_id

    def test_it_follows_the_file_where_the_database_is_lost(
        self, backup, card, owner, django_capture_on_commit_callbacks
    ):
        with django_capture_on_commit_callbacks(execute=True):
            erase_customer(Actor(owner), card.customer, why="Asked for.")
        text = journal.place().read_text()
        assert str(card.customer_id) in text
        assert card.customer.name not in text
        assert journal.place().stat().st_mode & 0o077 == 0
        travel._empty()
        assert "1 erasures" in restore(backup)
        assert everywhere(Customer, why=WHY).get(pk=card.customer_id).name == "(erased)"

    def test_it_follows_another_file_that_is_named(
        self, backup, card, owner, tmp_path, django_capture_on_commit_callbacks
    ):
        with django_capture_on_commit_callbacks(execute=True):
            erase_customer(Actor(owner), card.customer, why="Asked for.")
        elsewhere = journal.place().rename(tmp_path / "kept-apart.jsonl")
        travel._empty()
        assert "1 erasures" in restore(backup, erasures=elsewhere)

    def test_a_line_that_was_cut_short_does_not_hide_the_others(
        self, backup, card, owner, django_capture_on_commit_callbacks
    ):
        with django_capture_on_commit_callbacks(execute=True):
            erase_customer(Actor(owner), card.customer, why="Asked for.")
        with journal.place().open("a") as file:
            file.write('{"business": 1, "foun')
        travel._empty()
        assert "1 erasures" in restore(backup)

    def test_another_installations_rows_of_the_same_ids_are_left_alone(self, backup, card, tmp_path):
        strange = {
            "business": card.business_id, "founded": "2001-01-01T00:00:00+00:00", "customer": card.customer_id,
            "card": None, "at": "2002-01-01T00:00:00+00:00",
        }  # fmt: skip
        journal.place().write_text(json.dumps(strange) + "\n")
        assert "0 erasures" in restore(backup, replace=True)
        assert everywhere(Customer, why=WHY).get(pk=card.customer_id).name == card.customer.name

    @pytest.mark.parametrize("of", ["photo", "customer"])
    def test_a_photo_that_was_erased_comes_back_without_its_picture(
        self, make_ready_card, technician, owner, shop, tmp_path, of, django_capture_on_commit_callbacks
    ):
        card = make_ready_card()
        sent = encoded(picture())
        photo = photos.add_photo(Actor(technician), card, sent, about="defect", caption="A glove")
        seal.seal(Actor(technician), card)
        whole = bytes(photo.content)
        call_command("backup", tmp_path / "with.zip", stdout=io.StringIO())
        with django_capture_on_commit_callbacks(execute=True):
            if of == "photo":
                photos.erase_photo(Actor(owner), photo, "Shows a face.")
            else:
                erase_customer(Actor(owner), card.customer, why="Asked for.")
        assert '"photo"' in journal.place().read_text()
        travel._empty()  # the database is lost: the journal alone knows
        assert "1 erasures" in restore(tmp_path / "with.zip")
        back = everywhere(Photo, why=WHY).get(pk=photo.pk)
        assert (bytes(back.content), bytes(back.small), back.caption) == (b"", b"", "")
        assert back.sha256 == hashlib.sha256(whole).hexdigest()
        assert "A glove" not in json.dumps(everything())
        assert verify_shop(shop).failure is None
        assert everywhere(AuditEntry, why=WHY).get(verb="erase again").subject == of

    def test_restoring_twice_erases_once(self, backup, card, owner):
        erase_customer(Actor(owner), card.customer, why="Asked for.")
        restore(backup, replace=True)
        again = backup.with_name("again.zip")
        call_command("backup", again, stdout=io.StringIO())
        assert "0 erasures" in restore(again, replace=True)


@pytest.mark.django_db(transaction=True)
class TestOneMoment:
    def test_what_is_written_meanwhile_is_in_none_of_its_tables_and_nobody_waits(self, db):
        """A customer and rider are added between the reading of two tables: neither may be there."""
        business = CustomerFactory().business
        done = threading.Event()

        def add():
            try:
                RiderFactory(customer=CustomerFactory(business=business))
                done.set()
            finally:
                connections.close_all()

        with snapshot():
            customers = stored(Customer).count()
            writer = threading.Thread(target=add)
            writer.start()
            writer.join(10)
            assert done.is_set(), "a writer must not wait for a backup"
            assert stored(Customer).count() == customers
        assert stored(Customer).count() == customers + 1

    def test_writing_goes_on_as_before_afterwards(self, db):
        with snapshot():
            stored(Shop).exists()
        ShopFactory()
        if connection.vendor == "sqlite":
            assert connection.transaction_mode == "IMMEDIATE"


@pytest.mark.django_db
def test_a_journal_that_cannot_be_read_stops_the_restore(backup, tmp_path):
    before = everything()
    with pytest.raises(CommandError, match="cannot be read"):
        restore(backup, replace=True, erasures=tmp_path / "none.jsonl")
    assert everything() == before


@pytest.mark.django_db
def test_an_export_does_not_restore(card, tmp_path):
    path = tmp_path / "one.zip"
    call_command("export", path, business=card.business.name, stdout=io.StringIO())
    with pytest.raises(BadArchiveError, match="coilbook-business"):
        travel.take_backup_in(path)

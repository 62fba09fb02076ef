"""A business leaves as open files and arrives in an empty installation: every row as it was, every seal still valid."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import zipfile
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import transaction

from setups.data import inventory, travel
from setups.data.archive import BadArchiveError, schema
from setups.data.rows import stored, written
from setups.models import SealedRecord
from setups.record import seal
from setups.record.verify import verify_shop
from shops.access import Scoped, everywhere, rows
from shops.models import AuditEntry, Business, Person, Shop
from shops.trail import Actor
from tests.factories import CustomerFactory, JobCardFactory, StockSpringFactory
from tests.setups.record import conftest as invented_record

pytestmark = pytest.mark.django_db
make_ready_card = invented_record.make_ready_card
WHY = "a test compares everything"
OURS = {"shops", "setups"}


def everything(business=None, *, secrets):
    return {
        model._meta.label: list(written(model, business, secrets=secrets)) for model in inventory.exported()
    }


def empty_out():
    """Make the installation empty, as a new one is."""
    travel._empty()


@pytest.fixture
def full_business(shop, technician, owner, make_ready_card, other_shop):
    """Return a business with a sealed and amended card, hostile texts, and another business beside it."""
    card = make_ready_card()
    seal.seal(Actor(technician), card)
    seal.amend(Actor(technician), card, path="complaint", new="Dives, weaves.", why="Misheard.")
    CustomerFactory(business=shop.business, name="=cmd|' /C calc'!A0", notes='two\nlines, "quoted"; ünï')
    StockSpringFactory(shop=shop, code="@F1", label="+4.6")
    JobCardFactory(shop=other_shop, number="RS-1")
    return shop.business


@pytest.fixture
def exported(full_business, tmp_path):
    path = tmp_path / "business.zip"
    call_command("export", path, business=full_business.name, stdout=io.StringIO())
    return path


def rewritten(path, **changes):
    """Return a copy of an archive in which entries are other than they were."""
    target = path.with_name("other.zip")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            new.writestr(name, changes.get(name, lambda data: data)(data))
        for name, make in changes.items():
            if name not in old.namelist():
                new.writestr(name, make(b""))
    return target


def with_table(path, table, change):
    """Return a copy whose table is other than it was, with a manifest that says so: a forger's, not an accident."""
    name = f"tables/{table}.jsonl"
    with zipfile.ZipFile(path) as old:
        lines = [json.loads(line) for line in old.read(name).splitlines()]
        manifest = json.loads(old.read("manifest.json"))
    text = b"".join(json.dumps(row).encode() + b"\n" for row in change(lines))
    for entry in manifest["tables"]:
        if entry["file"] == name:
            entry.update(rows=len(text.splitlines()), bytes=len(text), sha256=hashlib.sha256(text).hexdigest())
    return rewritten(path, **{name: lambda _: text, "manifest.json": lambda _: json.dumps(manifest).encode()})


class TestTheInventory:
    def test_every_model_travels_or_is_left_out_with_a_reason(self):
        for model in apps.get_models(include_auto_created=True):
            label, app = model._meta.label, model._meta.app_label
            if model._meta.proxy:
                continue
            assert (model in inventory.backed_up()) != bool(
                inventory.NOT_BACKED_UP.get(label) or inventory.NOT_BACKED_UP.get(app)
            ), f"{label}: name it in NOT_BACKED_UP with a reason, or let it travel"
            if app in OURS:
                assert (model in inventory.exported()) != bool(inventory.NOT_EXPORTED.get(label)), (
                    f"{label}: derive it from Scoped, or name it in NOT_EXPORTED with its reason"
                )

    def test_what_looks_like_a_secret_is_left_out_or_kept_with_a_reason(self):
        looks = re.compile("password|pin$|pin_|secret|token|salt|hash|key$|private")
        for model in inventory.exported():
            for field in inventory.fields_of(model):
                name = inventory.label(field)
                if looks.search(field.name) and not field.is_relation and name not in inventory.HARMLESS:
                    secret = inventory.SECRETS.get(name)
                    kept = inventory.KEPT.get(name)
                    assert bool(secret and secret.why) != bool(kept), f"{name}: secret or kept, and why?"

    def test_nothing_is_named_that_is_not_there(self):
        models = {model._meta.label for model in apps.get_models()} | {one.label for one in apps.get_app_configs()}
        assert {*inventory.NOT_EXPORTED, *inventory.NOT_BACKED_UP} <= models
        fields = {inventory.label(field) for model in inventory.exported() for field in inventory.fields_of(model)}
        assert {*inventory.SECRETS, *inventory.KEPT, *inventory.HARMLESS} <= fields

    def test_each_comes_after_what_it_refers_to(self):
        order = inventory.backed_up()
        for model in order:
            for needed in inventory._needs(model) - {model}:
                assert needed not in order or order.index(needed) < order.index(model)


class TestTheFile:
    def test_it_names_each_table_with_rows_and_digest_and_holds_no_other_business(self, exported, full_business):
        with zipfile.ZipFile(exported) as packed:
            manifest = json.loads(packed.read("manifest.json"))
            for entry in manifest["tables"]:
                data = packed.read(entry["file"])
                assert hashlib.sha256(data).hexdigest() == entry["sha256"]
                assert len(data.splitlines()) == entry["rows"]
                text = packed.read(f"spreadsheets/{entry['table']}.csv").decode("utf-8-sig")
                cells = list(csv.reader(io.StringIO(text)))
                assert len(cells) == entry["rows"] + 1
            everything = b"".join(packed.read(name) for name in packed.namelist()).decode()
        assert manifest["format"] == "coilbook-business/1"
        assert manifest["business"] == {"id": full_business.pk, "name": "Springwell"}
        assert set(manifest["schema"]) == OURS
        assert "RS-1" not in everything
        assert "Rowan" not in everything

    def test_no_secret_is_in_it(self, exported):
        with zipfile.ZipFile(exported) as packed:
            people = packed.read("tables/shops.person.jsonl").decode()
            names = packed.namelist()
        assert "password" not in people
        assert "md5$" not in people
        assert not [name for name in names if "idempotent" in name or "session" in name]

    def test_no_cell_of_a_spreadsheet_is_a_formula(self, exported):
        with zipfile.ZipFile(exported) as packed:
            for name in packed.namelist():
                if name.endswith(".csv"):
                    for row in csv.reader(io.StringIO(packed.read(name).decode("utf-8-sig"))):
                        for cell in row:
                            assert cell[:1] not in {"=", "+", "@"} or cell == ""

    def test_only_its_owner_may_read_it_and_it_takes_no_others_place(self, exported, full_business):
        assert exported.stat().st_mode & 0o077 == 0
        with pytest.raises(CommandError, match="there already"):
            call_command("export", exported, business=full_business.name)

    def test_one_of_several_businesses_must_be_named(self, full_business, tmp_path):
        with pytest.raises(CommandError, match="Rowan Bench"):
            call_command("export", tmp_path / "x.zip")
        with pytest.raises(CommandError, match="no such business"):
            call_command("export", tmp_path / "x.zip", business="Nowhere")
        assert not list(tmp_path.iterdir())


class TestArriving:
    def test_every_row_is_as_it_was_and_every_seal_holds(self, exported, full_business):
        before = everything(full_business.pk, secrets=False)
        heads = [record.head for record in everywhere(SealedRecord, why=WHY).order_by("id")]
        assert sum(map(len, before.values())) > 40
        empty_out()
        arrival = travel.take_export_in(exported)
        assert everything(secrets=False) == before
        assert arrival.records == 2
        assert [record.head for record in everywhere(SealedRecord, why=WHY).order_by("id")] == heads
        assert all(verify_shop(shop).failure is None for shop in everywhere(Shop, why=WHY))

    def test_nobody_has_a_password_but_the_owner_who_is_given_one(self, exported, owner, technician, monkeypatch):
        empty_out()
        monkeypatch.setattr("sys.stdin", io.StringIO("quince hammer eleven\n"))
        call_command("import", exported, owner=owner.email, stdout=io.StringIO())
        people = {one.email: one for one in everywhere(Person, why=WHY)}
        assert people[owner.email].check_password("quince hammer eleven")
        assert not people[technician.email].has_usable_password()

    def test_new_rows_are_numbered_after_those_that_came(self, exported, full_business):
        last = max(row["id"] for row in everything(full_business.pk, secrets=False)["setups.Customer"])
        empty_out()
        travel.take_export_in(exported)
        assert CustomerFactory(business=Business.objects.get()).pk > last

    def test_an_owner_must_be_named_who_is_one(self, exported, technician):
        empty_out()
        with pytest.raises(CommandError, match="no owner"):
            call_command("import", exported, owner=technician.email)
        assert not Business.objects.exists()

    def test_it_is_taken_into_an_empty_installation_only(self, exported):
        with pytest.raises(BadArchiveError, match="not empty"):
            travel.take_export_in(exported)


class TestTheOwnersScreen:
    def test_an_owner_is_given_the_file_and_the_trail_says_so(self, full_business, owner_client, owner, tmp_path):
        before = everything(full_business.pk, secrets=False)
        answer = owner_client.post("/api/export/")
        data = b"".join(answer.streaming_content)
        assert (answer["Content-Type"], int(answer["Content-Length"])) == ("application/zip", len(data))
        assert answer["Content-Disposition"].startswith('attachment; filename="springwell-')
        assert rows(AuditEntry, owner).get(verb="export business").subject == "shop"
        path = tmp_path / "sent.zip"
        path.write_bytes(data)
        empty_out()
        travel.take_export_in(path)
        assert everything(secrets=False) == before


class TestAttacks:
    @pytest.fixture
    def refused(self, exported):
        """Return the check that a file is refused and nothing of it stays."""
        empty_out()

        def check(path, words):
            with pytest.raises(BadArchiveError, match=words), transaction.atomic():
                travel.take_export_in(path)
            assert not [model for model in inventory.exported() if stored(model).exists()]

        return check

    @pytest.mark.parametrize(
        "name", ["../evil.jsonl", "/etc/x", "tables/../../x.jsonl", "tables\\x.jsonl", "C:x", "tables/a.b.jsonl/"]
    )
    def test_a_name_that_leads_out_is_refused(self, exported, refused, name):
        refused(rewritten(exported, **{name: lambda _: b"x"}), "none of ours")

    def test_a_name_that_comes_twice_is_refused(self, exported, refused):
        with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(exported, "a") as packed:
            packed.writestr("tables/shops.shop.jsonl", "{}")
        refused(exported, "none of ours")

    def test_a_changed_table_is_refused(self, exported, refused):
        changed = rewritten(exported, **{"tables/setups.customer.jsonl": lambda data: data.replace(b"Ilse", b"Else")})
        refused(changed, "digest")

    def test_a_sealed_record_changed_with_its_digests_in_the_manifest_is_refused(self, exported, refused):
        def forge(rows):
            for row in rows:
                row["public"] = row["public"].replace("Kestrel", "Kestrels")
            return rows

        refused(with_table(exported, "setups.sealedrecord", forge), "does not hold")

    def test_rows_that_refer_to_nothing_are_refused(self, exported, refused):
        refused(with_table(exported, "setups.customer", lambda rows: rows[1:]), "do not go together")

    def test_rows_that_are_none_are_refused(self, exported, refused):
        for change in (
            lambda rows: [{**rows[0], "colour": 1}],
            lambda rows: [{**row, "id": "x"} for row in rows],
            lambda rows: [{**row, "erased_at": "yesterday"} for row in rows],
            lambda rows: [rows[0], rows[0]],
        ):
            refused(with_table(exported, "setups.customer", change), "do not go together")

    def test_a_second_business_in_the_file_is_refused(self, exported, refused):
        def add(rows):
            return [*rows, {**rows[0], "id": 999_999}]

        refused(with_table(exported, "shops.business", add), "not one business")

    def test_a_file_of_another_version_is_refused_by_name(self, exported, refused):
        def older(data):
            return data.replace(schema()["setups"].encode(), b"0001_initial")

        refused(rewritten(exported, **{"manifest.json": older}), "another version")

    @pytest.mark.parametrize(
        "manifest", [b"", b"[]", b"{}", b"\xff", b"[" * 100_000, b'{"format": "coilbook-business/1", "tables": 7}']
    )
    def test_a_manifest_that_is_none_is_refused(self, exported, refused, manifest):
        refused(rewritten(exported, **{"manifest.json": lambda _: manifest}), "manifest")

    def test_a_trap_that_unpacks_to_more_than_a_table_is_refused(self, exported, refused):
        refused(rewritten(exported, **{"tables/setups.bike.jsonl": lambda _: b" " * 50_000_000}), "no table")

    def test_a_file_that_was_cut_short_or_is_something_else_is_refused(self, exported, refused, tmp_path):
        data = exported.read_bytes()
        for text in (data[: len(data) // 2], b"", b"code;name", b"PK\x03\x04"):
            path = tmp_path / "short.zip"
            path.write_bytes(text)
            refused(path, "no whole ZIP")
        refused(tmp_path / "nowhere.zip", "cannot be read")

    def test_an_export_is_no_backup(self, exported):
        empty_out()
        with pytest.raises(BadArchiveError, match="coilbook-backup"):
            travel.take_backup_in(exported)




def test_nothing_of_ours_is_outside_a_business():
    """A model of ours that is not Scoped would be in no export."""
    ours = [one for one in apps.get_models() if one._meta.app_label in OURS]
    ours = [one for one in ours if one._meta.label not in inventory.NOT_EXPORTED]
    assert [one for one in ours if not issubclass(one, Scoped)] == [Business]


def test_paths_of_this_machine_are_in_no_file(exported):
    with zipfile.ZipFile(exported) as packed:
        for name in packed.namelist():
            assert str(Path(__file__).parents[2]).encode() not in packed.read(name)

"""The trail: written once, by every change, with nothing personal in it; versions; kept replies."""

from __future__ import annotations

import threading
from datetime import date, timedelta

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from shops import append_only, serving_role, trail, verbs, versions
from shops.access import everywhere, rows
from shops.models import AuditEntry, Business, IdempotentReply, Person, Tool
from shops.trail import Actor
from tests.factories import AuditEntryFactory, PersonFactory, ToolFactory


def entries():
    return everywhere(AuditEntry, why="this test")


@pytest.mark.parametrize("statement", [
    "UPDATE shops_auditentry SET verb = 'nothing'",
    # SQLite's triggers run for each row, and there is none.
    pytest.param(
        "UPDATE shops_auditentry SET reason = 'x' WHERE id = 0", marks=pytest.mark.only_on("postgresql")
    ),
    "DELETE FROM shops_auditentry",
])
def test_the_database_refuses_to_change_or_delete_a_line(db, statement):
    AuditEntryFactory()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        connection.cursor().execute(statement)
    assert entries().get().verb == "change tool"


@pytest.mark.only_on("postgresql")  # SQLite has no TRUNCATE
def test_postgresql_refuses_to_truncate_the_trail(db):
    AuditEntryFactory()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        connection.cursor().execute("SET CONSTRAINTS ALL IMMEDIATE; TRUNCATE shops_auditentry")


@pytest.mark.only_on("postgresql")  # SQLite has no roles
def test_the_serving_role_may_only_read_and_add_to_the_trail(db, shop):
    cursor = connection.cursor()
    append_only.uninstall(connection)  # so that it is the role's rights that refuse
    cursor.execute("CREATE ROLE serving")
    serving_role.limit(connection, "serving")
    cursor.execute("SET ROLE serving")
    try:
        ToolFactory(shop=shop)
        AuditEntryFactory()
        assert entries().count() == 1
        for statement in (
            "UPDATE shops_auditentry SET verb = 'x'", "DELETE FROM shops_auditentry",
            "TRUNCATE shops_auditentry",
            "ALTER TABLE shops_auditentry DISABLE TRIGGER ALL", "DROP TABLE shops_auditentry",
        ):
            with pytest.raises(DatabaseError, match=r"permission denied|must be owner"), transaction.atomic():
                cursor.execute(statement)
    finally:
        cursor.execute("RESET ROLE")


def test_django_cannot_change_a_line_either(db):
    line = AuditEntryFactory()
    for change in (
        lambda: entries().update(verb="nothing"), lambda: entries().delete(), line.save, line.delete,
    ):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            change()
    assert entries().get().verb == "change tool"


def test_the_guard_can_be_set_up_twice(db):
    append_only.install(connection)
    AuditEntryFactory()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        entries().delete()


def test_a_line_says_who_what_where_and_when(manager, shop):
    tool = ToolFactory(shop=shop, calibration_due=date(2027, 1, 1))
    began = timezone.now()
    change = {"calibration_due": date(2027, 6, 1), "name": tool.name}
    verbs.change_tool(Actor(manager, "192.0.2.7"), tool, 1, change)
    line = entries().get()
    assert (line.person, line.address) == (manager, "192.0.2.7")
    assert (line.business, line.shop) == (shop.business, shop)
    assert (line.verb, line.subject, line.subject_id) == ("change tool", "tool", tool.pk)
    assert (line.before, line.after) == ({"calibration_due": "2027-01-01"}, {"calibration_due": "2027-06-01"})
    assert began <= line.at <= timezone.now()


def test_an_owners_change_in_a_sister_shop_is_noted_under_that_shop(owner, sister_shop):
    tool = ToolFactory(shop=sister_shop)
    verbs.change_tool(Actor(owner), tool, 1, {"in_use": False})
    assert entries().get().shop == sister_shop


def test_a_personal_field_is_named_but_its_value_is_not_kept(manager, technician):
    change = {"name": "Ansel Mere", "email": "mere@springwell.example"}
    verbs.change_person(Actor(manager), technician, 1, change)
    line = entries().get()
    assert set(line.after) == {"name", "email"}
    for kept in (line.before, line.after):
        assert set(kept.values()) == {trail.PERSONAL}


def test_customers_and_riders_call_all_that_is_theirs_personal():
    from setups.models import Customer, Rider  # noqa: PLC0415  the one place where shops' tests look at setups

    assert {"name", "phone", "email", "notes"} <= Customer.personal_fields
    assert {"name", "mass_in_kit_kg"} <= Rider.personal_fields


def test_a_change_that_fails_leaves_no_line_and_a_line_that_fails_no_change(manager, shop, monkeypatch):
    tool = ToolFactory(shop=shop)
    with pytest.raises(versions.Stale):
        verbs.change_tool(Actor(manager), tool, 9, {"in_use": False})
    assert not entries().exists()

    def fail(*args, **kwargs):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(trail, "record", fail)
    tool.refresh_from_db()
    with pytest.raises(RuntimeError):
        verbs.change_tool(Actor(manager), tool, 1, {"in_use": False})
    tool.refresh_from_db()
    assert (tool.in_use, tool.version) == (True, 1)


def test_a_business_is_founded_with_its_owner(db):
    owner = verbs.found_business(
        name="Springwell", shop={"name": "Harbour Yard", "code": "HY"},
        owner={"name": "Wren Halloran", "email": "Wren@Springwell.example", "password": "plum anvil seven"},
    )
    assert owner.role == Person.Role.OWNER
    assert owner.email == "wren@springwell.example"
    assert Business.objects.get().name == "Springwell"
    assert entries().get().verb == "found business"


def test_of_two_who_read_the_same_version_one_saves(manager, shop):
    tool = ToolFactory(shop=shop)
    first, second = (rows(Tool, manager).get(pk=tool.pk) for _ in range(2))
    first.name, second.name = "first", "second"
    versions.save(first, 1, ["name"])
    with pytest.raises(versions.Stale):
        versions.save(second, 1, ["name"])
    with pytest.raises(versions.Stale):
        versions.remove(second, 1)
    tool.refresh_from_db()
    assert (tool.name, tool.version) == ("first", 2)


def test_a_row_read_too_late_is_stale_even_if_the_version_was_guessed_right(manager, shop):
    tool = ToolFactory(shop=shop)
    late = rows(Tool, manager).get(pk=tool.pk)
    versions.save(tool, 1, ["name"])
    with pytest.raises(versions.Stale):
        versions.save(late, 2, ["name"])


def in_parallel(work, times):
    """Run `work` in several threads that start together; return what they returned or raised."""
    gate, found = threading.Barrier(times), []

    def run():
        try:
            gate.wait()
            found.append(work())
        except Exception as error:
            found.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run) for _ in range(times)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


@pytest.mark.django_db(transaction=True)
def test_of_six_who_save_at_once_one_wins_and_five_are_told(manager, shop):
    tool = ToolFactory(shop=shop)

    def work():
        mine = rows(Tool, manager).get(pk=tool.pk)
        return verbs.change_tool(Actor(manager), mine, 1, {"certificate": str(threading.get_ident())})

    found = in_parallel(work, 6)
    assert sum(isinstance(result, Tool) for result in found) == 1
    assert sum(isinstance(result, versions.Stale) for result in found) == 5
    assert entries().count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_six_retries_at_once_one_makes_the_row(client_for, manager, shop):
    body = {"shop": shop.pk, "kind": "scale", "name": "Axle scale", "serial": "S-1"}
    found = in_parallel(
        lambda: client_for(manager).post("/api/tools/", body, HTTP_IDEMPOTENCY_KEY="k").json()["id"], 6
    )
    assert len(set(found)) == 1, found
    assert everywhere(Tool, why="this test").count() == 1


def test_replies_are_kept_for_a_week(manager_client, manager, shop):
    body = {"shop": shop.pk, "kind": "scale", "name": "Axle scale", "serial": "S-1"}
    manager_client.post("/api/tools/", body, HTTP_IDEMPOTENCY_KEY="old")
    everywhere(IdempotentReply, why="this test").update(created_at=timezone.now() - timedelta(days=8))
    manager_client.post("/api/tools/", {**body, "serial": "S-2"}, HTTP_IDEMPOTENCY_KEY="new")
    assert [reply.key for reply in rows(IdempotentReply, manager)] == ["new"]


@pytest.mark.parametrize("key", ["", "k" * 81, "schlüssel"])
def test_a_key_that_is_none_is_refused(manager_client, shop, key):
    body = {"shop": shop.pk, "kind": "scale", "name": "Axle scale", "serial": "S-1"}
    answer = manager_client.post("/api/tools/", body, HTTP_IDEMPOTENCY_KEY=key)
    assert answer.status_code == 400
    assert answer.json()["problems"][0]["code"] == "bad_key"


def test_the_digest_of_a_request_is_keyed(manager_client, manager, shop, settings):
    """A plain SHA-256 of a body that holds a password would let the password be guessed."""
    body = {
        "name": "Odo Fenwright", "email": "odo@springwell.example", "role": "technician", "shop": shop.pk,
        "password": "kettle orchard nine",
    }
    manager_client.post("/api/people/", body, HTTP_IDEMPOTENCY_KEY="k")
    first = rows(IdempotentReply, manager).get()
    assert "password" not in str(first.body)
    settings.SECRET_KEY = "another" * 10
    manager_client.force_login(manager)
    assert manager_client.post("/api/people/", body, HTTP_IDEMPOTENCY_KEY="k").status_code == 422


def test_two_owners_cannot_both_leave(owner, shop):
    other = PersonFactory(shop=shop, role="owner")
    verbs.change_person(Actor(owner), other, 1, {"is_active": False})
    with pytest.raises(verbs.Refusal):
        verbs.change_person(Actor(owner), owner, 1, {"is_active": False})

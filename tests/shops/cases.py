"""What every set of rows in the API must do, written once: derive a test class and say which rows it has.

    class TestTools(ChangingCase):
        base = "/api/tools/"
        def make(self, shop): return ToolFactory(shop=shop)
        ...

The fixtures are those of tests/conftest.py: technician, manager and owner of one shop, a technician of its
sister shop, a stranger of another business.
"""

from __future__ import annotations

from typing import Any, ClassVar

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shops.access import rows
from shops.models import AuditEntry
from shops.web.pages import Pages

ROLES = ("technician", "manager", "owner")


def problem_codes(answer) -> list[str]:
    """Return the codes of an error answer, which must have the one shape that all have."""
    body = answer.json()
    for problem in body["problems"]:
        assert set(problem) == {"field", "code", "text", "value", "unit", "low", "high"}
        assert problem["text"]
    return [problem["code"] for problem in body["problems"]]


class RowsCase:
    """A set of rows at `base`; `make(shop)` makes one of `shop` or, where shared, of its business."""

    base: ClassVar[str]
    readers: ClassVar[frozenset[str]] = frozenset(ROLES)
    listed: ClassVar[bool] = True
    retrieved: ClassVar[bool] = True
    shared: ClassVar[bool] = False  # the whole business works on the row, not one shop

    def make(self, shop) -> Any:
        raise NotImplementedError

    def another(self, shop) -> Any:
        """Make one more beside those that `make` made."""
        return self.make(shop)

    def one(self, row) -> str:
        return f"{self.base}{row.pk}/"

    @pytest.fixture
    def as_role(self, client_for, technician, manager, owner):
        people = {"technician": technician, "manager": manager, "owner": owner}
        return {role: client_for(person) for role, person in people.items()}


class ReadingCase(RowsCase):
    """Reading: by role, of whose rows, at what cost."""

    @pytest.mark.parametrize("role", ROLES)
    def test_reading_is_for_the_declared_roles(self, as_role, shop, role):
        row = self.make(shop)
        addresses = [self.base] * self.listed + [self.one(row)] * self.retrieved
        for address in addresses:
            assert as_role[role].get(address).status_code == (200 if role in self.readers else 403), address

    def test_anonymous_people_are_told_to_sign_in(self, anonymous, shop):
        row = self.make(shop)
        assert anonymous.get(self.base).status_code == 401
        assert anonymous.get(self.one(row)).status_code == (401 if self.retrieved else 404)

    @pytest.mark.where(retrieved=True)
    def test_a_foreign_row_and_a_missing_one_answer_the_same_bytes(self, owner_client, other_shop):
        foreign = self.make(other_shop)
        answer = owner_client.get(self.one(foreign))
        gone = owner_client.get(f"{self.base}{foreign.pk + 10_000}/")
        assert answer.status_code == gone.status_code == 404
        assert answer.content == gone.content
        assert problem_codes(answer) == ["not_found"]
        # The row is there, for its own people.
        assert type(foreign).objects.filter(pk=foreign.pk).declare_scope().exists()

    @pytest.mark.where(listed=True)
    def test_the_list_holds_the_own_business_only(self, owner_client, shop, other_shop):
        mine, foreign = self.make(shop), self.make(other_shop)
        found = [row["id"] for row in owner_client.get(self.base).json()["results"]]
        assert mine.pk in found
        assert foreign.pk not in found

    @pytest.mark.where(retrieved=True)
    def test_a_sister_shops_row_can_be_read(self, client_for, manager, technician, sister_shop):
        reader = technician if "technician" in self.readers else manager
        assert client_for(reader).get(self.one(self.make(sister_shop))).status_code == 200

    @pytest.mark.where(listed=True)
    def test_thirty_rows_cost_as_many_queries_as_three(self, owner_client, shop):
        owner_client.get(self.base)
        for _ in range(3):
            self.another(shop)
        few, three = self._queries(owner_client)
        for _ in range(27):
            self.another(shop)
        many, thirty = self._queries(owner_client)
        assert thirty - three == 27
        assert many == few

    def _queries(self, client) -> tuple[int, int]:
        with CaptureQueriesContext(connection) as caught:
            answer = client.get(self.base)
        return len(caught), len(answer.json()["results"])

    @pytest.mark.where(listed=True)
    def test_leafing_shows_every_row_once_in_the_lists_own_order(self, owner_client, shop, monkeypatch):
        for _ in range(5):
            self.another(shop)
        whole = owner_client.get(self.base).json()
        assert whole["next"] is None
        monkeypatch.setattr(Pages, "page_size", 2)
        leafed, page = [], "1"
        while page is not None:
            answer = owner_client.get(self.base, {"page": page}).json()
            assert answer["count"] == whole["count"]
            leafed += answer["results"]
            page = answer["next"]
        assert leafed == whole["results"]

    @pytest.mark.where(listed=True)
    def test_no_page_follows_another_businesss_row(self, owner_client, other_shop):
        foreign = self.another(other_shop)
        assert owner_client.get(self.base, {"page": f"after-{foreign.pk}"}).status_code == 404

    @pytest.mark.where(listed=True)
    def test_a_page_that_does_not_exist_is_refused(self, owner_client, shop):
        for page in ("0", "-1", "x", "", "9" * 30, "١", "21", "after-", "after-0", "after-x"):
            answer = owner_client.get(self.base, {"page": page})
            assert answer.status_code == 400, page
            assert answer.json()["problems"][0]["field"] == "page"
        assert owner_client.get(self.base, {"page": "7"}).status_code == 404


class ChangingCase(ReadingCase):
    """PATCH with If-Match: by role, of whose rows, of which version, with a line in the trail."""

    changers: ClassVar[frozenset[str]] = frozenset(ROLES)
    change: ClassVar[dict[str, Any]]

    @property
    def changer(self) -> str:
        """Return the least role that may change."""
        return next(role for role in ROLES if role in self.changers)

    @pytest.mark.parametrize("role", ROLES)
    def test_changing_is_for_the_declared_roles(self, as_role, shop, role):
        row = self.make(shop)
        answer = as_role[role].patch(self.one(row), self.change, HTTP_IF_MATCH='"1"')
        assert answer.status_code == (200 if role in self.changers else 403), answer.content
        row.refresh_from_db()
        assert row.version == (2 if role in self.changers else 1)

    def test_a_change_is_answered_with_its_version_and_leaves_one_line(self, as_role, owner, shop):
        row = self.make(shop)
        answer = as_role[self.changer].patch(self.one(row), self.change, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 200, answer.content
        assert answer["ETag"] == '"2"'
        for name, value in self.change.items():
            assert answer.json()[name] == value
        [line] = rows(AuditEntry, owner)
        assert (line.subject, line.subject_id) == (type(row)._meta.model_name, row.pk)
        assert line.after

    def test_a_change_without_a_version_is_asked_for_one(self, as_role, shop):
        row = self.make(shop)
        answer = as_role[self.changer].patch(self.one(row), self.change)
        assert answer.status_code == 428
        assert problem_codes(answer) == ["if_match"]

    @pytest.mark.parametrize("header", ["1", "*", '"x"', 'W/"1"', '"1", "2"', '""', '"-1"'])
    def test_a_version_that_is_none_is_refused(self, as_role, shop, header):
        row = self.make(shop)
        answer = as_role[self.changer].patch(self.one(row), self.change, HTTP_IF_MATCH=header)
        assert answer.status_code == 400
        row.refresh_from_db()
        assert row.version == 1

    def test_a_stale_version_shows_both_sides_and_changes_nothing(self, as_role, owner, shop):
        row = self.make(shop)
        client = as_role[self.changer]
        first = client.patch(self.one(row), self.change, HTTP_IF_MATCH='"1"').json()
        lines = rows(AuditEntry, owner).count()
        answer = client.patch(self.one(row), self.change, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 412
        assert problem_codes(answer) == ["changed_meanwhile"]
        assert answer.json()["theirs"] == first
        assert answer.json()["yours"] == self.change
        row.refresh_from_db()
        assert row.version == 2
        assert rows(AuditEntry, owner).count() == lines

    @pytest.mark.where(shared=False)
    def test_a_sister_shops_row_cannot_be_changed_but_by_an_owner(self, as_role, sister_shop):
        for role in ("technician", "manager"):
            row = self.make(sister_shop)
            answer = as_role[role].patch(self.one(row), self.change, HTTP_IF_MATCH='"1"')
            assert answer.status_code == 403
            if role in self.changers:
                assert sister_shop.name in answer.json()["problems"][0]["text"]
            row.refresh_from_db()
            assert row.version == 1
        answer = as_role["owner"].patch(self.one(row), self.change, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 200, answer.content

    def test_changing_a_foreign_row_answers_as_for_a_missing_one(self, owner_client, other_shop):
        row = self.make(other_shop)
        answer = owner_client.patch(self.one(row), self.change, HTTP_IF_MATCH='"1"')
        gone = owner_client.patch(f"{self.base}{row.pk + 10_000}/", self.change, HTTP_IF_MATCH='"1"')
        assert answer.status_code == gone.status_code == 404
        assert answer.content == gone.content
        row.refresh_from_db()
        assert row.version == 1

    def test_an_unknown_field_is_refused_by_name(self, as_role, shop):
        row = self.make(shop)
        answer = as_role[self.changer].patch(self.one(row), {"colour_of_mood": 1}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 400
        assert answer.json()["problems"][0]["field"] == "colour_of_mood"

    @pytest.mark.parametrize("body", ["[]", '"text"', "3", "null", "true", "{", '{"name": NaN}', '"\\ud800"'])
    def test_a_body_that_is_no_object_is_refused(self, as_role, shop, body):
        answer = as_role[self.changer].patch(
            self.one(self.make(shop)), body, content_type="application/json", HTTP_IF_MATCH='"1"'
        )
        assert answer.status_code == 400
        assert problem_codes(answer)

    def test_a_change_of_nothing_makes_no_new_version(self, as_role, owner, shop):
        row = self.make(shop)
        client = as_role[self.changer]
        answer = client.patch(self.one(row), {}, HTTP_IF_MATCH='"1"')
        assert answer.status_code == 200
        assert answer["ETag"] == '"1"'
        assert not rows(AuditEntry, owner).exists()
        assert client.patch(self.one(row), {}, HTTP_IF_MATCH='"2"').status_code == 412


class CreatingCase(RowsCase):
    """POST: by role, once for each Idempotency-Key; `new(shop)` is the body of another new row each time."""

    creators: ClassVar[frozenset[str]] = frozenset(ROLES)
    created: ClassVar[int] = 201

    def new(self, shop) -> dict[str, Any]:
        raise NotImplementedError

    def count(self, owner) -> int:
        """Return how many rows the business has."""
        raise NotImplementedError

    @property
    def creator(self) -> str:
        """Return the least role that may create."""
        return next(role for role in ROLES if role in self.creators)

    @pytest.mark.parametrize("role", ROLES)
    def test_creating_is_for_the_declared_roles(self, as_role, owner, shop, role):
        before = self.count(owner)
        answer = as_role[role].post(self.base, self.new(shop))
        assert answer.status_code == (self.created if role in self.creators else 403), answer.content
        assert self.count(owner) - before == (1 if role in self.creators else 0)

    def test_a_new_row_leaves_a_line_in_the_trail(self, as_role, owner, shop):
        answer = as_role[self.creator].post(self.base, self.new(shop))
        assert answer["ETag"] == '"1"'
        assert rows(AuditEntry, owner).filter(subject_id=answer.json()["id"]).exists()

    def test_a_retry_with_the_same_key_makes_no_second_row(self, as_role, owner, shop):
        client, body = as_role[self.creator], self.new(shop)
        before = self.count(owner)
        first = client.post(self.base, body, HTTP_IDEMPOTENCY_KEY="k-1")
        lines = rows(AuditEntry, owner).count()
        again = client.post(self.base, body, HTTP_IDEMPOTENCY_KEY="k-1")
        assert first.status_code == again.status_code == self.created
        assert again.json() == first.json()
        assert again["ETag"] == first["ETag"]
        assert self.count(owner) - before == 1
        assert rows(AuditEntry, owner).count() == lines

    def test_a_key_used_for_another_body_is_refused(self, as_role, owner, shop):
        client = as_role[self.creator]
        before = self.count(owner)
        client.post(self.base, self.new(shop), HTTP_IDEMPOTENCY_KEY="k-1")
        answer = client.post(self.base, self.new(shop), HTTP_IDEMPOTENCY_KEY="k-1")
        assert answer.status_code == 422
        assert problem_codes(answer) == ["key_reused"]
        assert self.count(owner) - before == 1

    def test_a_refused_post_keeps_no_reply(self, as_role, owner, shop):
        client = as_role[self.creator]
        before = self.count(owner)
        assert client.post(self.base, {}, HTTP_IDEMPOTENCY_KEY="k-1").status_code == 400
        answer = client.post(self.base, self.new(shop), HTTP_IDEMPOTENCY_KEY="k-1")
        assert answer.status_code == self.created, answer.content
        assert self.count(owner) - before == 1

    def test_a_key_belongs_to_one_person(self, as_role, owner, shop):
        before = self.count(owner)
        for role in sorted(self.creators)[:2]:
            answer = as_role[role].post(self.base, self.new(shop), HTTP_IDEMPOTENCY_KEY="k-1")
            assert answer.status_code == self.created, answer.content
        assert self.count(owner) - before == len(sorted(self.creators)[:2])


class RemovingCase(RowsCase):
    """DELETE with If-Match."""

    removers: ClassVar[frozenset[str]] = frozenset(ROLES)

    @pytest.mark.parametrize("role", ROLES)
    def test_removing_is_for_the_declared_roles(self, as_role, owner, shop, role):
        row = self.make(shop)
        answer = as_role[role].delete(self.one(row), HTTP_IF_MATCH='"1"')
        assert answer.status_code == (204 if role in self.removers else 403), answer.content
        assert rows(type(row), owner).filter(pk=row.pk).exists() == (role not in self.removers)
        assert rows(AuditEntry, owner).count() == (1 if role in self.removers else 0)

    def test_removing_needs_the_version_that_stands(self, owner_client, owner, shop):
        row = self.make(shop)
        assert owner_client.delete(self.one(row)).status_code == 428
        answer = owner_client.delete(self.one(row), HTTP_IF_MATCH='"7"')
        assert answer.status_code == 412
        assert answer.json()["theirs"]["version"] == 1
        assert rows(type(row), owner).filter(pk=row.pk).exists()
        assert not rows(AuditEntry, owner).exists()

    def test_a_foreign_row_cannot_be_removed(self, owner_client, stranger, other_shop):
        row = self.make(other_shop)
        assert owner_client.delete(self.one(row), HTTP_IF_MATCH='"1"').status_code == 404
        assert rows(type(row), stranger).filter(pk=row.pk).exists()

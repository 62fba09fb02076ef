"""A bike entered twice becomes one, and two again: nothing is lost, nothing sealed is touched, nothing leaks."""

from __future__ import annotations

import pytest

from setups.bike_models import BikeMerge, OwnerChange
from setups.models import Bike, JobCard, SealedRecord
from setups.record import seal
from setups.record.verify import verify_shop
from setups.verbs.merging import merge_bikes, undo_merge
from setups.verbs.ownership import change_owner
from shops.access import everywhere, rows
from shops.models import AuditEntry
from shops.trail import Actor
from tests.factories import BikeFactory, CustomerFactory, JobCardFactory, RiderFactory, rear_data
from tests.setups.record import conftest as invented_record
from tests.shops.cases import problem_codes

make_ready_card = invented_record.make_ready_card
WHY = "this test"


@pytest.fixture
def customer(business):
    return CustomerFactory(business=business, name="Orla Venn")


@pytest.fixture
def kept(business, customer):
    return BikeFactory(business=business, owner=customer, plate="QX 1", frame_number="", front=None, notes="Ours.")


@pytest.fixture
def twin(business, customer):
    return BikeFactory(
        business=business, owner=customer, plate="QX 2", frame_number="BRKH77", year=2021,
        sources={"front.stroke_mm": {"from": "measured"}, "rear.shocks": {"from": "assumed"}},
    )  # fmt: skip


@pytest.fixture
def actor(technician):
    return Actor(technician)


def values(bike):
    """Return everything that a bike's row holds, but its version."""
    bike.refresh_from_db()
    return {field.attname: getattr(bike, field.attname) for field in Bike._meta.fields if field.name != "version"}


def merged(actor, kept, twin, take=(), reason="Entered twice."):
    return merge_bikes(
        actor, kept, twin, version=kept.version, twin_version=twin.version, take=take, reason=reason
    )


def cards_of(bike):
    return set(everywhere(JobCard, why=WHY).filter(bike=bike).values_list("pk", flat=True))


class TestMerging:
    def test_the_cards_come_over_and_the_twin_is_hidden(self, technician_client, kept, twin, shop, sister_shop):
        own = JobCardFactory(shop=shop, bike=kept, customer=kept.owner)
        theirs = JobCardFactory(shop=sister_shop, bike=twin, customer=twin.owner)
        body = {"twin": twin.pk, "version": 1, "twin_version": 1, "reason": "Entered twice.", "take": ["plate"]}
        answer = technician_client.post(f"/api/bikes/{kept.pk}/merge/", body)
        assert answer.status_code == 200, answer.content
        assert answer.json()["cards"] == 1
        history = technician_client.get(f"/api/bikes/{kept.pk}/history/").json()
        assert [card["id"] for card in history] == [theirs.pk, own.pk]
        assert technician_client.get(f"/api/bikes/{twin.pk}/history/").json() == []
        listed = technician_client.get("/api/bikes/").json()["results"]
        assert [bike["id"] for bike in listed] == [kept.pk]
        assert technician_client.get(f"/api/bikes/{twin.pk}/").json()["merged_into"] == kept.pk

    def test_blanks_are_filled_and_what_is_chosen_is_taken(self, actor, kept, twin):
        merged(actor, kept, twin, take=["year"])
        kept.refresh_from_db()
        assert (kept.year, kept.frame_number, kept.front) == (2021, "BRKH77", twin.front)
        assert (kept.plate, kept.notes) == ("QX 1", "Ours.")
        # The fork came from the twin, and so did where its facts come from; the rear stays the kept bike's.
        assert kept.sources == {"front.stroke_mm": {"from": "measured"}}

    def test_the_trail_names_ids_and_fields_but_no_value(self, actor, owner, kept, twin):
        merged(actor, kept, twin, take=["plate"])
        [line] = rows(AuditEntry, owner)
        assert (line.verb, line.subject_id, line.reason) == ("merge bikes", kept.pk, "Entered twice.")
        assert line.after["twin"] == twin.pk
        assert "QX 2" not in f"{line.before}{line.after}"
        assert "BRKH77" not in f"{line.before}{line.after}"

    def test_sealed_documents_stay_as_they_are_and_the_chain_holds(self, actor, shop, kept, make_ready_card):
        card = make_ready_card()
        seal.seal(actor, card)
        before = everywhere(SealedRecord, why=WHY).filter(card=card).values().get()
        merge = merged(actor, kept, card.bike)
        assert everywhere(SealedRecord, why=WHY).filter(card=card).values().get() == before
        assert verify_shop(shop).failure is None
        undo_merge(actor, merge)
        assert everywhere(SealedRecord, why=WHY).filter(card=card).values().get() == before
        assert verify_shop(shop).failure is None

    @pytest.mark.parametrize("which", ["version", "twin_version"])
    def test_a_comparison_that_is_out_of_date_shows_how_it_stands(self, technician_client, kept, twin, which):
        body = {"twin": twin.pk, "version": 1, "twin_version": 1, "reason": "Entered twice."} | {which: 5}
        answer = technician_client.post(f"/api/bikes/{kept.pk}/merge/", body)
        assert (answer.status_code, problem_codes(answer)) == (412, ["changed_meanwhile"])
        assert answer.json()["theirs"]["id"] == (kept if which == "version" else twin).pk
        assert not everywhere(BikeMerge, why=WHY).exists()

    @pytest.mark.parametrize(
        ("body", "status"),
        [({"reason": ""}, 400), ({"take": ["business"]}, 400), ({"take": ["merged_into"]}, 400), ({"twin": 1e9}, 400)],
    )
    def test_what_cannot_be_is_refused(self, technician_client, kept, twin, body, status):
        wanted = {"twin": twin.pk, "version": 1, "twin_version": 1, "reason": "Entered twice."} | body
        assert technician_client.post(f"/api/bikes/{kept.pk}/merge/", wanted).status_code == status

    def test_a_bike_is_not_its_own_twin(self, technician_client, kept):
        body = {"twin": kept.pk, "version": 1, "twin_version": 1, "reason": "Entered twice."}
        assert problem_codes(technician_client.post(f"/api/bikes/{kept.pk}/merge/", body)) == ["same_row"]

    def test_another_businesss_bike_is_unknown_as_twin(self, technician_client, kept, other_shop):
        foreign = BikeFactory(business=other_shop.business)
        body = {"twin": foreign.pk, "version": 1, "twin_version": 1, "reason": "Entered twice."}
        missing = {**body, "twin": 9_000_000}
        answers = [technician_client.post(f"/api/bikes/{kept.pk}/merge/", one) for one in (body, missing)]
        assert [answer.status_code for answer in answers] == [400, 400]
        assert answers[0].json()["problems"][0]["code"] == answers[1].json()["problems"][0]["code"]


class TestTheHiddenTwin:
    @pytest.fixture
    def merge(self, actor, kept, twin):
        return merged(actor, kept, twin)

    def test_nothing_more_is_hung_on_it(self, technician_client, merge, twin, kept):
        opened = technician_client.post("/api/cards/", {"bike": twin.pk, "complaint": "Dives."})
        assert (opened.status_code, problem_codes(opened)) == (409, ["merged"])
        changed = technician_client.patch(f"/api/bikes/{twin.pk}/", {"year": 2001}, HTTP_IF_MATCH='"2"')
        assert (changed.status_code, problem_codes(changed)) == (409, ["merged"])
        sold = technician_client.post(
            f"/api/bikes/{twin.pk}/owner/", {"owner": None, "version": 2, "reason": "Sold."}
        )
        assert (sold.status_code, problem_codes(sold)) == (409, ["merged"])

    def test_it_is_merged_once(self, actor, technician_client, merge, kept, twin, business):
        third = BikeFactory(business=business)
        for one, other in ((third, twin), (twin, third)):
            one.refresh_from_db()
            other.refresh_from_db()
            versions = {"version": one.version, "twin_version": other.version}
            body = {"twin": other.pk, "reason": "Entered twice.", **versions}
            assert problem_codes(technician_client.post(f"/api/bikes/{one.pk}/merge/", body)) == ["merged"]


class TestUndoing:
    def test_everything_is_put_back_exactly(self, technician_client, actor, kept, twin, shop):
        JobCardFactory(shop=shop, bike=kept, customer=kept.owner)
        JobCardFactory(shop=shop, bike=twin, customer=twin.owner)
        before = values(kept), values(twin), cards_of(kept), cards_of(twin)
        merge = merged(actor, kept, twin, take=["plate", "year", "rear", "owner"])
        assert (values(kept), cards_of(twin)) != (before[0], before[3])
        answer = technician_client.post(f"/api/bikes/{kept.pk}/merges/{merge.pk}/undo/")
        assert answer.status_code == 200, answer.content
        assert answer.json()["undone_by_name"] == actor.person.name
        assert (values(kept), values(twin), cards_of(kept), cards_of(twin)) == before
        assert not everywhere(OwnerChange, why=WHY).exists()

    def test_what_was_changed_since_and_cards_opened_since_stay(self, technician_client, actor, kept, twin):
        merge = merged(actor, kept, twin, take=["plate", "year"])
        kept.refresh_from_db()
        technician_client.patch(f"/api/bikes/{kept.pk}/", {"plate": "QX 9"}, HTTP_IF_MATCH=f'"{kept.version}"')
        since = technician_client.post("/api/cards/", {"bike": kept.pk, "complaint": "Dives."}).json()["id"]
        undo_merge(actor, merge)
        kept.refresh_from_db()
        assert (kept.plate, kept.year) == ("QX 9", 2019)
        assert cards_of(kept) == {since}

    def test_it_is_undone_once(self, technician_client, actor, kept, twin):
        merge = merged(actor, kept, twin)
        at = f"/api/bikes/{kept.pk}/merges/{merge.pk}/undo/"
        assert technician_client.post(at).status_code == 200
        again = technician_client.post(at)
        assert (again.status_code, problem_codes(again)) == (409, ["undone"])

    def test_a_later_merge_is_undone_first(self, technician_client, actor, kept, twin, business, shop):
        card = JobCardFactory(shop=shop, bike=twin, customer=twin.owner)
        first = merged(actor, kept, twin)
        third = BikeFactory(business=business, owner=kept.owner)
        kept.refresh_from_db()
        later = merged(actor, third, kept)
        assert cards_of(third) == {card.pk}
        at = f"/api/bikes/{kept.pk}/merges/{first.pk}/undo/"
        assert problem_codes(technician_client.post(at)) == ["merged"]
        undo_merge(actor, later)
        assert technician_client.post(at).status_code == 200
        assert cards_of(twin) == {card.pk}

    def test_the_list_tells_of_merges_done_and_undone(self, technician_client, actor, kept, twin):
        merge = merged(actor, kept, twin)
        [told] = technician_client.get(f"/api/bikes/{kept.pk}/merges/").json()
        assert (told["twin"], told["undone_at"], told["by_name"]) == (twin.pk, None, actor.person.name)
        undo_merge(actor, merge)
        [told] = technician_client.get(f"/api/bikes/{kept.pk}/merges/").json()
        assert told["undone_at"]


class TestFormerOwners:
    """Two entries with two owners: whoever is not the owner now is a former owner, and hidden as such."""

    @pytest.fixture
    def seller(self, business):
        return CustomerFactory(business=business, name="Quillon Abernethy")

    def test_the_other_entrys_owner_is_kept_from_technicians(self, technician_client, actor, kept, twin, seller, shop):
        Bike.objects.declare_scope().filter(pk=twin.pk).update(owner=seller)
        twin.refresh_from_db()
        card = JobCardFactory(shop=shop, bike=twin, customer=seller, rider=RiderFactory(customer=seller))
        merge = merged(actor, kept, twin)
        assert "Quillon" not in technician_client.get(f"/api/cards/{card.pk}/").content.decode()
        undo_merge(actor, merge)
        assert technician_client.get(f"/api/cards/{card.pk}/").json()["customer"]["name"] == seller.name

    def test_a_former_owner_hidden_before_the_merge_stays_hidden_after_it(
        self, technician_client, actor, kept, twin, seller, customer, shop
    ):
        Bike.objects.declare_scope().filter(pk=twin.pk).update(owner=seller)
        twin.refresh_from_db()
        card = JobCardFactory(shop=shop, bike=twin, customer=seller, rider=None)
        change_owner(actor, twin, 1, owner=customer, reason="Sold.")
        twin.refresh_from_db()
        kept.refresh_from_db()
        address = f"/api/cards/{card.pk}/"
        assert "Quillon" not in technician_client.get(address).content.decode()
        merge = merged(actor, kept, twin)
        assert "Quillon" not in technician_client.get(address).content.decode()
        undo_merge(actor, merge)
        assert "Quillon" not in technician_client.get(address).content.decode()


def test_data_that_do_not_fit_together_are_not_taken_over(technician_client, kept, twin):
    wrong = rear_data() | {"adjuster_mm": [30, 10]}
    Bike.objects.declare_scope().filter(pk=twin.pk).update(rear=wrong)
    body = {"twin": twin.pk, "version": 1, "twin_version": 1, "reason": "Entered twice.", "take": ["rear"]}
    assert technician_client.post(f"/api/bikes/{kept.pk}/merge/", body).status_code == 400
    kept.refresh_from_db()
    assert kept.merged_into is None
    assert kept.rear == rear_data()

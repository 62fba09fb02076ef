"""Sealing: what is frozen, how it is chained, what cannot be changed again."""

from __future__ import annotations

import hashlib
import itertools
import json
import math

import pytest
from django.db import DatabaseError, transaction

from calc.refusal import Refusal
from setups.models import JobCard, PersonalValue, SealedRecord
from setups.record import seal
from setups.record.canonical import canonical, commitment
from setups.record.gather import gather
from setups.record.reading import kept, told
from setups.record.verify import verify_shop
from shops.models import AuditEntry
from shops.refusals import Blocked
from tests.setups.record import invented

pytestmark = pytest.mark.django_db


def test_sealing_freezes_the_card_and_moves_it_to_its_last_step(sealed, ready_card, technician):
    ready_card.refresh_from_db()
    public = json.loads(sealed.public)

    assert ready_card.step == JobCard.Step.SEALED
    assert (sealed.number, sealed.previous_head, sealed.sealed_by) == (1, "", technician)
    assert sealed.personal_values.get(path="public.complaint").value == ready_card.complaint
    assert public["settings"]["built"]["front"] == invented.SETTINGS["built"]["front"]
    assert public["results"]["built"]["rear"]["rider_sag_mm"] > public["results"]["built"]["rear"]["static_sag_mm"]
    assert [line["value_nm"] for line in public["torques"]] == [line["value_nm"] for line in invented.card()["torques"]]
    assert public["program"].startswith("Coilbook ")


def test_the_digests_are_sha_256_of_the_stored_texts_and_the_texts_are_canonical(sealed):
    """FIPS 180-4 through hashlib and RFC 8785: the stored text is its own canonical form."""
    for part in ("public", "internal"):
        text = getattr(sealed, part)
        assert getattr(sealed, f"{part}_digest") == hashlib.sha256(text.encode()).hexdigest()
        assert canonical(json.loads(text)) == text


def test_the_next_record_of_the_shop_follows_the_one_before(sealed, make_ready_card, actor, shop):
    second = seal.seal(actor, make_ready_card())

    assert (second.number, second.previous_head) == (2, sealed.head)
    assert verify_shop(shop).failure is None


def scalars(value):
    """Every single value in a document."""
    if isinstance(value, dict | list):
        return [one for inner in (value.values() if isinstance(value, dict) else value) for one in scalars(inner)]
    return [value]


def test_no_personal_value_stands_in_either_document(sealed):
    secrets = {invented.OWNER, invented.PLATE, invented.FRAME, invented.MASS_KG, "000 0101"}
    secrets |= {kg for pair in invented.AXLE_KG.values() for kg in pair}
    for part in ("public", "internal"):
        text = getattr(sealed, part)
        assert not secrets & set(scalars(json.loads(text)))
        assert not any(word in text for word in secrets if isinstance(word, str))


GRAVITY = 9.80665
"""Standard gravity, m/s² (ISO 80000-3)."""


def one_step(figures):
    """Every mass in kg that one step gives from two of `figures`, in mm, N, N/mm, J and Hz.

    A force, or an energy over a length, over g; a force over a plain factor and g; and the oscillator's
    m = k / (2πf)² (any textbook of mechanics).
    """
    for one, other in itertools.permutations([abs(value) for value in figures if value], 2):
        yield from (one / other, one / other / GRAVITY, 1000 * one / other / GRAVITY)
        yield from (one * other / GRAVITY, one * other / 1000 / GRAVITY)
        yield 1000 * one / (2 * math.pi * other) ** 2


def tells(figures, mass):
    return any(abs(found / mass - 1) < 1e-3 for found in one_step(figures))


def numbers(value):
    return [one for one in scalars(value) if isinstance(one, int | float) and not isinstance(one, bool)]


class TestTheLoadsStayHidden:
    @pytest.fixture
    def public(self, sealed):
        return json.loads(sealed.public)

    @pytest.fixture
    def results(self, ready_card):
        """What was computed, before anything is left out."""
        ready_card.refresh_from_db()
        sides = gather(ready_card).sides
        places = itertools.product(("received", "built"), ("front", "rear"))
        return {(stage, end): sides[stage][end]["result"] for stage, end in places}

    @pytest.fixture
    def hidden(self):
        """The known loads, the rider and what each spring end carries, in kg."""
        unsprung = {"front": invented.FRONT["unsprung_kg"], "rear": invented.REAR["unsprung_kg"]}
        return {end: [kg - unsprung[end] for kg in pair] for end, pair in invented.AXLE_KG.items()}

    def test_no_load_rider_or_figure_that_tells_one_is_a_value_of_the_public_part(self, public, results, hidden):
        secret = {invented.MASS_KG, *itertools.chain(*invented.AXLE_KG.values(), *hidden.values())}
        secret |= {GRAVITY * kg for kg in secret}
        for result in results.values():
            reserve = next(note for note in result["notes"] if note["code"] == "bottoming_reserve")
            secret |= {result["frequency_hz"], result["fall_to_stop_mm"], reserve["value"]}
            assert reserve["text"] not in json.dumps(public, ensure_ascii=False)
        for found in numbers(public):
            assert not [value for value in secret if abs(found / value - 1) < 1e-4], found
        text = json.dumps(public)
        assert not [word for word in ("frequency_hz", "reserve", "fall_to", '"curve":', "sprung load") if word in text]

    @pytest.mark.parametrize("stage", ["received", "built"])
    @pytest.mark.parametrize("end", ["front", "rear"])
    def test_no_two_public_figures_of_an_end_give_its_sprung_mass_in_one_step(
        self, public, results, hidden, stage, end
    ):
        told = numbers(public["results"][stage][end]) + numbers(public["sag"][stage][end])
        rider = hidden[end][1]

        assert len(told) > 8
        assert not tells(told, rider)
        # The whole result does tell it, each way: otherwise nothing was proved.
        whole = results[stage, end]
        reserve = next(note["value"] for note in whole["notes"] if note["code"] == "bottoming_reserve")
        assert tells([whole["wheel_rate_n_per_mm"], whole["frequency_hz"]], rider)
        assert tells([whole["full_stroke_n"], reserve], rider)

    def test_the_internal_part_keeps_them_so_that_they_can_be_erased(self, sealed, results):
        internal = json.loads(sealed.internal)["results"]
        kept = {value.path: value.value for value in sealed.personal_values.all()}
        for (stage, end), result in results.items():
            assert internal[stage][end]["curve"] == result["curve"]
            for key in ("frequency_hz", "fall_to_stop_mm"):
                assert set(internal[stage][end][key]) == {"commitment"}
                assert kept[f"internal.results.{stage}.{end}.{key}"] == result[key]
            assert [note["code"] for note in internal[stage][end]["notes"]] == ["bottoming_reserve"]


def test_each_commitment_binds_its_value_with_a_salt_of_its_own(sealed):
    values = list(sealed.personal_values.all())
    documents = {"public": json.loads(sealed.public), "internal": json.loads(sealed.internal)}

    assert {value.value for value in values} >= {invented.OWNER, invented.MASS_KG, *invented.AXLE_KG["front"]}
    assert len({value.salt for value in values}) == len(values)
    assert all(len(bytes.fromhex(value.salt)) * 8 >= 128 for value in values)
    for value in values:
        found = documents
        for key in value.path.split("."):
            found = found[int(key)] if isinstance(found, list) else found[key]
        assert found == {"commitment": commitment(value.path, value.salt, value.value)}


def test_the_trail_holds_the_seal_and_no_personal_value(sealed, ready_card):
    entry = AuditEntry.objects.filter(verb="seal card").declare_scope().get()

    assert entry.subject_id == ready_card.pk
    assert entry.before == {"step": "handed_over"}
    assert entry.after == {"step": "sealed", "record": 1, "head": sealed.head}


def test_a_card_with_something_missing_is_refused_and_everything_missing_is_named(ready_card, actor):
    ready_card.sign_offs.all().delete()
    line = ready_card.torques.first()
    line.value_nm = None
    line.save()

    with pytest.raises(Blocked) as refused:
        seal.seal(actor, ready_card)

    assert {problem.code for problem in refused.value.problems} == {"no_sign_off", "torque_blank"}
    assert not ready_card.records.exists()


def test_a_sealed_card_is_not_sealed_twice(sealed, ready_card, actor):
    with pytest.raises(Blocked, match="only be amended"):
        seal.seal(actor, ready_card)


def test_the_live_rows_no_longer_matter_once_sealed(sealed, ready_card):
    before = sealed.public
    ready_card.bike.make = "Renamed"
    ready_card.bike.save()
    sealed.refresh_from_db()

    assert sealed.public == before


@pytest.mark.parametrize("column", ["public", "internal", "head", "number", "previous_head", "public_digest"])
def test_the_database_itself_refuses_to_change_a_sealed_record(sealed, column):
    value = 99 if column == "number" else "x"
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        SealedRecord.objects.filter(pk=sealed.pk).declare_scope().update(**{column: value})


def test_the_database_itself_refuses_to_delete_a_sealed_record(sealed):
    PersonalValue.objects.filter(record=sealed).declare_scope().delete()
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        sealed.delete()


class TestAmending:
    def amend(self, actor, card, **change):
        return seal.amend(
            actor, card, **{"path": "torques.0.value_nm", "new": 95, "why": "Misread the page.", **change}
        )

    def test_an_amendment_joins_the_chain_and_leaves_the_record_alone(self, sealed, ready_card, actor, shop):
        before = sealed.public
        added = self.amend(actor, ready_card)
        sealed.refresh_from_db()
        public = json.loads(added.public)

        assert sealed.public == before
        assert (added.number, added.previous_head, added.what) == (2, sealed.head, "amendment")
        assert public["amendment"] == {
            "path": "torques.0.value_nm",
            "old": 90,
            "new": 95,
            "why": "Misread the page.",
        }
        assert public["record"]["sealed_by"] == actor.person.name
        assert public["amends"] == {"number": sealed.number, "head": sealed.head}
        assert verify_shop(shop).failure is None

    def test_a_second_amendment_of_a_value_names_the_first_ones_as_old(self, sealed, ready_card, actor):
        self.amend(actor, ready_card)
        assert json.loads(self.amend(actor, ready_card, new=96).public)["amendment"]["old"] == 95

    def test_an_amendment_of_the_internal_part_tells_the_public_nothing(self, sealed, ready_card, actor):
        added = self.amend(actor, ready_card, path="internal.internal_notes", new="Paid in full.")

        assert "Paid" not in added.public
        assert "Paid" not in added.internal
        assert added.personal_values.get(path="internal.amendment.new").value == "Paid in full."

    @pytest.mark.parametrize(
        ("change", "code"),
        [
            ({"path": "torques.99.value_nm"}, "unknown_path"),
            ({"path": "torques.0"}, "not_amendable"),
            ({"path": "customer.name"}, "not_amendable"),
            ({"path": "results.built.front.rider_sag_mm"}, "not_amendable"),
            ({"path": "record.number"}, "not_amendable"),
            ({"new": "ninety"}, "other_kind"),
            ({"new": True}, "other_kind"),
            ({"new": 90}, "unchanged"),
            ({"new": {"a": 1}}, "other_kind"),
            ({"why": "  "}, "no_reason"),
        ],
    )
    def test_what_cannot_be_amended_is_refused(self, sealed, ready_card, actor, change, code):
        with pytest.raises(Refusal) as refused:
            self.amend(actor, ready_card, **change)
        assert code in {problem.code for problem in refused.value.problems}
        assert ready_card.records.count() == 1

    @pytest.mark.parametrize(
        ("path", "new", "code", "said"),
        [
            ("torques.0.value_nm", -9, "out_of_band", "-9 N·m for a torque"),
            ("torques.0.value_nm", 401, "out_of_band", "more than the 400 N·m accepted"),
            ("torques.0.value_nm", None, "missing", "up to 400 N·m"),
            ("torques.0.fastener", 9, "other_kind", "a text"),
            ("torques.0.fastener", None, "other_kind", "a text"),
            ("torques.0.calibration_due", "soon", "not_a_day", "2031-04-30"),
            ("settings.built.front.legs.0.preload_mm", 900, "out_of_band", "-30 to 150 mm"),
            ("settings.built.front.legs.0.preload_mm", -5, "negative_preload", "loose"),
            ("settings.built.front.legs.0.air_gap_mm", 1080, "out_of_band", "108"),
            ("settings.built.front.legs.0.spacer_mm", "long", "not_a_number", "'long'"),
            ("settings.built.front.oil_cm3_per_leg", -612, "out_of_band", "0 to 3000 cm³"),
            ("settings.built.front.oil_grade", 5, "other_kind", "a text"),
            ("settings.built.front.legs.0.spring.rate_n_per_mm", 40, "out_of_band", "did you mean 4"),
            ("settings.built.front.clickers.0.counted_from", "sideways", "unknown_choice", "fully_in"),
            ("settings.built.rear.preload_mm", 19, "past_adjuster", "2 to 18 mm"),
            ("bike.rear.leverage.shock_mm.2", 18.5, "table_falls", "read twice"),
            ("bike.year", 29, "out_of_band", "1900 to 2100"),
            ("gap_and_oil.0.air_gap_after_mm", 4, "out_of_band", "10 to 400 mm"),
            ("readings.0.value", 92.1, "out_of_band", "was it centimetres (92.1 cm is 921 mm)"),
            ("parts.0.quantity", 1.5, "not_whole", "whole"),
            ("card.distance_km", -1, "out_of_band", "km"),
            ("targets.front.rider_sag_mm.0", 400, "not_a_range", "swapped"),
            ("next_service.on", "spring", "not_a_day", "2031-04-30"),
            ("gap_and_oil.0.leg", 10**30, "out_of_band", "exactly"),  # RFC 8785 knows doubles alone
            ("internal.card", 9, "not_amendable", "the record's own"),
            ("internal.results.built.front.curve.total_n.0", 9, "not_amendable", "the record's own"),
        ],
    )
    def test_a_new_value_must_pass_what_the_card_asked_of_it(self, sealed, ready_card, actor, path, new, code, said):
        with pytest.raises(Refusal) as refused:
            self.amend(actor, ready_card, path=path, new=new)
        (problem,) = refused.value.problems
        assert (problem.field, problem.code) == ("path" if code == "not_amendable" else "new", code)
        assert said in problem.text
        assert ready_card.records.count() == 1

    def test_what_the_card_would_have_taken_is_amended(self, sealed, ready_card, actor):
        changes = {
            "torques.0.value_nm": 88.5,
            "settings.built.front.legs.0.preload_mm": 9,
            "settings.built.front.legs.0.spacer_mm": 150,
            "settings.built.front.clickers.0.position": None,
            "readings.0.value": 920,
            "bike.year": None,
            "next_service.on": "2033-05-01",
            "complaint": "Dives.",
        }
        for path, new in changes.items():
            added = self.amend(actor, ready_card, path=path, new=new)
            assert told(added, "public", kept(added))["amendment"]["new"] == new

    def test_a_coupling_is_judged_against_the_record_as_amended_so_far(self, sealed, ready_card, actor):
        self.amend(actor, ready_card, path="bike.rear.adjuster_mm.1", new=20)
        self.amend(actor, ready_card, path="settings.built.rear.preload_mm", new=19)

    def test_a_card_that_is_not_sealed_is_not_amended(self, ready_card, actor):
        with pytest.raises(Blocked, match="not sealed"):
            self.amend(actor, ready_card)

"""Customer links: who gets in, what is shown, what is kept of the secret."""

from __future__ import annotations

import hashlib
import re
from datetime import timedelta

import pytest
from django.utils import timezone

from setups.models import CustomerLink, LinkOpening
from setups.record import links, seal
from setups.web.record_views import OpeningThrottle
from shops.models import AuditEntry, IdempotentReply
from tests.setups.record import invented

pytestmark = pytest.mark.django_db
OPEN, PDF = "/api/record/open/", "/api/record/pdf/"


@pytest.fixture
def shared(sealed, actor):
    """Return a link and its secret."""
    return links.share(actor, sealed.card, days=30, share_mass=False)


def opened(anonymous, secret, path=OPEN):
    return anonymous.post(path, {"secret": secret}, format="json")


def expire(link):
    link.expires_at = timezone.now() - timedelta(seconds=1)
    link.save()


def test_the_secret_has_256_bits_and_only_its_hash_is_kept(shared):
    link, secret = shared
    assert re.fullmatch(r"[A-Za-z0-9_-]{43}", secret)
    assert link.secret_sha256 == hashlib.sha256(secret.encode()).hexdigest()
    kept = [str(row) for model in (CustomerLink, AuditEntry) for row in model.objects.all().declare_scope().values()]
    assert not any(secret in row for row in kept)


def test_the_api_shows_the_secret_once_in_the_fragment_and_keeps_no_copy_for_retries(sealed, technician_client):
    answer = technician_client.post(
        f"/api/cards/{sealed.card_id}/links/", {"days": 7}, format="json", headers={"Idempotency-Key": "k1"}
    )
    assert answer.status_code == 201, answer.content
    url = answer.json()["url"]
    assert url.startswith("/record#")
    assert answer["Cache-Control"] == "no-store"
    secret = url.partition("#")[2]
    assert not any(secret in str(row.body) for row in IdempotentReply.objects.all().declare_scope())
    assert secret not in technician_client.get(f"/api/cards/{sealed.card_id}/").content.decode()


class TestOpening:
    def test_with_the_secret_anybody_gets_the_page_and_the_opening_is_logged(self, shared, anonymous):
        link, secret = shared
        answer = opened(anonymous, secret)
        assert answer.status_code == 200
        assert set(answer.json()) == {"title", "html", "other", "language"}
        assert answer["Cache-Control"] == "no-store"
        assert "noindex" in answer["X-Robots-Tag"]
        assert answer["Referrer-Policy"] == "no-referrer"
        opening = LinkOpening.objects.all().declare_scope().get()
        assert (opening.link_id, opening.address) == (link.pk, "127.0.0.1")

    @pytest.mark.parametrize("path", [OPEN, PDF])
    @pytest.mark.parametrize("state", ["wrong", "expired", "revoked"])
    def test_wrong_expired_and_revoked_are_answered_alike_and_not_logged(self, shared, anonymous, actor, state, path):
        link, secret = shared
        if state == "expired":
            expire(link)
        elif state == "revoked":
            links.revoke(actor, link)
        else:
            secret = secret[:-1] + ("A" if secret[-1] != "A" else "B")
        answer, never_was = opened(anonymous, secret, path), opened(anonymous, "never was", path)
        assert answer.status_code == 404
        assert answer.content == never_was.content
        assert not LinkOpening.objects.all().declare_scope().exists()

    def test_a_preview_logs_nothing(self, shared, anonymous):
        shell = anonymous.get("/record")
        assert shell.status_code == 200
        assert b"noindex" in shell.content
        assert not LinkOpening.objects.all().declare_scope().exists()
        assert anonymous.get(OPEN).status_code == 405

    def test_the_pdf_is_the_stored_one(self, shared, anonymous, technician_client):
        link, secret = shared
        answer = anonymous.post(PDF, {"secret": secret}, format="json", headers={"Accept": "application/pdf"})
        assert answer.status_code == 200
        assert answer["Content-Type"] == "application/pdf"
        path = f"/api/cards/{link.card_id}/record.pdf"
        staff = technician_client.get(path, headers={"Accept": "application/pdf"})
        assert answer.content == staff.content

    def test_knocking_too_often_is_slowed_down(self, shared, anonymous, monkeypatch):
        monkeypatch.setattr(OpeningThrottle, "rate", "3/min")
        codes = [opened(anonymous, "wrong").status_code for _ in range(4)]
        assert codes == [404, 404, 404, 429]

    def test_an_invented_address_does_not_get_round_it(self, shared, anonymous, monkeypatch):
        monkeypatch.setattr(OpeningThrottle, "rate", "3/min")
        answers = [
            anonymous.post(OPEN, {"secret": "wrong"}, format="json", HTTP_X_FORWARDED_FOR=f"192.0.2.{number}")
            for number in range(4)
        ]
        assert [answer.status_code for answer in answers] == [404, 404, 404, 429]
        [problem] = answers[-1].json()["problems"]
        assert problem["code"] == "too_many"
        assert "seconds and try again" in problem["text"]

    @pytest.mark.parametrize(
        "body", [{}, {"secret": 5}, {"secret": ""}, {"secret": "x", "more": 1}, {"secret": "x" * 201}, []]
    )
    def test_a_body_that_holds_no_secret_is_refused_with_400(self, anonymous, db, body):
        answer = anonymous.post(OPEN, body, format="json")
        assert answer.status_code == 400
        assert answer.json()["problems"]


class TestPage:
    def test_mass_and_axle_loads_show_only_through_a_link_that_shares_them(self, sealed, actor, anonymous):
        kilograms = [
            f"{invented.MASS_KG} kg",
            *(f"{kg} kg" for pair in invented.AXLE_KG.values() for kg in pair),
        ]
        for share_mass in (False, True):
            _, secret = links.share(actor, sealed.card, days=1, share_mass=share_mass)
            html = opened(anonymous, secret).json()["html"]
            assert [weight in html for weight in kilograms] == [share_mass] * len(kilograms)
            if not share_mass:
                assert not re.search(r"\d kg\b", html)

    def test_internal_notes_and_the_owners_telephone_never_show(self, sealed, actor, anonymous):
        _, secret = links.share(actor, sealed.card, days=1, share_mass=True)
        html = opened(anonymous, secret).json()["html"]
        for hidden in ("Pays on Friday", "cross-threaded", "000 0101", "trail"):
            assert hidden not in html

    def test_it_says_what_was_wrong_what_was_done_what_it_feels_like_and_when_to_come_back(self, shared, anonymous):
        html = opened(anonymous, shared[1]).json()["html"]
        for words in (
            invented.card()["complaint"],
            invented.card()["explanation"],
            "stiffer around the height you ride at",
            "37 ± 1 mm",
            "When to come back",
            "1 April 2032",
            "Preload: how far the spring is squeezed",
            "it does not make a spring stiffer",
            "<svg",
            "WARNING",
            "measured",
        ):
            assert words in html, words

    def test_the_fragment_keeps_to_the_content_security_policy(self, shared, anonymous):
        html = opened(anonymous, shared[1]).json()["html"]
        assert not re.search(r"<script|<style|\sstyle=|\son\w+=|javascript:|<iframe|https?://(?!www\.w3\.org)", html)

    def test_what_people_typed_is_escaped(self, make_ready_card, actor, anonymous):
        card = make_ready_card(complaint="<script>alert(1)</script> & <b>")
        seal.seal(actor, card)
        _, secret = links.share(actor, card, days=1, share_mass=False)
        html = opened(anonymous, secret).json()["html"]
        assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &lt;b&gt;" in html
        assert "<script>" not in html

    def test_a_correction_is_shown_at_the_top(self, shared, sealed, actor, anonymous):
        seal.amend(actor, sealed.card, path="torques.0.value_nm", new=95, why="Misread the page.")
        html = opened(anonymous, shared[1]).json()["html"]
        assert "<b>95 N·m</b> instead of 90 N·m" in html
        assert html.index("Corrected since") < html.index("What was wrong")


class TestStaff:
    @pytest.mark.parametrize("days", [0, 367, 1.5, "30", True, None])
    def test_a_life_outside_the_band_is_refused(self, sealed, technician_client, days):
        answer = technician_client.post(f"/api/cards/{sealed.card_id}/links/", {"days": days}, format="json")
        assert answer.status_code == 400

    def test_a_card_that_is_not_sealed_has_no_link(self, ready_card, technician_client):
        answer = technician_client.post(f"/api/cards/{ready_card.pk}/links/", {}, format="json")
        assert answer.status_code in (400, 409)
        assert "not sealed" in answer.json()["problems"][0]["text"]

    def test_revoking_answers_the_card_and_shuts_the_door(self, shared, technician_client, anonymous):
        link, secret = shared
        answer = technician_client.post(f"/api/cards/{link.card_id}/links/{link.pk}/revoke/")
        assert answer.status_code == 200
        assert answer.json()["links"][0]["revoked_at"]
        assert opened(anonymous, secret).status_code == 404

    @pytest.mark.parametrize(
        ("method", "tail", "sister", "foreign"),
        [
            ("post", "seal/", 403, 404),
            ("post", "amendments/", 403, 404),
            ("post", "links/", 403, 404),
            ("post", "links/{link}/revoke/", 403, 404),
            ("get", "record/", 200, 404),
            ("get", "record.pdf", 200, 404),
        ],
    )
    def test_who_may_do_what(  # noqa: PLR0913, PLR0917
        self, shared, client_for, sister_technician, stranger, anonymous, method, tail, sister, foreign
    ):
        link = shared[0]
        path = f"/api/cards/{link.card_id}/{tail.format(link=link.pk)}"
        body = {"path": "complaint", "new": "x", "why": "y"} if "amend" in tail else {}
        for client, wanted in (
            (client_for(sister_technician), sister),
            (client_for(stranger), foreign),
            (anonymous, 401),
        ):
            answer = getattr(client, method)(path, body, format="json")
            assert answer.status_code == wanted, (tail, answer.content[:300])

    def test_sealing_and_amending_through_the_api(self, ready_card, technician_client):
        path = f"/api/cards/{ready_card.pk}"
        card = technician_client.post(f"{path}/seal/").json()
        assert card["step"] == "sealed"
        assert card["record"]["number"] == 1
        change = {"path": "torques.0.value_nm", "new": -9, "why": "Misread."}
        refused = technician_client.post(f"{path}/amendments/", change, format="json")
        assert refused.status_code == 400
        assert refused.json()["problems"][0]["field"] == "new"
        answer = technician_client.post(f"{path}/amendments/", {**change, "new": 95}, format="json")
        assert answer.json()["record"]["amendments"] == 1
        record = technician_client.get(f"{path}/record/").json()
        assert record["amendments"][0]["public"]["amendment"]["new"] == 95
        assert record["personal"]["public.customer.name"] == invented.OWNER

    def test_a_card_with_something_missing_answers_409_with_what(self, ready_card, technician_client):
        ready_card.sign_offs.all().delete()
        answer = technician_client.post(f"/api/cards/{ready_card.pk}/seal/")
        assert answer.status_code == 409
        assert {problem["code"] for problem in answer.json()["problems"]} == {"no_sign_off"}

    def test_a_draft_has_no_record(self, ready_card, technician_client):
        assert technician_client.get(f"/api/cards/{ready_card.pk}/record/").status_code == 404


def test_whoever_holds_a_printed_record_is_told_whether_it_is_valid(sealed, anonymous):
    answer = anonymous.post("/api/record/check/", {"number": "1", "head": sealed.head}, format="json")
    assert answer.status_code == 200
    assert answer.json()["title"] == "Valid"
    assert anonymous.post("/api/record/check/", {"number": "x", "head": "y"}, format="json").status_code == 400

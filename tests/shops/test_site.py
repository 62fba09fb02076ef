"""The service's own answers: pages, health, headers, and errors that never come as HTML under /api/."""

from __future__ import annotations

import json

import pytest
from django.core.management import call_command
from django.test import Client, override_settings
from django.urls import include, path
from rest_framework.test import APIClient

from shops.site import pages, urls
from shops.site.headers import PERMISSIONS
from tests.shops.cases import problem_codes


def crash(request):
    raise RuntimeError("a defect")


urlpatterns = [path("api/crash/", crash), path("crash/", crash), path("", include(urls))]
handler400, handler403 = pages.bad_request, pages.not_allowed
handler404, handler500 = pages.not_found, pages.failed


@pytest.fixture
def web():
    return Client(enforce_csrf_checks=True, raise_request_exception=False)


def test_the_client_and_the_records_shell_are_served_fresh(web):
    for address in ("/", "/record"):
        answer = web.get(address)
        assert answer.status_code == 200
        assert answer["Content-Type"].startswith("text/html")
        assert answer["Cache-Control"] == "no-store"
        assert b"<html" in answer.content
        assert web.post(address).status_code in {403, 405}


def test_health(web, db):
    answer = web.get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"ok")


@pytest.mark.parametrize(
    "address",
    ["/", "/record", "/worker.js", "/words/de.json", "/healthz", "/api/session/", "/api/nowhere/", "/static/icon.svg"],
)
def test_every_answer_carries_the_security_headers(web, db, address):
    """The directives are those of CSP Level 3 (W3C); nothing from elsewhere, nothing inline."""
    answer = web.get(address)
    policy = dict(part.strip().split(" ", 1) for part in answer["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["frame-ancestors"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == "'self'"
    assert "unsafe" not in answer["Content-Security-Policy"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert answer["Permissions-Policy"] == PERMISSIONS


@pytest.mark.parametrize("address", ["/api/session/", "/api/tools/", "/api/nowhere/", "/api/schema/"])
def test_no_api_answer_is_kept_by_a_cache(web, db, address):
    assert web.get(address)["Cache-Control"] == "no-store"


def test_an_address_that_leads_nowhere(web):
    answer = web.get("/api/nowhere/")
    assert answer.status_code == 404
    assert problem_codes(answer) == ["not_found"]
    assert web.get("/nowhere").status_code == 404


def test_an_address_without_its_last_slash_leads_nowhere(technician_client):
    answer = technician_client.get("/api/tools")
    assert answer.status_code == 404
    assert problem_codes(answer) == ["not_found"]


def test_the_clients_texts_in_german_and_in_no_language(web):
    answer = web.get("/words/de.json")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/json; charset=utf-8")
    assert json.loads(answer.content)["Sign in"] == "Anmelden"
    assert web.get("/words/de.json", headers={"if-none-match": answer["ETag"]}).status_code == 304
    assert web.get("/words/en.json").status_code == web.get("/words/..json").status_code == 404


@override_settings(ROOT_URLCONF=__name__)
def test_a_defect_answers_json_under_api(web):
    answer = web.get("/api/crash/")
    assert answer.status_code == 500
    assert problem_codes(answer) == ["failed"]
    assert b"RuntimeError" not in answer.content
    assert web.get("/crash/").status_code == 500


@override_settings(ROOT_URLCONF=__name__)
def test_a_missing_token_answers_json_under_api(web):
    answer = web.post("/api/crash/")
    assert answer.status_code == 403
    assert problem_codes(answer) == ["csrf"]


def test_a_foreign_host_name_answers_json_under_api(web):
    answer = web.get("/api/session/", headers={"host": "evil.example"})
    assert answer.status_code == 400
    assert problem_codes(answer) == ["bad_request"]


@pytest.mark.parametrize("kind", [
    "application/json", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/plain",
])
def test_an_overlarge_body_is_refused_not_a_failure(technician, kind):
    client = APIClient(raise_request_exception=False)
    client.force_login(technician)
    body = json.dumps({"name": "n" * 300_000})
    if kind.startswith("multipart"):
        body = f'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n{"n" * 300_000}\r\n--x--\r\n'
    answer = client.post("/api/tools/", body, content_type=kind)
    assert answer.status_code == (400 if "json" in kind else 415), answer.content
    assert problem_codes(answer)


def test_an_overlarge_form_is_refused_even_where_a_token_could_be_in_it(web, technician):
    web.force_login(technician)
    web.get("/api/session/")
    answer = web.post("/api/tools/", "a=" + "n" * 300_000, content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 415
    assert problem_codes(answer)


@override_settings(ROOT_URLCONF=__name__)
def test_an_overlarge_form_outside_drf_answers_json_under_api(web, db):
    web.get("/api/session/")
    answer = web.post("/api/crash/", "a=" + "n" * 300_000, content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 400
    assert problem_codes(answer) == ["bad_request"]


def test_a_wrong_method_answers_in_the_one_shape(technician_client):
    answer = technician_client.put("/api/tools/", {})
    assert answer.status_code == 405
    assert problem_codes(answer) == ["method_not_allowed"]


def test_the_schema_is_for_staff_and_is_json(technician_client):
    answer = technician_client.get("/api/schema/?format=json")
    assert answer.status_code == 200
    found = answer.json()
    assert found["openapi"].startswith("3.")
    change = found["paths"]["/api/tools/{id}/"]["patch"]
    assert {"400", "401", "403", "404", "412", "415", "428"} <= set(change["responses"])
    assert "If-Match" in [p["name"] for p in change["parameters"]]
    create = found["paths"]["/api/tools/"]["post"]
    assert "Idempotency-Key" in [p["name"] for p in create["parameters"]]


def test_the_schema_is_english_whoever_asks(technician_client, technician):
    """Else a developer's diff of it would depend on who fetched it."""
    english = technician_client.get("/api/schema/").json()
    technician.language = "de"
    technician.save()
    assert technician_client.get("/api/tools/")["Content-Language"] == "de"
    assert technician_client.get("/api/schema/").json() == english


def test_the_schema_is_valid_openapi_and_leaves_nothing_undescribed(tmp_path):
    """Validated against the OpenAPI 3.0 specification's own JSON Schema, which drf-spectacular carries."""
    call_command("spectacular", "--validate", "--fail-on-warn", "--format", "openapi-json",
                 "--file", str(tmp_path / "schema.json"))
    assert json.loads((tmp_path / "schema.json").read_text())["paths"]

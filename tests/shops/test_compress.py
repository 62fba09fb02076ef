"""Static files go out compressed; nothing that could hold a secret does."""

from __future__ import annotations

import gzip

import pytest
from django.conf import settings

APP = settings.ROOT / "frontend" / "js" / "app.js"


def body(response):
    return b"".join(response.streaming_content) if response.streaming else response.content


def test_a_file_goes_out_compressed_and_whole(client):
    answer = client.get("/static/js/app.js", headers={"accept-encoding": "gzip"})
    assert answer["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in answer["Vary"]
    packed = body(answer)
    assert len(packed) < APP.stat().st_size / 2
    assert gzip.decompress(packed) == APP.read_bytes()


def test_who_does_not_accept_it_gets_the_file_as_it_is(client):
    answer = client.get("/static/js/app.js")
    assert "Content-Encoding" not in answer
    assert body(answer) == APP.read_bytes()


def test_a_part_of_a_file_is_not_compressed(client):
    answer = client.get("/static/js/app.js", headers={"accept-encoding": "gzip", "range": "bytes=0-99"})
    assert (answer.status_code, "Content-Encoding" in answer) == (206, False)
    assert body(answer) == APP.read_bytes()[:100]


@pytest.mark.django_db
def test_the_api_is_not_compressed(client, technician_client):
    for answer in (
        client.get("/api/session/", headers={"accept-encoding": "gzip"}),
        technician_client.get("/api/units/", headers={"accept-encoding": "gzip"}),
    ):
        assert "Content-Encoding" not in answer

"""Which address a request comes from. That each proxy appends to X-Forwarded-For: RFC 7239, §7.4."""

from __future__ import annotations

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from shops.site.addresses import AddressMiddleware


def seen(settings, proxies, remote, forwarded=None):
    settings.PROXIES = proxies
    request = RequestFactory().get("/", REMOTE_ADDR=remote)
    if forwarded is not None:
        request.META["HTTP_X_FORWARDED_FOR"] = forwarded
    AddressMiddleware(lambda _: HttpResponse())(request)
    return request.META["REMOTE_ADDR"]


@pytest.mark.parametrize(("proxies", "remote", "forwarded", "address"), [
    (0, "192.0.2.1", None, "192.0.2.1"),
    (0, "192.0.2.1", "198.51.100.7", "192.0.2.1"),
    (1, "192.0.2.1", "198.51.100.7", "198.51.100.7"),
    (1, "192.0.2.1", "203.0.113.9, 198.51.100.7", "198.51.100.7"),
    (2, "192.0.2.1", "203.0.113.9,198.51.100.7", "203.0.113.9"),
    (2, "192.0.2.1", "198.51.100.7", ""),
    (1, "192.0.2.1", None, ""),
    (1, "192.0.2.1", "<script>", ""),
    (0, "", None, ""),
    (0, "fe80::1%eth0", None, "fe80::1"),
    (0, "2001:DB8::1", None, "2001:db8::1"),
])
def test_the_address_of_a_request(settings, proxies, remote, forwarded, address):
    assert seen(settings, proxies, remote, forwarded) == address


def test_a_change_from_an_unknown_address_is_still_made(technician_client, shop):
    body = {"shop": shop.pk, "kind": "scale", "name": "Axle scale", "serial": "S-1"}
    assert technician_client.post("/api/tools/", body, REMOTE_ADDR="").status_code == 201

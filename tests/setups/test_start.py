"""`manage.py start` brings up a whole service from nothing, says who can sign in, and ends cleanly."""

from __future__ import annotations

import http.cookiejar
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError
from django.db import connection

from setups.demo.people import BUSINESS
from setups.management.commands import start
from tests.factories import BusinessFactory

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 120


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def environment(folder):
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("COILBOOK_", "DATABASE_", "MIGRATE_"))
    }
    return kept | {
        "COILBOOK_DATA": str(folder),
        "PYTHONUNBUFFERED": "1",
        "DJANGO_SETTINGS_MODULE": "shops.site.settings",
    }


def command(*words):
    return [sys.executable, str(ROOT / "manage.py"), *words]


class Service:
    """A started service: its process, address and all that it has printed, kept in a file."""

    def __init__(self, folder, *words):
        self.port = free_port()
        self.printed = folder / f"printed-{self.port}"
        with self.printed.open("w") as out:
            self.process = subprocess.Popen(
                command("start", "--port", str(self.port), *words),
                cwd=folder, env=environment(folder / "data"), stdout=out, stderr=subprocess.STDOUT,
            )  # fmt: skip

    def url(self, path):
        return f"http://127.0.0.1:{self.port}{path}"

    def wait(self):
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            assert self.process.poll() is None, self.text()
            try:
                with urllib.request.urlopen(self.url("/healthz"), timeout=5) as answer:  # noqa: S310
                    return answer.read().decode()
            except (urllib.error.URLError, ConnectionError):
                time.sleep(0.2)
        raise AssertionError(self.text())

    def stop(self):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        return self.process.wait(timeout=30)

    def text(self):
        return self.printed.read_text()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("started")


@pytest.fixture(scope="module")
def service(folder):
    """Start once for this file, in an empty folder."""
    started = Service(folder)
    try:
        started.wait()
        yield started
    finally:
        started.stop()


class TestFromNothing:
    def test_it_is_well(self, service):
        assert service.wait() == "ok"

    def test_it_prints_its_address_and_who_signs_in(self, service):
        assert service.url("/") in service.text()
        for word in ("technician", "manager", "owner", "password", "Harbour workshop", "Hillside workshop"):
            assert word in service.text()

    def test_what_it_prints_signs_in(self, service):
        password = re.search(r"password (\S+)", service.text())[1]
        email = re.search(r"(\S+@\S+\.example) +technician", service.text())[1]
        cookies = http.cookiejar.CookieJar()
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(cookies))
        opener.open(service.url("/api/session/"), timeout=20)
        token = next(cookie.value for cookie in cookies if cookie.name == "csrftoken")
        request = urllib.request.Request(  # noqa: S310
            service.url("/api/session/"),
            json.dumps({"email": email, "password": password}).encode(),
            {"Content-Type": "application/json", "X-CSRFToken": token, "Referer": service.url("/")},
        )
        with opener.open(request, timeout=20) as answer:
            assert json.load(answer)["person"]["email"] == email

    def test_the_customers_link_it_prints_opens_a_record(self, service):
        secret = re.search(re.escape(service.url("/record#")) + r"(\S+)", service.text())[1]
        request = urllib.request.Request(  # noqa: S310
            service.url("/api/record/open/"),
            json.dumps({"secret": secret}).encode(),
            {"Content-Type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=20) as answer:  # noqa: S310
            assert "Minnow 300" in json.load(answer)["html"]

    def test_it_serves_the_page(self, service):
        with urllib.request.urlopen(service.url("/"), timeout=20) as answer:  # noqa: S310
            page = answer.read().decode()
        assert answer.headers.get_content_type() == "text/html"
        script = re.search(r'src="(/pack/[^"]+\.js)"', page)[1]
        with urllib.request.urlopen(service.url(script), timeout=20) as answer:  # noqa: S310
            assert answer.status == 200

    def test_a_second_one_on_the_same_port_says_so_in_one_sentence(self, service, folder):
        second = subprocess.run(
            command("start", "--port", str(service.port)), cwd=folder, env=environment(folder / "data"),
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
        assert second.returncode == 1
        assert f"Port {service.port} on 127.0.0.1 is in use" in second.stderr
        assert "Traceback" not in second.stderr

    def test_a_long_request_line_is_refused(self, service):
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(service.url("/?" + "x" * 9000), timeout=20)  # noqa: S310
        assert refused.value.code in (400, 414)

    def test_ctrl_c_ends_it_and_the_next_start_builds_nothing(self, service, folder):
        assert service.stop() == 0
        assert service.text().rstrip().endswith("Coilbook has stopped.")
        assert "Traceback" not in service.text()
        again = Service(folder)
        try:
            assert again.wait() == "ok"
            assert "database is empty" not in again.text()
            assert "technician" in again.text()
            assert "/record#" not in again.text()
        finally:
            assert again.stop() == 0


def test_an_empty_database_may_stay_empty(tmp_path):
    service = Service(tmp_path, "--no-demo")
    try:
        service.wait()
        assert "manage.py found" in service.text()
        assert ".example" not in service.text()
    finally:
        assert service.stop() == 0


class TestRefusing:
    def test_a_port_in_use(self):
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))
            taken.listen()
            with pytest.raises(CommandError, match="in use by another program"):
                start.check_free("127.0.0.1", taken.getsockname()[1])

    @pytest.mark.parametrize(
        ("host", "port", "said"),
        [
            ("127.0.0.1", 0, "no port"),
            ("127.0.0.1", 70000, "no port"),
            ("192.0.2.1", 8106, "not an address of this machine"),  # RFC 5737: never assigned
            ("no-such-host.invalid", 8106, "not an address of this machine"),  # RFC 2606, section 2
        ],
    )
    def test_an_address_that_cannot_be(self, host, port, said):
        with pytest.raises(CommandError, match=said):
            start.check_free(host, port)


class TestWarning:
    @pytest.fixture
    def said(self, db):
        def warn(host):
            out = StringIO()
            start.Command(stdout=out).warn(host)
            return out.getvalue()

        return warn

    @pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.3.2.1"])
    def test_the_machine_itself_needs_no_warning(self, said, host):
        assert "HTTPS" not in said(host)

    @pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "bench.example"])  # noqa: S104
    def test_others_without_https(self, said, host, settings):
        settings.HTTPS = False
        assert "HTTPS is off" in said(host)
        settings.HTTPS = True
        assert "HTTPS is off" not in said(host)

    def test_hosts_that_will_not_be_answered(self, said, monkeypatch):
        monkeypatch.delenv("COILBOOK_HOSTS", raising=False)
        assert "COILBOOK_HOSTS" in said("192.0.2.7")
        monkeypatch.setenv("COILBOOK_HOSTS", "bench.example")
        assert "COILBOOK_HOSTS" not in said("192.0.2.7")

    def test_the_demo_where_others_reach_it(self, said):
        assert "demo" not in said("192.0.2.7")
        BusinessFactory(name=BUSINESS)
        assert "demo" in said("192.0.2.7")

    def test_without_pango_it_names_the_packages_and_goes_on(self, said, monkeypatch):
        monkeypatch.setitem(sys.modules, "weasyprint", None)  # importing it raises ImportError
        text = said("127.0.0.1")
        for package in ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"):
            assert package in text


def test_sqlite_is_served_by_one_process(db):
    server = start.Server("127.0.0.1", 8106)
    assert (server.cfg.workers == 1) == (connection.vendor == "sqlite")
    assert server.cfg.threads > 1
    assert start.Server("::1", 8106).cfg.bind == ["[::1]:8106"]

"""`manage.py start`: bring the database up to date, fill an empty one with the demo, and serve."""

from __future__ import annotations

import errno
import ipaddress
import os
import socket
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection, connections
from django.utils import timezone
from gunicorn.app.base import BaseApplication  # type: ignore[import-untyped]

from setups.demo.builder import build
from setups.demo.people import BUSINESS, PASSWORD, sign_ins
from shops.models import Business
from shops.serving_role import OWNER

PANGO = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"


class Server(BaseApplication):
    """The production server, set up from here alone: no configuration file and no command line of its own."""

    def __init__(self, host: str, port: int) -> None:
        """Take the address to listen at."""
        self.host, self.port = host, port
        super().__init__()

    def load_config(self) -> None:
        """Set the limits. SQLite is served by one process; another database by several."""
        embedded = connection.vendor == "sqlite"
        chosen: dict[str, Any] = {
            "bind": f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}",
            "workers": 1 if embedded else max(2, min(8, os.cpu_count() or 2)),
            "worker_class": "gthread",
            "threads": 8 if embedded else 4,
            "timeout": 60,
            "graceful_timeout": 10,
            "keepalive": 5,
            "limit_request_line": 4094,
            "limit_request_fields": 60,
            "limit_request_field_size": 8190,
            "loglevel": "warning",
            "proc_name": "coilbook",
            "control_socket_disable": True,
        }
        for name, value in chosen.items():
            if (
                name in self.cfg.settings
            ):  # the control socket came with a later gunicorn than the oldest we run on
                self.cfg.set(name, value)

    def load(self) -> Any:
        """Return the WSGI application; called in each worker."""
        from shops.site.wsgi import application  # noqa: PLC0415 - begins to pack the client, in each worker

        return application


class Command(BaseCommand):
    """Serve Coilbook from this machine."""

    help = "Migrate, build the demo if the database is empty, and serve Coilbook until Ctrl-C."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the address to serve at and whether an empty database is filled."""
        parser.add_argument("--host", default="127.0.0.1", help="Address to listen at (default 127.0.0.1).")
        parser.add_argument("--port", type=int, default=8000, help="Port to listen at (default 8000).")
        parser.add_argument("--no-demo", action="store_true", help="Leave an empty database empty.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Do all that can fail before the address is printed, then serve."""
        host, port = options["host"], options["port"]
        serving_process = os.getpid()
        try:
            check_free(host, port)
            link_secret = self.prepare(demo=not options["no_demo"])
            self.warn(host)
            self.announce(host, port, link_secret)
            connections.close_all()  # a connection must not be shared with the workers forked next
            Server(host, port).run()
        except KeyboardInterrupt:
            self.say("Stopped before serving.")
        except SystemExit as end:
            if end.code or os.getpid() != serving_process:  # a worker, forked from here, ends this way too
                raise
            self.say("Coilbook has stopped.")

    def say(self, text: str = "") -> None:
        """Print a line at once, so that whoever reads our output through a pipe sees it before we serve."""
        self.stdout.write(text)
        self.stdout.flush()

    def prepare(self, *, demo: bool) -> str | None:
        """Bring the tables up to date and fill an empty database; return the secret of a new demo's link."""
        try:
            owner = OWNER if OWNER in settings.DATABASES else DEFAULT_DB_ALIAS
            call_command("migrate", database=owner, verbosity=0, interactive=False)
            empty = not Business.objects.exists()
        except DatabaseError as error:
            raise CommandError(f"The database cannot be used: {str(error).strip()}") from error
        if not (empty and demo):
            return None
        self.say("The database is empty: building the demo business. This takes a few seconds.")
        return build(timezone.now().date())

    def warn(self, host: str) -> None:
        """Say what will not work or is not safe, each in a sentence."""
        missing = pdf_problem()
        if missing:
            self.say(missing)
        if is_loopback(host):
            return
        if not settings.HTTPS:
            self.say(
                "Warning: others can reach this address and HTTPS is off, so passwords travel in the clear. "
                "Put a proxy that speaks HTTPS in front and set COILBOOK_HTTPS=1."
            )
        if "COILBOOK_HOSTS" not in os.environ:
            self.say(
                "Warning: COILBOOK_HOSTS is not set, so only requests to 127.0.0.1 and localhost are "
                "answered. Set it to the names by which the tablets reach this machine."
            )
        if Business.objects.filter(name=BUSINESS).exists():
            self.say("Warning: the demo's password is no secret; keep the demo to this machine.")

    def announce(self, host: str, port: int, link_secret: str | None) -> None:
        """Print where to look and, where the demo is, who can sign in."""
        shown = "localhost" if host in {"0.0.0.0", "::"} else f"[{host}]" if ":" in host else host  # noqa: S104
        address = f"http://{shown}:{port}"
        self.say(f"\nCoilbook is at {address}/  (Ctrl-C stops it)")
        if Business.objects.filter(name=BUSINESS).exists():
            self.say("\nDemo sign-ins, all with the password " + PASSWORD)
            self.say(sign_ins())
            if link_secret:
                self.say(f"\nA customer's page, shown this once: {address}/record#{link_secret}")
        elif not Business.objects.exists():
            self.say("No business is set up yet, so nobody can sign in: stop, and run manage.py found.")
        self.say()


def is_loopback(host: str) -> bool:
    """Say whether only this machine can reach `host`."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def check_free(host: str, port: int) -> None:
    """Raise CommandError, naming the cause, where `host` and `port` cannot be listened at."""
    if not 1 <= port <= 65535:
        raise CommandError(f"{port} is no port: give one from 1 to 65535.")
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except socket.gaierror:
        raise CommandError(f"{host!r} is not an address of this machine.") from None
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            raise CommandError(
                f"Port {port} on {host} is in use by another program: stop it, or choose another port, "
                f"such as --port {port + 1 if port < 65535 else 8000}."
            ) from None
        if error.errno == errno.EADDRNOTAVAIL:
            raise CommandError(f"{host!r} is not an address of this machine.") from None
        raise CommandError(f"Port {port} on {host} cannot be opened: {error.strerror}.") from None


def pdf_problem() -> str | None:
    """Return what to install where the PDF's text engine is missing, else None."""
    try:
        import weasyprint  # noqa: F401, PLC0415  # it loads Pango, which may not be there
    except (ImportError, OSError):
        return f"The PDF of a record needs Pango: apt-get install {PANGO}. Everything else works without it."
    return None

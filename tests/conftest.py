"""The cast of every test with a database, an API client for each of them, and what makes tests quick."""

from __future__ import annotations

import os
import time

import pytest
from django.core.cache import cache
from django.db import OperationalError, connection, connections, transaction
from django.test import override_settings
from django.utils import translation
from hypothesis import settings as hypothesis_settings
from rest_framework.test import APIClient

from setups.record import append_only as records
from shops import append_only as trail
from shops.models import Person
from tests.factories import BusinessFactory, PersonFactory, ShopFactory

# No deadline: the machines are noisy. The same examples in every run of continuous integration: what fails there
# must fail again when it is looked at.
hypothesis_settings.register_profile("house", deadline=None, derandomize=os.environ.get("CI") == "true")
hypothesis_settings.load_profile("house")


LONGEST = ("test_killed", "test_edits_together", "test_fuzz")
"""Files whose single tests take as long as hundreds of others: begun last, one process would work while others wait."""


def pytest_addoption(parser):
    parser.addoption(
        "--asks-database", action="store_true",
        help="only the tests that ask the database: what the second database can answer otherwise",
    )  # fmt: skip


def pytest_collection_modifyitems(config, items):
    """Leave out what cannot apply: a test of one database on the other, an inherited case of rows without it.

    Such a test is deselected, not skipped: a skip says that something is missing from the machine.
    """
    wanted = _asks_database if config.getoption("asks_database") else lambda item: True
    left_out = {item for item in items if not (_applies(item) and wanted(item))}
    config.hook.pytest_deselected(items=[*left_out])
    items[:] = [item for item in items if item not in left_out]
    items.sort(key=lambda item: item.path.stem not in LONGEST)


def _asks_database(item):
    """Return whether a test asks the database, through Django here or in processes that it starts."""
    marks = {mark.name for mark in item.iter_markers()}
    fixtures = {"db", "transactional_db", "live_server"} & set(item.fixturenames)
    return bool(fixtures or marks & {"django_db", "only_on", "own_database"})


def pytest_make_parametrize_id(val, argname):
    """Name a long text by its length: some are megabytes, and a test's name is sent about and printed."""
    return f"{argname}_of_{len(val)}" if isinstance(val, str | bytes) and len(val) > 200 else None


def _applies(item):
    databases = [mark.args for mark in item.iter_markers("only_on")]
    wanted = [pair for mark in item.iter_markers("where") for pair in mark.kwargs.items()]
    return all(connection.vendor in names for names in databases) and all(
        getattr(item.cls, name) == value for name, value in wanted
    )


def pytest_terminal_summary(terminalreporter):
    """Name what was skipped, and fail for it in continuous integration, where nothing may be missing."""
    skipped = terminalreporter.stats.get("skipped", [])
    if skipped and os.environ.get("CI") == "true":
        terminalreporter.section("skipped, which is a failure here")
        for report in skipped:
            terminalreporter.write_line(f"{report.nodeid}: {report.longrepr}")
        terminalreporter._session.exitstatus = pytest.ExitCode.TESTS_FAILED


QUICK_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def _quick_passwords(settings):
    """Hash passwords quickly: Argon2 is slow on purpose. A test of the hasher sets its own."""
    settings.PASSWORD_HASHERS = QUICK_HASHERS


@pytest.fixture(autouse=True)
def _no_address_is_slowed_down_yet():
    """Forget what other tests have tried: all come from one address."""
    cache.clear()


@pytest.fixture(autouse=True)
def _english_is_spoken_at_first():
    """Forget the language that a request before has left in this thread."""
    yield
    translation.deactivate()


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings, tmp_path_factory):
    """Keep SQLite's test database in a file: in memory, threads would share one transaction."""
    settings_dict = connections["default"].settings_dict
    if "sqlite3" in settings_dict["ENGINE"]:
        settings_dict["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "tests.sqlite3")


@pytest.fixture(autouse=True, scope="session")
def _what_is_append_only_can_be_emptied_between_tests():
    """Let a transactional test's clean-up empty the trail and the records, which triggers else refuse."""
    patched, operations = pytest.MonkeyPatch(), type(connection.ops)
    patched.setattr(operations, "execute_sql_flush", _without_triggers(operations.execute_sql_flush))
    yield
    patched.undo()


def _without_triggers(flush):
    def flushed(self, statements):
        trail.uninstall(self.connection)
        _run(self.connection, records.lower_guard)
        try:
            _patiently(flush, self, statements)
        finally:
            trail.install(self.connection)
            _run(self.connection, records.raise_guard)

    return flushed


def _patiently(flush, operations, statements):
    """Empty the tables; a live server that still answers a page's last request can hold them for a moment."""
    for _ in range(10):
        try:
            return flush(operations, statements)
        except OperationalError:
            time.sleep(0.5)
    return flush(operations, statements)


def _run(connection, statements):
    with connection.cursor() as cursor:
        for statement in statements(connection.vendor):
            cursor.execute(statement)


@pytest.fixture(scope="module")
def kept(request, django_db_setup, django_db_blocker):
    """Keep the rows that a module's fixtures make once, in a transaction around those of its tests.

    Each test's own changes are taken back to these rows, by a savepoint.
    """
    marks = [mark for item in request.session.items if item.path == request.path for mark in item.iter_markers()]
    assert not any(mark.kwargs.get("transaction") for mark in marks), "a transactional test needs a file without these"
    with django_db_blocker.unblock(), override_settings(PASSWORD_HASHERS=QUICK_HASHERS), transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture
def business(db):
    return BusinessFactory(name="Springwell")


@pytest.fixture
def shop(business):
    return ShopFactory(business=business, name="Harbour Yard", code="HY")


@pytest.fixture
def sister_shop(business):
    return ShopFactory(business=business, name="Mill Yard", code="MY")


@pytest.fixture
def other_shop(db):
    """Return a shop of another business."""
    return ShopFactory(business=BusinessFactory(name="Rowan Bench"), name="Rowan Street", code="RS")


@pytest.fixture
def technician(shop):
    return PersonFactory(shop=shop, name="Ansel Thorpe", email="ansel@springwell.example")


@pytest.fixture
def second_technician(shop):
    """Return the own shop's other technician, for the checks that one person cannot do alone."""
    return PersonFactory(shop=shop, name="Petra Lindqvar", email="petra@springwell.example")


@pytest.fixture
def sister_technician(sister_shop):
    return PersonFactory(shop=sister_shop, name="Bryn Oskelly", email="bryn@springwell.example")


@pytest.fixture
def manager(shop):
    return PersonFactory(
        shop=shop, name="Imke Daveney", email="imke@springwell.example", role=Person.Role.MANAGER
    )


@pytest.fixture
def owner(shop):
    return PersonFactory(
        shop=shop, name="Wren Halloran", email="wren@springwell.example", role=Person.Role.OWNER
    )


@pytest.fixture
def stranger(other_shop):
    """Return somebody of another business, with every power there."""
    return PersonFactory(
        shop=other_shop, name="Jory Vantongen", email="jory@rowan.example", role=Person.Role.OWNER
    )


@pytest.fixture
def client_for():
    """Return the maker of an API client that a person is signed in on."""

    def signed_in(person):
        client = APIClient()
        client.force_login(person)
        return client

    return signed_in


@pytest.fixture
def technician_client(client_for, technician):
    return client_for(technician)


@pytest.fixture
def second_technician_client(client_for, second_technician):
    return client_for(second_technician)


@pytest.fixture
def sister_technician_client(client_for, sister_technician):
    return client_for(sister_technician)


@pytest.fixture
def manager_client(client_for, manager):
    return client_for(manager)


@pytest.fixture
def owner_client(client_for, owner):
    return client_for(owner)


@pytest.fixture
def stranger_client(client_for, stranger):
    return client_for(stranger)


@pytest.fixture
def anonymous():
    """Return an API client that nobody is signed in on."""
    return APIClient()

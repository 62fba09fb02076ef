"""Who signs in: e-mail and password, throttled by django-axes, which stands first among the backends."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.backends import BaseBackend
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.translation import gettext_lazy

from calc.refusal import Problem
from shops.access import everywhere
from shops.models import Person

LOCKED = gettext_lazy("Too many wrong passwords: wait a quarter of an hour and sign in again.")
LOCKED_ADDRESS = gettext_lazy("Too many wrong passwords were typed at this address: wait an hour and sign in again.")
LOCKED_CODE = gettext_lazy("Too many wrong codes: wait a quarter of an hour and try again.")


def lock(text: Any) -> Problem:
    """Return the problem of one try too many, in the words of `text`."""
    return Problem("", "locked", str(text))


class PersonBackend(BaseBackend):
    """Signs a person in, and lets nobody stay who is no longer active."""

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, password: str | None = None, **_: Any
    ) -> Person | None:
        """Return the active person with this e-mail address and password, or None."""
        if username is None or password is None:
            return None
        try:
            person = Person.objects.get_by_natural_key(username)
        except Person.DoesNotExist:
            # As slow as a wrong password, so that the time taken does not tell who works here.
            Person().set_password(password)
            return None
        if person.check_password(password) and person.is_active:
            return person
        return None

    def get_user(self, user_id: int) -> Person | None:
        """Return the person of a session; None, which ends the session, once the person is inactive."""
        return (
            everywhere(Person, why="session")
            .filter(pk=user_id, is_active=True)
            .select_related("business", "shop")
            .first()
        )


class PinBackend(PersonBackend):
    """Keeps the person of a session that a PIN began. It signs nobody in: `shops.pins` looks at the PIN."""

    def authenticate(self, request: HttpRequest | None, **_: Any) -> None:  # type: ignore[override]
        """Know nobody by a password."""
        return


def locked(
    request: HttpRequest, response: HttpResponse | None = None, credentials: Any = None
) -> HttpResponse:
    """Answer a sign-in that django-axes has locked out."""
    return JsonResponse({"problems": [lock(LOCKED).as_dict()]}, status=429)

"""How every room's errors are answered: {"problems": […]}, a foreign row as a missing one."""

from __future__ import annotations

import math
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from rest_framework import exceptions, status
from rest_framework.response import Response

from calc.refusal import Problem
from calc.web.errors import problems_handler
from shops.refusals import Blocked, Forbidden

SECRETS = frozenset({"password", "current", "new", "secret", "pin", "second_factor"})


class PreconditionRequired(exceptions.APIException):
    """A change came without the version that its author has seen."""

    status_code = status.HTTP_428_PRECONDITION_REQUIRED
    default_code = "if_match"
    default_detail = gettext_lazy(
        'Say which version you change: send the header If-Match with it, as in If-Match: "3".'
    )


class KeyReused(exceptions.APIException):
    """An Idempotency-Key came again with another request."""

    status_code = status.HTTP_422_UNPROCESSABLE_ENTITY
    default_code = "key_reused"
    default_detail = gettext_lazy("This Idempotency-Key was used for another request; use a new one.")


class AnswerErased(exceptions.APIException):
    """A retry of what was done, whose answer was erased with a customer's personal data."""

    status_code = status.HTTP_410_GONE
    default_code = "answer_erased"
    default_detail = gettext_lazy(
        "This was done before; its answer was erased since. Open the page again to see what stands."
    )


def problems(code: str, text: str, field: str = "") -> dict[str, Any]:
    """Return an error's body with one problem."""
    return {"problems": [Problem(field, code, text).as_dict()]}


def answer(error: Exception, context: dict[str, Any]) -> Response | None:
    """Answer `error`; None leaves it to Django, which answers 500.

    Adds to `calc.web.errors.problems_handler` what only shops knows: who is not signed in, refusals that are
    not about a value, and secrets, which no answer repeats.
    """
    response = problems_handler(error, context)
    if response is None:
        return None
    if isinstance(error, exceptions.NotAuthenticated | exceptions.AuthenticationFailed):
        response.data = problems("sign_in", _("Sign in first."))
    elif isinstance(error, exceptions.Throttled):
        seconds: float | None = getattr(error, "wait", None)  # not in the stubs
        count = math.ceil(seconds or 0)
        wait = ngettext("{n} second", "{n} seconds", count).format(n=count) if count else _("a minute")
        text = _("Too many tries from this address: wait {wait} and try again.").format(wait=wait)
        response.data = problems("too_many", text)
    elif isinstance(error, Forbidden):
        response.status_code = status.HTTP_403_FORBIDDEN
    elif isinstance(error, Blocked):
        response.status_code = status.HTTP_409_CONFLICT
    for problem in response.data["problems"]:
        if problem["field"].rpartition(".")[2] in SECRETS:
            problem["value"] = None
    return response

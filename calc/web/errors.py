"""One shape for every refusal of the API: {"problems": [{"field", "code", "text", "value", "unit", "low",
"high"}]}."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django.http import Http404
from rest_framework import exceptions, status
from rest_framework.response import Response
from rest_framework.views import exception_handler, set_rollback

from calc.refusal import Problem, Refusal
from calc.words import say

_CODES = {
    "permission_denied": "not_allowed",
    "not_authenticated": "sign_in",
    "authentication_failed": "sign_in",
}
"""DRF's own codes that we word otherwise; all others are passed on."""


def problems_handler(error: Exception, context: Mapping[str, Any]) -> Response | None:
    """Answer an exception raised in a view in the problems shape; None lets Django report a defect of ours.

    `calc.refusal.Refusal` and DRF's ValidationError answer 400 with every problem found; all others keep
    the status and headers that DRF gives them, with one problem. Settings name this as REST_FRAMEWORK's
    EXCEPTION_HANDLER.
    """
    if isinstance(error, Refusal):
        set_rollback()
        return _answer([problem.as_dict() for problem in error.problems])
    response = exception_handler(error, dict(context))
    if response is None:
        return None
    if isinstance(error, exceptions.APIException) and not isinstance(error.detail, str):
        problems = list(flatten(error.detail, _sent(context)))
    else:
        problems = [_single(error)]
    response.data = {"problems": [problem.as_dict() for problem in problems]}
    response.content_type = "application/json"
    return response


def _answer(problems: list[dict[str, Any]]) -> Response:
    return Response({"problems": problems}, status=status.HTTP_400_BAD_REQUEST, content_type="application/json")


def _single(error: Exception) -> Problem:
    """Return the one problem of an exception that is about the request as a whole.

    Every 404 reads the same: what another business owns and what does not exist are not told apart.
    """
    if isinstance(error, Http404 | exceptions.NotFound):
        return Problem("", "not_found", say("There is nothing here that you may see."))
    if not isinstance(error, exceptions.APIException):
        return Problem("", "not_allowed", say("You may not do this."))
    code = getattr(error.detail, "code", None) or "error"
    return Problem("", _CODES.get(code, code), str(error.detail))


def flatten(detail: Any, sent: Any = None, path: str = "") -> Iterator[Problem]:
    """Yield a problem for every leaf of a DRF ValidationError's nested detail.

    `path` is the dotted path so far, `sent` what was sent there: a plain value is repeated in the problem.

    >>> from rest_framework.exceptions import ErrorDetail
    >>> detail = {"legs": [{}, {"preload_mm": [ErrorDetail("No.", "bad")]}]}
    >>> [(p.field, p.code, p.value) for p in flatten(detail, {"legs": [{}, {"preload_mm": "x"}]})]
    [('legs.1.preload_mm', 'bad', 'x')]
    """
    if isinstance(detail, Mapping):
        for key, below in detail.items():
            step = "" if key == "non_field_errors" else str(key)
            yield from flatten(below, _below(sent, key), f"{path}.{step}".strip("."))
    elif isinstance(detail, list | tuple):
        for index, below in enumerate(detail):
            if isinstance(below, Mapping | list | tuple):
                yield from flatten(below, _below(sent, index), f"{path}.{index}".strip("."))
            else:
                yield from flatten(below, sent, path)
    else:
        value = sent if isinstance(sent, str | int | float | bool) else None
        text = value[:200] if isinstance(value, str) else value
        yield Problem(path, getattr(detail, "code", None) or "invalid", str(detail), text)


def _below(sent: Any, key: Any) -> Any:
    """Return what was sent one step further down, None where there is nothing."""
    if isinstance(sent, Mapping):
        return sent.get(key)
    if isinstance(sent, list) and isinstance(key, int | str) and str(key).isdigit() and int(key) < len(sent):
        return sent[int(key)]
    return None


def _sent(context: Mapping[str, Any]) -> Any:
    """Return the parsed body of the request that failed, None where it could not be parsed."""
    request = context.get("request")
    try:
        return getattr(request, "data", None)
    except exceptions.APIException:
        return None

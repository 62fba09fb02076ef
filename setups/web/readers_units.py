"""What the API says to a person is said in that person's units: refusals, and what the stateless calculations tell."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpRequest, HttpResponseBase

from calc.bands import exchanged
from setups.figures import as_read, foreign, in_readers_units
from shops.language import here
from shops.models import Person

FILES = "/api/lists/"
"""Where files are taken in: their figures stand in the units of their headings, whoever brings them."""


class ReadersUnits:
    """Retells sentences only: numbers are metric in every answer, and so is what was typed or sealed."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer `request`, guessing at no slip from figures that its person has not typed."""
        person = _reader(request)
        if person is None:
            return self.get_response(request)
        with exchanged(foreign(person.units)):
            return self.get_response(request)

    def process_template_response(self, request: HttpRequest, response: Any) -> Any:
        """Retell an answer that has data and is not written out yet."""
        person, data = _reader(request), getattr(response, "data", None)
        if person is None or not isinstance(data, Mapping):
            return response
        with as_read(here(), person.units):
            if request.path_info.startswith("/api/calc/"):
                response.data = in_readers_units(data)
            elif "problems" in data:
                response.data = {**data, "problems": in_readers_units(data["problems"])}
        return response


def _reader(request: HttpRequest) -> Person | None:
    """Return the person whose units count; None where nobody is signed in, or nobody's units are meant."""
    if not request.path_info.startswith("/api/") or request.path_info.startswith(FILES):
        return None
    return request.user if isinstance(request.user, Person) else None

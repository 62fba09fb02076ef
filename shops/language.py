"""Which language somebody is spoken to in, and how sentences find their translation.

Before anybody is known it is the browser's (Django's LocaleMiddleware). Who is signed in has chosen one, or is spoken
to in the shop's; what leaves a shop for a customer is in the shop's own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.utils import formats, translation

from calc import words

if TYPE_CHECKING:
    from shops.models import Person


def choices() -> list[tuple[str, str]]:
    """Return the languages that there are: code, and the name that each gives itself."""
    return list(settings.LANGUAGES)


def language_of(person: Person) -> str:
    """Return the code of the language that `person` is spoken to in."""
    return person.language or person.shop.language


def speak_to(person: Person) -> None:
    """Speak the language of `person` for the rest of this request."""
    translation.activate(language_of(person))


def here() -> str:
    """Return the code of the language that is spoken now."""
    return translation.get_language() or settings.LANGUAGE_CODE


def signs() -> tuple[str, str]:
    """Return the decimal sign and the sign between thousands of the language that is spoken now."""
    return (",", ".") if formats.get_format("DECIMAL_SEPARATOR") == "," else (".", ",")


def listen() -> None:
    """Let calc say its sentences in the language that is spoken when it says them."""
    words.speak_through(translation.gettext, translation.ngettext, signs)

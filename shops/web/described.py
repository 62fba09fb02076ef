"""Where the API describes itself: in English, for developers, whoever is signed in."""

from __future__ import annotations

from typing import Any

from django.utils import translation
from drf_spectacular.views import SpectacularJSONAPIView
from rest_framework.request import Request


class Described(SpectacularJSONAPIView):
    """The OpenAPI description; the labels of its choices are texts for people elsewhere, and would be translated."""

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Let the person in, and speak English from here on, as `speak_to` speaks the person's language."""
        super().initial(request, *args, **kwargs)
        translation.activate("en")

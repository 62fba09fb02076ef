"""The OpenAPI description of what every operation has in common: its headers and its refusals."""

from __future__ import annotations

from typing import Any

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter
from rest_framework.permissions import AllowAny

from shops.web.base import RowsView
from shops.web.serializers import ChangedMeanwhileAnswer, ProblemsAnswer

_IF_MATCH = OpenApiParameter(
    "If-Match", str, OpenApiParameter.HEADER, required=True, pattern='^"[0-9]{1,9}"$',
    description='The version that was read, as in "3".',
)
_KEY = OpenApiParameter(
    "Idempotency-Key", str, OpenApiParameter.HEADER, pattern="^[!-~]{1,80}$",
    description="Chosen by the client; a retry with the same key is answered as before and done once.",
)
_WHY = {
    "400": "A value, or the request itself, is not accepted.",
    "401": "Nobody is signed in.",
    "403": "The person may not do this.",
    "404": "There is no such row that the person may see.",
    "409": "What stands now does not allow it.",
    "412": "Somebody else has changed the row meanwhile.",
    "413": "What was sent is too large.",
    "415": "The body is not JSON.",
    "422": "The Idempotency-Key was used for another request.",
    "428": "The If-Match header is missing.",
    "429": "Too many tries from this address.",
}


class Schema(AutoSchema):
    """Adds the version and retry headers of `RowsView`, and the refusals in the one shape that they all have.

    A view whose change names a version in another way lists the action in `versionless`.
    """

    def get_override_parameters(self) -> list[Any]:
        """Return the headers of the operation."""
        declared = list(super().get_override_parameters())
        if not isinstance(self.view, RowsView):
            return declared
        if self._needs_version():
            declared.append(_IF_MATCH)
        if self.method == "POST" and self.view.kept(self.view.action):
            declared.append(_KEY)
        return declared

    def get_operation(self, *args: Any, **kwargs: Any) -> dict[str, Any] | None:
        """Return the operation with its refusals added."""
        operation = super().get_operation(*args, **kwargs)
        if operation is not None:
            for code in self._refusals():
                operation["responses"].setdefault(code, self._refusal(code))
        return operation

    def _needs_version(self) -> bool:
        view = self.view
        if not isinstance(view, RowsView) or view.action in view.versionless:
            return False
        return self.method in {"PATCH", "PUT", "DELETE"}

    def _refusals(self) -> list[str]:
        """Return what every operation of this kind may answer; a new route is covered without a word of its own."""
        changes, public = self.method not in {"GET", "HEAD"}, self._is_public()
        codes = ["400"]
        if not public:
            codes += ["401", "403", "404"]
        elif "{" in self.path:
            codes.append("404")
        if public and changes:
            codes += ["403", "429"]  # no token, too many tries
        if self.method in {"POST", "PUT", "PATCH"}:
            codes += ["413", "415"]
        if isinstance(self.view, RowsView) and changes:
            codes += ["409", "412"]
            codes.append("422" if self.method == "POST" else "428")
        return codes

    def _is_public(self) -> bool:
        return AllowAny in getattr(self.view, "permission_classes", ())

    def _refusal(self, code: str) -> dict[str, Any]:
        shape = ChangedMeanwhileAnswer if code == "412" else ProblemsAnswer
        reference = self.resolve_serializer(shape, "response").ref
        return {"description": _WHY[code], "content": {"application/json": {"schema": reference}}}

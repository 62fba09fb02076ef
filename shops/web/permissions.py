"""Who may call what: nothing is allowed that is not declared."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rest_framework.exceptions import PermissionDenied
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from shops import hands
from shops.models import Person

TECHNICIAN, MANAGER, OWNER = Person.Role.TECHNICIAN, Person.Role.MANAGER, Person.Role.OWNER
EVERYBODY = frozenset({TECHNICIAN, MANAGER, OWNER})
MANAGERS = frozenset({MANAGER, OWNER})
OWNERS = frozenset({OWNER})


class Undeclared(BasePermission):
    """The permission of a view that has declared none: refuses everybody."""

    message = "Nobody has declared who may do this, so nobody may."

    def has_permission(self, request: Request, view: Any) -> bool:
        """Refuse."""
        return False


class DeclaredRoles(BasePermission):
    """Allows an action to the roles that the view's `roles` names for it; one not named there refuses."""

    message = gettext_lazy("Your role does not allow this.")

    def has_permission(self, request: Request, view: Any) -> bool:
        """Tell whether the signed-in person's role is declared for the action."""
        person = request.user
        if not isinstance(person, Person) or not person.is_active:
            return False
        if person.owes_second_factor:
            text = _("A second factor is asked of your role here: turn it on under your own account first.")
            raise PermissionDenied(text, "second_factor_due")
        if view.action is None:
            return True  # no such method here: the view goes on to answer 405
        return person.role in view.roles.get(view.action, frozenset())


class SignedIn(BasePermission):
    """Allows everybody who works in the business, whatever the role."""

    def has_permission(self, request: Request, view: Any) -> bool:
        """Tell whether somebody is signed in."""
        return isinstance(request.user, Person) and request.user.is_active


class FullSignIn(BasePermission):
    """Allows what must not rest on a PIN only after the full sign-in; the client asks for it and tries again.

    A set of rows names such actions in its `full`; any other view that declares this needs it for everything.
    """

    code = "full_sign_in"
    message = gettext_lazy("This needs the full sign-in: type your password, then it goes on.")

    def has_permission(self, request: Request, view: Any) -> bool:
        """Tell whether the action needs no full sign-in, or the session counts as one."""
        actions = getattr(view, "full", None)
        if actions is not None and view.action not in actions:
            return True
        return hands.is_full(request._request.session)

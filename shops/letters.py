"""What the mails say, in the reader's language: a subject and a plain text each."""

from __future__ import annotations

from django.utils import translation
from django.utils.translation import gettext as _

from shops.keys import Invitation
from shops.language import language_of
from shops.models import Person


def invitation(offered: Invitation, address: str) -> tuple[str, str]:
    """Return the mail that offers a place in a shop, in the shop's language; `address` opens it."""
    with translation.override(offered.shop.language):
        return _invitation(offered, address)


def _invitation(offered: Invitation, address: str) -> tuple[str, str]:
    text = _(
        "{person} invites you to work with Coilbook at {shop}, {business}, as {role}.\n\n{address}\n\n"
        "The link opens once, until a week from now. If you do not know what this is, ignore it.\n"
    ).format(
        person=offered.made_by.name,
        shop=offered.shop.name,
        business=offered.shop.business.name,
        role=Person.Role(offered.role).label,
        address=address,
    )
    return _("An invitation to Coilbook"), text


def new_password(person: Person, address: str) -> tuple[str, str]:
    """Return the mail to whoever forgot the password; `address` leads to a new one."""
    with translation.override(language_of(person)):
        text = _(
            "Somebody, you perhaps, asked for a new password for Coilbook.\n\n{address}\n\n"
            "The link opens once, within an hour. If it was not you, ignore it: your password stays as it is.\n"
        )
        return _("A new password for Coilbook"), text.format(address=address)

"""Whose hands a session is in: how its person signed in, how long that counts as a full sign-in, when it lapses.

A *full sign-in* is the password, and the second factor of whoever has one. A session that began with one stays full
while its person works; a session that began with a PIN is never full by itself. Either becomes full for ten minutes
when its person confirms the password. A session on an enrolled tablet ends once nobody has used it for
`settings.IDLE_S`, or the tablet is revoked; anywhere else it only stops being full then.
"""

from __future__ import annotations

import time
from typing import Any

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, SESSION_KEY
from django.contrib.auth.signals import user_logged_in
from django.contrib.sessions.backends.base import SessionBase, UpdateError
from django.dispatch import receiver
from django.http import HttpRequest

from shops import tablets

FULL_S = 600
"""How long a confirmed password counts, in seconds."""
BY_PASSWORD = "shops.sign_in.PersonBackend"  # noqa: S105  # a backend's name
_NOTED_EVERY_S = 15
_ON_THEIR_WAY_S = 10

# What a session keeps: when it began and was last used (seconds since 1970), until when it is full (None: as long
# as it is used), the enrolled tablet it is on, and when a key that was replaced ends.
_BEGAN, _SEEN, _FULL_UNTIL, _TABLET = "hands_began", "hands_seen", "hands_full_until", "hands_tablet"
_ENDS = "hands_ends"


@receiver(user_logged_in, dispatch_uid="shops.hands")
def _begin(request: HttpRequest, **_: Any) -> None:
    session, now = request.session, int(time.time())
    session[_BEGAN] = session[_SEEN] = now
    session.pop(_TABLET, None)
    # Only the password's own backend makes a session full; whatever else signs somebody in does not.
    session[_FULL_UNTIL] = None if session[BACKEND_SESSION_KEY] == BY_PASSWORD else 0


def is_full(session: SessionBase) -> bool:
    """Tell whether the session counts as a full sign-in now."""
    until = session.get(_FULL_UNTIL, 0)
    return SESSION_KEY in session and (until is None or time.time() < until)


def confirm(session: SessionBase) -> None:
    """Let the session count as a full sign-in for `FULL_S`: its person has just confirmed the password.

    It goes on under a new key. The old key, which somebody may have seen, is never full, and is good for a moment
    only: for the requests that were on their way when the key changed.
    """
    until = session.get(_FULL_UNTIL, 0)
    session[_FULL_UNTIL] = 0
    session[_ENDS] = int(time.time()) + _ON_THEIR_WAY_S
    session.save()
    session.create()
    del session[_ENDS]
    session[_FULL_UNTIL] = until if until is None else int(time.time()) + FULL_S


def put_on_tablet(session: SessionBase, tablet_id: int) -> None:
    """Note that the session is on an enrolled tablet, and so ends when nobody uses it."""
    session[_TABLET] = tablet_id


def tablet_of(session: SessionBase) -> int | None:
    """Return the id of the enrolled tablet that the session is on, None elsewhere."""
    found: int | None = session.get(_TABLET)
    return found


def use(session: SessionBase, token: str) -> None:
    """Note that the session is used now; end it, or its being full, if that comes too late.

    `token` is what the device shows of itself: a tablet's session is good on that tablet alone.
    """
    if SESSION_KEY not in session:
        return
    now = int(time.time())
    unused = now - session.get(_SEEN, 0)
    too_old = now - session.get(_BEGAN, 0) > settings.SESSION_COOKIE_AGE or now > session.get(_ENDS, now)
    tablet = tablet_of(session)
    if too_old or (tablet is not None and (unused > settings.IDLE_S or not tablets.is_this(tablet, token))):
        session.flush()
        return
    if unused > settings.IDLE_S:
        session[_FULL_UNTIL] = 0
    elif unused < _NOTED_EVERY_S:
        return
    session[_SEEN] = now
    try:
        # At once, not with the answer: another request may meanwhile renew the session, which this must not undo.
        session.save()
        session.modified = False
    except UpdateError:
        session.flush()

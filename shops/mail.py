"""Mail that goes out beside the answer: neither its failing nor its time shows to whoever asked."""

from __future__ import annotations

import logging
import threading

from django.core.mail import send_mail
from django.db import transaction

log = logging.getLogger(__name__)


def post(to: str, subject: str, text: str) -> None:
    """Send a plain text once the transaction in hand has held; a failure is logged, without the text."""
    transaction.on_commit(lambda: threading.Thread(target=_send, args=(to, subject, text), name="mail").start())


def _send(to: str, subject: str, text: str) -> None:
    try:
        send_mail(subject, text, None, [to])
    except Exception as error:  # whatever the mail server does, the service goes on
        log.error("A mail could not be sent (%s): %s", type(error).__name__, subject)

"""A POST retried with its Idempotency-Key is answered as before and changes nothing a second time."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext as _
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from shops.access import everywhere, rows
from shops.models import IdempotentReply, Person
from shops.refusals import wrong
from shops.web.errors import AnswerErased, KeyReused

KEPT = timedelta(days=7)
LONGEST_KEY = 80


def once(request: Request, person: Person, do: Callable[[], Response]) -> Response:
    """Answer with `do()`, or, when the request's Idempotency-Key was seen before, with the answer given then.

    The reply is kept in the transaction of the change itself: there is never one without the other. Without
    the header this is `do()` in a transaction. A refused request keeps no reply.
    """
    key = request.headers.get("Idempotency-Key")
    if key is None:
        with transaction.atomic():
            return do()
    if not 1 <= len(key) <= LONGEST_KEY or not key.isascii() or not key.isprintable():
        text = _("An Idempotency-Key has 1 to {most} printable ASCII characters.").format(most=LONGEST_KEY)
        raise wrong("Idempotency-Key", "bad_key", text)
    digest = _digest(request)
    with transaction.atomic():
        everywhere(IdempotentReply, why="upkeep").filter(created_at__lt=timezone.now() - KEPT).delete()
        try:
            # The key is taken before the change: a second request with it waits here for the first.
            with transaction.atomic():
                reply = IdempotentReply.objects.create(
                    person=person, key=key, request_digest=digest, status=0, body={}
                )
        except IntegrityError:
            return _again(rows(IdempotentReply, person).get(person=person, key=key), digest)
        response = do()
        reply.status = response.status_code
        reply.body = json.loads(JSONRenderer().render(response.data))
        reply.save(update_fields=["status", "body"])
        return response


def _again(reply: IdempotentReply, digest: str) -> Response:
    if not constant_time_compare(reply.request_digest, digest):
        raise KeyReused
    if not reply.status:
        raise AnswerErased
    body: Any = reply.body
    version = body.get("version") if isinstance(body, dict) else None
    return Response(body, reply.status, headers=None if version is None else {"ETag": f'"{version}"'})


def _digest(request: Request) -> str:
    # Keyed with the installation's secret: a body may hold a password, which a plain digest would betray.
    text = json.dumps([request.method, request.path, request.data], sort_keys=True)
    return salted_hmac("shops.web.idempotency", text, algorithm="sha256").hexdigest()

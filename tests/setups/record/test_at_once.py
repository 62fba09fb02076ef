"""What several ask of one record, or of one chain, in the same moment."""

from __future__ import annotations

import threading

import pytest
from django.db import connection

from setups.models import SealedRecord
from setups.record import pdf, seal
from setups.record.verify import verify_shop

pytestmark = pytest.mark.django_db(transaction=True)
ADDRESS = "https://shop.example/record"


def test_two_seals_at_once_do_not_fork_the_chain(make_ready_card, actor, shop):
    cards = [make_ready_card() for _ in range(4)]
    together = threading.Barrier(len(cards))

    def work(card):
        together.wait()
        seal.seal(actor, card)
        connection.close()

    threads = [threading.Thread(target=work, args=(card,)) for card in cards]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert verify_shop(shop).records == len(cards)
    assert verify_shop(shop).failure is None


def test_first_requests_at_once_are_all_answered_with_the_one_that_was_stored(ready_card, actor, monkeypatch):
    """Were the layout to differ from one rendering to the next, still only one of them is ever given out."""
    sealed = seal.seal(actor, ready_card)
    together, rendered = threading.Barrier(4), iter(range(4))

    def render(_sealed, _address):
        together.wait(20)  # all have seen that none is stored
        return b"%PDF-" + bytes([next(rendered)])

    monkeypatch.setattr(pdf, "render", render)
    answers = []

    def ask():
        answers.append(pdf.pdf_of(SealedRecord.objects.filter(pk=sealed.pk).declare_scope().get(), ADDRESS))
        connection.close()

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 4
    assert set(answers) == {bytes(sealed.pdf.content)}

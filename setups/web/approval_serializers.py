"""What the API takes and answers of overrides."""

from __future__ import annotations

from calc.web.fields import StrictSerializer, Text
from setups.verbs.overriding import LONGEST_REASON


class OverrideBody(StrictSerializer):
    """What is overridden, as the card's blockers name it, and why."""

    code = Text(max_length=40)
    about = Text(max_length=120, allow_blank=True)
    reason = Text(max_length=LONGEST_REASON, help_text="Stays with the record; name no customer.")

"""The Django application of the job: what it hooks up when it starts."""

from __future__ import annotations

from django.apps import AppConfig
from django.db.models.signals import post_save


class SetupsConfig(AppConfig):
    """Customers, bikes, job cards and records."""

    name = "setups"

    def ready(self) -> None:
        """See to it that every new business starts with the usual kinds of bike, which shops knows nothing
        of.
        """
        from setups.verbs.kinds import start_kinds  # noqa: PLC0415  # models load after the application
        from shops.models import Business  # noqa: PLC0415

        def founded(
            sender: type[Business], instance: Business, created: bool, raw: bool = False, **rest: object
        ) -> None:
            if created and not raw:
                start_kinds(instance)

        post_save.connect(founded, sender=Business, weak=False, dispatch_uid="setups.usual_kinds")

"""The Django application of the job: what it hooks up when it starts."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_delete, post_save


class SetupsConfig(AppConfig):
    """Customers, bikes, job cards and records."""

    name = "setups"

    def ready(self) -> None:
        """See to it that every new business starts with the usual kinds of bike, which shops knows nothing
        of, and that whatever is saved can be found.
        """
        from setups import search  # noqa: PLC0415  # models load after the application
        from setups.models import JobCard, Rider  # noqa: PLC0415
        from setups.verbs.kinds import start_kinds  # noqa: PLC0415
        from shops.models import Business  # noqa: PLC0415

        def founded(
            sender: type[Business], instance: Business, created: bool, raw: bool = False, **rest: object
        ) -> None:
            if created and not raw:
                start_kinds(instance)

        post_save.connect(founded, sender=Business, weak=False, dispatch_uid="setups.usual_kinds")

        def saved(sender: type, instance: Any, created: bool = False, **rest: object) -> None:
            if sender is Rider:
                search.keep_words(instance.customer)
            elif sender is not JobCard or instance.loose:
                search.keep_words(instance)

        def deleted(sender: type, instance: Any, **rest: object) -> None:
            search.forget_words(instance)

        for model in search.KINDS:
            post_save.connect(saved, sender=model, weak=False, dispatch_uid=f"setups.found.{model.__name__}")
            post_delete.connect(deleted, sender=model, weak=False, dispatch_uid=f"setups.lost.{model.__name__}")
        post_save.connect(saved, sender=Rider, weak=False, dispatch_uid="setups.found.Rider")

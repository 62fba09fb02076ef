"""The app of businesses, shops and people."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_migrate

from shops import language, serving_role
from shops.site import compiled


class ShopsConfig(AppConfig):
    """Sees to the serving role's rights after every migration."""

    name = "shops"

    def ready(self) -> None:
        """Listen for the end of migrations, and for every sign-in, from the first one on; have the words ready."""
        import_module("shops.hands")
        compiled.make()
        language.listen()
        post_migrate.connect(serving_role.after_migrate, dispatch_uid="shops.serving_role")

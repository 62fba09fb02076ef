"""`manage.py words`: bring the catalogues up to date with what the source says."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from shops.site import collect, compiled


class Command(BaseCommand):
    """Keeps the catalogues that translators edit."""

    help = "Collect every text that people see into shops/locale, keep the translations, and list what lacks one."

    def handle(self, *args: Any, **options: Any) -> None:
        """Do so for each language and domain."""
        for language in compiled.translated():
            for domain in collect.DOMAINS:
                many, missing = collect.bring_up_to_date(domain, language)
                self.stdout.write(f"{language} {domain}: {many} texts, {len(missing)} without translation")
                for text in missing:
                    self.stdout.write(f"  {text}")
        compiled.make()

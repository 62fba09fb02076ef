#!/usr/bin/env python
"""Coilbook's commands: `python manage.py start` runs the service, `python manage.py help` lists the rest."""

import os
import sys


def main() -> None:
    """Hand the command line to Django."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shops.site.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()

"""manage.py restore: put a checked backup in the place of the database."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from production.backups import restore
from production.errors import ProductionError


class Command(BaseCommand):
    help = (
        "Checks a backup and puts it in the place of the database; the present one is kept beside"
        " it. Stop the site first."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a file made by 'manage.py backup'")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            kept = restore(options["file"])
        except ProductionError as error:
            raise CommandError(str(error)) from error
        call_command("migrate", verbosity=0, interactive=False)
        self.stdout.write(f"{options['file']} is restored; what was there before is in {kept}.")

"""manage.py backup: a consistent copy of the database while the site runs."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from production.backups import back_up
from production.errors import ProductionError


class Command(BaseCommand):
    help = "Writes a consistent, checked copy of the database to FILE; the site may go on running."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a file that is not there yet")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            size = back_up(options["file"])
        except ProductionError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{options['file']}: {size / 1024:.0f} kB, checked.")

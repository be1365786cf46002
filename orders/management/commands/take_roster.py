"""take_roster TEAM_ORDER FILE [--change] [--dry-run]: a roster into an order, all or nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from orders.errors import OrderError, RosterError
from orders.models import TeamOrder
from orders.roster_file import read_table
from orders.roster_store import Differing, take_roster


class Command(BaseCommand):
    help = (
        "Reads a CSV or XLSX roster (member, size, colorway, name_on_jacket, note, "
        "block:<block>) into a team order, all or nothing. Rows that the order has already change "
        "nothing; a row with a member alone is a name that is expected to choose."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("team_order", metavar="TEAM_ORDER", help="code of the team order")
        parser.add_argument("file", metavar="FILE", type=Path, help="a CSV or XLSX file")
        parser.add_argument("--dry-run", action="store_true", help="check only, store nothing")
        parser.add_argument(
            "--change", action="store_true", help="also change jackets that differ from their row"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        team_order, dry_run = _team_order(options["team_order"]), options["dry_run"]
        try:
            with path.open("rb") as file:
                table = read_table(file, path.name)
            taken = take_roster(
                team_order,
                table,
                path.name,
                by=None,
                differing=Differing.CHANGE if options["change"] else Differing.REFUSE,
                dry_run=dry_run,
            )
        except OSError as error:
            raise CommandError(f"{path} cannot be read: {error.strerror}.") from error
        except RosterError as error:
            raise CommandError("\n".join([str(error), *map(str, error.problems)])) from error
        except OrderError as error:
            raise CommandError(str(error)) from error
        stored = " (dry run, nothing stored)" if dry_run else ""
        self.stdout.write(f"{team_order.code}: {taken.words(would=dry_run)}{stored}.")


def _team_order(code: str) -> TeamOrder:
    found = TeamOrder.objects.filter(code=code).first()
    if found is None:
        codes = ", ".join(TeamOrder.objects.values_list("code", flat=True)) or "none yet"
        raise CommandError(f"There is no team order {code}. Team orders: {codes}.")
    return found

"""manage.py erase_expired: erase members' data whose time is over."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from production.members.privacy import erase_deleted, erase_order, expired, expired_deletions


class Command(BaseCommand):
    help = (
        "Erases the members' data of every team order that was handed over (or cancelled) as many"
        " days ago as the order says, and the names in the story of long deleted orders. Sizes,"
        " colors, counts and sums stay. Run it daily; 'start' does so at its start."
        " --format json prints dry_run, orders and deleted_orders (their codes)."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only say what is due")
        parser.add_argument("--format", choices=("text", "json"), default="text")

    def handle(self, *args: Any, **options: Any) -> None:
        today, dry_run = timezone.localdate(), options["dry_run"]
        orders, deleted = expired(today), expired_deletions(today)
        if not dry_run:
            for order in orders:
                erase_order(order, None)
            for code in deleted:
                erase_deleted(code)
        codes = [order.code for order in orders]
        if options["format"] == "json":
            told = {"dry_run": dry_run, "orders": codes, "deleted_orders": deleted}
            self.stdout.write(json.dumps(told, ensure_ascii=False))
            return
        done = "would be erased" if dry_run else "erased"
        for code in codes:
            self.stdout.write(f"{code}: members' data {done}")
        for code in deleted:
            self.stdout.write(f"{code} (deleted): members' names {done}")
        if not codes and not deleted:
            self.stdout.write("No member's data is due to be erased.")

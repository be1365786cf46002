"""manage.py demo: (re)create the demo scenario."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from production.errors import ProductionError
from production.scenario.demo import DEMO_PASSWORD, DEMO_PEOPLE, make_demo
from production.scenario.demo_orders import DEMO_ORDERS


class Command(BaseCommand):
    help = (
        "Creates the demo scenario anew: two invented clubs and one run, mid-production."
        " Refuses where a real order stands in the database."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            make_demo()
        except ProductionError as error:
            raise CommandError(str(error)) from error
        clubs = " and ".join(dict.fromkeys(order.club for order in DEMO_ORDERS))
        self.stdout.write(f"The demo is there: {clubs}.")
        self.stdout.write(f"Log in as {' or '.join(DEMO_PEOPLE)}, password {DEMO_PASSWORD}")

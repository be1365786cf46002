"""close_forms: close the forms whose closing day is over."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from orders.states import close_overdue


class Command(BaseCommand):
    help = (
        "Closes the form of every team order whose closing day is over and names them. The order "
        "pages do so too when they are opened; run it daily to have it done without."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        closed = close_overdue(timezone.localdate())
        self.stdout.write(f"Closed: {', '.join(closed)}." if closed else "No closing day is over.")

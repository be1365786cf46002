"""manage.py look_ahead: plan the days anew, keep the forecasts, warn by mail where one is low."""

from __future__ import annotations

import json
import math
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from production.errors import ProductionError
from production.forecasting.forecasts import Mail
from production.forecasting.looking_ahead import USUAL_SECONDS, LookAhead, Told, look_ahead
from production.planning.forecasts.forecast_words import day_words
from production.scheduling.seen import jackets_words


class Command(BaseCommand):
    help = (
        "Plans the days of the workroom anew from where each jacket stands, keeps what is expected"
        " of every run and team order, and mails a warning of each team order whose chance to be"
        " ready is below the workroom's limit: once, until the chance was up again. Made to be run"
        " every evening. Exits with an error when a mail could not be sent; what is expected is"
        " kept all the same."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--seconds",
            type=float,
            default=USUAL_SECONDS,
            help=f"how long the search for the plan of the days may take ({USUAL_SECONDS:g})",
        )
        parser.add_argument("--format", choices=("text", "json"), default="text")

    def handle(self, *args: Any, **options: Any) -> None:
        seconds = options["seconds"]
        if not 0 < seconds < math.inf:
            raise CommandError(f"--seconds is {seconds}; give a time above 0.")
        try:
            found = look_ahead(seconds)
        except ProductionError as error:
            raise CommandError(str(error)) from error
        if options["format"] == "json":
            self.stdout.write(json.dumps(_as_data(found), ensure_ascii=False))
        else:
            self.stdout.write("\n".join(_in_words(found)))
        failed = [told.team_order for told in found.told if told.mail == Mail.FAILED]
        if failed:
            raise CommandError(
                f"The mail server did not take the warning of {', '.join(failed)}; "
                "the next look ahead tries again."
            )


def _as_data(found: LookAhead) -> dict[str, Any]:
    plan = found.plan
    return {
        "schema": 1,
        "schedule": {
            "begins_on": plan.begins_on.isoformat(),
            "late_jackets": plan.late_jackets,
            "gap_percent": None if plan.gap_percent is None else str(plan.gap_percent),
        }
        if plan
        else None,
        "forecasts": [_row(told) for told in found.told],
    }


def _row(told: Told) -> dict[str, Any]:
    one = told.expected
    return {
        "run": told.run,
        "team_order": told.team_order or None,
        "deadline": one.deadline.isoformat(),
        "chance": f"{one.chance:.3f}",
        "ready_at_50_percent": one.even_day.isoformat() if one.even_day else None,
        "ready_at_90_percent": one.safe_day.isoformat() if one.safe_day else None,
        "jackets_left": one.jackets_left,
        "minutes_left": one.minutes_left,
        "hindered": one.hindered,
        "mail": told.mail,
    }


def _in_words(found: LookAhead) -> list[str]:
    if found.plan is None:
        return ["Nothing is left to do in the workroom."]
    return [
        f"Planned anew: {jackets_words(found.plan.late_jackets)} late.",
        *(_line(told) for told in found.told),
    ]


def _line(told: Told) -> str:
    one = told.expected
    mail = f" Warning: {told.mail}." if one.is_low and told.team_order else ""
    name = f"  {told.team_order}" if told.team_order else f"Run {told.run}"
    return (
        f"{name}: {one.chance_words} chance to be ready by {day_words(one.deadline)}; at 50 % "
        f"{day_words(one.even_day)}, at 90 % {day_words(one.safe_day)}.{mail}"
        + (f" {one.hindered}" if one.hindered else "")
    )

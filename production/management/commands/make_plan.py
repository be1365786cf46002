"""manage.py make_plan: freeze team orders into a run, plan it, improve its lays, print the plan."""

from __future__ import annotations

import json
import math
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from orders.errors import OrderError
from orders.models import TeamOrder
from production.cutting import jobs, lay_plans, lay_search
from production.errors import ProductionError
from production.models import Run
from production.planning.plan import Plan
from production.services import load_plan, plan_run_for

#: How long the lays of a new run are improved for, unless told.
USUAL_SECONDS = 10.0


class Command(BaseCommand):
    help = (
        "Freezes team orders (if not yet) into one run, plans it, looks for the lays that cost"
        " least, and prints the plan. Ctrl-C ends the search and keeps the best so far. Orders that"
        " make up a run already are left as they are and its plan is printed again, unless"
        " --seconds asks to improve its lays and nothing of it is cut."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("team_order", nargs="+", help="code of a team order")
        parser.add_argument(
            "--seconds",
            type=float,
            help=f"how long the lays are improved for ({USUAL_SECONDS:g} for a new run)",
        )
        parser.add_argument("--format", choices=("text", "json"), default="text")

    def handle(self, *args: Any, **options: Any) -> None:
        seconds = options["seconds"]
        if seconds is not None and not 0 < seconds < math.inf:
            raise CommandError(f"--seconds is {seconds}; give a time above 0.")
        orders = [_team_order(code) for code in dict.fromkeys(options["team_order"])]
        run = _run_of(orders)
        try:
            if run is None:
                run = plan_run_for(orders, by=None)
                self._improve(run, seconds or USUAL_SECONDS)
            else:
                self._improve_again(run, seconds)
        except (OrderError, ProductionError) as error:
            raise CommandError(str(error)) from error
        run.refresh_from_db()
        if options["format"] == "json":
            self.stdout.write(json.dumps(run.plan, ensure_ascii=False))
        else:
            self.stdout.write(_in_words(load_plan(run)))

    def _improve_again(self, run: Run, seconds: float | None) -> None:
        self.stderr.write(f"Planned already as run {run.code}.")
        locked = next(filter(None, map(lay_plans.why_locked, lay_plans.run_tickets(run))), "")
        if seconds is None or locked:
            self.stderr.write(f"{locked} This is its plan, unchanged.".strip())
        else:
            self._improve(run, seconds)

    def _improve(self, run: Run, seconds: float) -> None:
        """Look for better lays in the foreground and use the cheapest; a search that fails leaves
        the plan as it was."""
        job = jobs.open_job(run, math.ceil(seconds), by=None)
        lay_search.work_on(job.pk, self._tell)
        ended = jobs.latest_job(run)
        if ended is None:
            raise ProductionError(f"Run {run.code} was deleted meanwhile.")
        self.stderr.write(ended.words)
        if lay_plans.plans_to_use(run, lay_plans.Aim.MONEY):
            for ticket in lay_plans.use_aim(run, lay_plans.Aim.MONEY, by=None):
                self.stderr.write(f"Cut ticket {ticket}: now the lays with least money.")

    def _tell(self, percent: int, words: str) -> None:
        self.stderr.write(f"{percent:3d} %  {words}")


def _team_order(code: str) -> TeamOrder:
    order = TeamOrder.objects.filter(code=code).first()
    if order is None:
        known = ", ".join(TeamOrder.objects.values_list("code", flat=True)[:20]) or "none yet"
        raise CommandError(f"There is no team order '{code}'. Team orders: {known}.")
    return order


def _run_of(orders: list[TeamOrder]) -> Run | None:
    """The run made of exactly these orders, or None when none of them is planned yet."""
    runs = Run.objects.filter(run_orders__team_order__in=orders).distinct()
    for run in runs:
        codes = set(run.run_orders.values_list("team_order__code", flat=True))
        if codes == {order.code for order in orders}:
            return run
        raise CommandError(
            f"Run {run.code} already makes {', '.join(sorted(codes))}; nothing was changed."
            " Name exactly these for its plan, or only orders that are not planned yet."
        )
    return None


def _in_words(plan: Plan) -> str:
    lines = [f"Run {plan.run}: {len(plan.jackets)} jackets for {plan.deadline}"]
    for ticket in plan.cut_tickets:
        pieces = sum(line.left + line.right + line.single for line in ticket.lines)
        lines.append(
            f"  {ticket.ticket}  {ticket.fabric_color}: {pieces} blocks in {len(ticket.lays)} lays,"
            f" {ticket.fabric_needed_mm / 1000:.2f} m needed,"
            f" {ticket.to_buy_mm / 1000:.2f} m to buy"
        )
    lines.append(
        f"  work: {plan.labor.with_allowance_minutes} minutes with allowances, done by"
        f" {plan.schedule.expected_finish}, start cutting by {plan.schedule.latest_cutting_start}"
    )
    for check in plan.checks:
        lines.append(f"  {'held' if check.holds else 'BROKEN'}: {check.check} ({check.detail})")
    return "\n".join(lines)

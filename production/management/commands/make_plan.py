"""manage.py make_plan: freeze team orders into a run, plan it, print the plan."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from orders.errors import OrderError
from orders.models import TeamOrder
from production.errors import ProductionError
from production.models import Run
from production.planning.plan import Plan
from production.services import load_plan, plan_run_for


class Command(BaseCommand):
    help = (
        "Freezes team orders (if not yet) into one run, plans it and prints the plan. Orders that"
        " make up a run already are left as they are, and its plan is printed again."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("team_order", nargs="+", help="code of a team order")
        parser.add_argument(
            "--seconds",
            type=float,
            help="time that the lays may be improved for; the row layout of this version takes"
            " none of it",
        )
        parser.add_argument("--format", choices=("text", "json"), default="text")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["seconds"] is not None and not options["seconds"] > 0:
            raise CommandError(f"--seconds is {options['seconds']}; give a time above 0.")
        orders = [_team_order(code) for code in dict.fromkeys(options["team_order"])]
        run = _run_of(orders)
        if run is None:
            try:
                run = plan_run_for(orders, by=None)
            except (OrderError, ProductionError) as error:
                raise CommandError(str(error)) from error
        else:
            self.stderr.write(f"Planned already as run {run.code}; this is its plan, unchanged.")
        if options["format"] == "json":
            self.stdout.write(json.dumps(run.plan, ensure_ascii=False))
        else:
            self.stdout.write(_in_words(load_plan(run)))


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

"""Planned against actual of a run; the maker's alone, since it is about money."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from orders.roles import maker_only
from orders.tables import exported
from patterns.services import workroom
from production import queries
from production.looking_back.afterwards import afterwards_of
from production.looking_back.afterwards_rows import apart, links, row, rows, table_of
from production.looking_back.afterwards_svg import bars
from production.planning.actuals import afterwards_rules
from production.planning.plan import PlanError


@maker_only
@require_safe
def run_afterwards(request: HttpRequest, code: str) -> HttpResponse:
    run = queries.run_or_404(code)
    try:
        found = afterwards_of(run)
    except PlanError as error:
        messages.error(request, str(error))
        return redirect(run)
    unit, currency = workroom().length_unit, found.currency
    sheet = exported(request, table_of(found, unit), f"afterwards-{run.code}")
    if sheet is not None:
        return sheet
    stages = [stage.compared for stage in found.minutes]
    return render(
        request,
        "production/afterwards/afterwards.html",
        {
            "run": run,
            "found": found,
            "advice": [(one, links(one.kind, run)) for one in afterwards_rules.to_correct(found)],
            "rules": afterwards_rules,
            "cloth": rows(found.cloth, unit, currency),
            "cloth_bars": bars(found.cloth, "Fabric", unit, currency),
            "stages": list(zip(found.minutes, rows(stages, unit, currency), strict=True)),
            "stage_bars": bars(stages, "Minutes of timed jackets", unit, currency),
            "wares": apart(found.wares, unit, currency),
            "bought": apart(found.purchases, unit, currency),
            "money": list(zip(found.money, rows(found.money, unit, currency), strict=True)),
            "total": row(found.total, unit, currency),
            "money_bars": bars(found.money, f"Money in {currency}", unit, currency),
            "unit": unit,
        },
    )

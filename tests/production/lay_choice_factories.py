"""Better lays without a search: what `planning.cutting` would answer, made at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from production import services
from production.cutting import lay_plans
from production.models import CutTicket, Run
from production.planning.cutting.cutting import LayChoice
from production.planning.plan import Lay

Search = Callable[..., Iterator[LayChoice]]


def ticket_of(run: Run, color: str = "spruce") -> CutTicket:
    return run.cut_tickets.get(fabric_color__code=color, supplement=None)


def lays_in_use(ticket: CutTicket) -> tuple[Lay, ...]:
    plan = services.load_plan(ticket.run)
    return next(each.lays for each in plan.cut_tickets if each.ticket == ticket.code)


def in_halves(lays: tuple[Lay, ...]) -> tuple[Lay, ...]:
    """The same blocks where they lie, but each lay spread twice with half of them: more lays and
    more cloth. The bounds are halved, which is near enough for what is shown of them."""
    halves: list[Lay] = []
    for lay in lays:
        middle = len(lay.placements) // 2
        for placements in (lay.placements[:middle], lay.placements[middle:]):
            code = f"{lay.lay.rpartition('-')[0]}-L{len(halves) + 1}"
            bound_mm = lay.lower_bound_mm / 2
            halves.append(
                replace(
                    lay,
                    lay=code,
                    placements=placements,
                    lower_bound_mm=bound_mm,
                    efficiency=bound_mm / lay.length_mm,
                )
            )
    return tuple(halves)


def turned_about(lays: tuple[Lay, ...]) -> tuple[Lay, ...]:
    """Other lays as long as these: each moved 0.5 mm along a cloth that is 1 mm longer."""
    return tuple(
        replace(
            lay,
            length_mm=lay.length_mm + 1,
            placements=tuple(replace(each, x_mm=each.x_mm + 0.5) for each in lay.placements),
            efficiency=lay.lower_bound_mm / (lay.length_mm + 1),
        )
        for lay in lays
    )


def choice(ticket: CutTicket, aim: str = "money", **values: Any) -> LayChoice:
    lays = values.pop("lays", None) or turned_about(lays_in_use(ticket))
    return LayChoice(
        **{
            "aim": aim,
            "lays": lays,
            "fabric_mm": 4000,
            "cutting_minutes": Decimal("30.00"),
            "cost": Decimal("50.00"),
            "methods": {lay.lay: ("nested", "") for lay in lays},
            **values,
        }
    )


def keep(ticket: CutTicket, aim: str = "money", **values: Any) -> None:
    assert lay_plans.keep_choice(ticket, choice(ticket, aim, **values))


def run_with_rows(run: Run) -> Run:
    """A run with its lays stored and its plain rows kept, as after a freeze."""
    plan = services.load_plan(run)
    for planned in plan.cut_tickets:
        services.store_lays(run.cut_tickets.get(code=planned.ticket), planned.lays)
    lay_plans.keep_rows(run, services.load_snapshot(run), plan)
    run.refresh_from_db()
    return run


def searches_by(monkeypatch: pytest.MonkeyPatch, search: Search) -> None:
    """Put `search(ticket, is_stopped)`, which yields choices, in the place of the real one."""

    def lay_choices(
        each: Any,
        seconds: float,
        store: Any,
        *,
        seed: int = 0,
        on_better: Callable[[LayChoice], None] | None = None,
        is_stopped: Callable[[], bool] | None = None,
    ) -> tuple[LayChoice, ...]:
        found = []
        ticket = CutTicket.objects.get(code=each.ticket)
        for one in search(ticket, is_stopped):
            found.append(one)
            if on_better:
                on_better(one)
        return tuple(found)

    monkeypatch.setattr("production.planning.cutting.cutting.lay_choices", lay_choices)


def one_better(ticket: CutTicket, is_stopped: Callable[[], bool]) -> Iterator[LayChoice]:
    yield choice(ticket)

"""How good a schedule is, in words."""

from __future__ import annotations

from production.models import FloorPlan
from production.planning.timetable.floor import FloorSchedule
from production.scheduling.seen import jackets_words


def late_count_words(plan: FloorPlan) -> str:
    if not plan.late_jackets and not plan.plan["slots"]:
        return "Nothing is left to make."
    if not plan.late_jackets:
        return "Every jacket is ready by its deadline."
    verb = "is" if plan.late_jackets == 1 else "are"
    return f"{jackets_words(plan.late_jackets)} {verb} late."


def gap_words(plan: FloorPlan) -> str:
    """How far it may be from the best one; in what, as late jackets weigh more than all else."""
    if not plan.plan["slots"]:
        return ""
    if plan.gap_percent is None:
        return "How near it is to the best possible was not proven."
    if not plan.gap_percent:
        return "No better one is possible."
    late = "late jackets, minutes late, " if plan.late_jackets else ""
    return (
        f"In {late}changes of thread and foot and the last hour of each order, weighed together, "
        f"no schedule can be more than {plan.gap_percent:f} % better."
    )


def change_words(found: FloorSchedule) -> str:
    if not found.changes:
        return "No change of thread or foot."
    times = "once" if found.changes == 1 else f"{found.changes} times"
    return f"Thread or foot is changed {times}, {found.change_minutes} minutes in all."

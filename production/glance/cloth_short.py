"""Whose blocks cannot be cut, since the cloth for them is still to be bought."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from django.db.models import F, Prefetch, Q

from production.models import BlockTick, JacketBlock, Lay, LayPly, PurchaseLine
from production.planning.cutting.lays import ply_pieces
from production.planning.cutting.rows import LaidKey
from production.planning.standing import STAGES
from production.reporting.cut_counts import SIDES, planned_lay

if TYPE_CHECKING:
    from production.glance.blocked import OnTheFloor

CUT = STAGES[0]


def cloth_words(everyone: Sequence[OnTheFloor]) -> dict[str, str]:
    """What the jackets to be cut lack, by their codes, as 'no cloth yet for FR, BK: spruce, Test
    fleece; ordered with P-0002'.

    A ticket cuts for jackets in the order of their turns. The plies that are cut or planned on a
    bolt yield so many of each block; who comes after that waits for cloth. A ticket of which every
    ply has its bolt blocks nobody, and nor does one whose plies were never stored.
    """
    to_cut = {
        jacket.pk: jacket for jacket in everyone if jacket.stage == CUT and not jacket.is_cancelled
    }
    tickets = _without_cloth({jacket.run for jacket in to_cut.values()})
    if not tickets:
        return {}
    covered, ordered = _covered(tickets), _on_order()
    turns = {jacket.pk: (jacket.stage == CUT, *jacket.turn) for jacket in everyone}
    ticked = set(_ticked(tickets))
    lacking: dict[int, dict[tuple[int, str], list[str]]] = defaultdict(lambda: defaultdict(list))
    rows = [row for row in _blocks(tickets) if row.jacket_id in turns]
    for row in sorted(rows, key=lambda row: turns[row.jacket_id]):
        keys = [(row.block, row.line.size, side) for side in SIDES if getattr(row.line, side)]
        pieces = covered[row.line.ticket_id]
        is_there = all(pieces[key] for key in keys)
        if is_there:
            pieces.subtract(keys)
        elif row.jacket_id in to_cut and (row.jacket_id, row.line_id, row.block) not in ticked:
            color = row.line.ticket.fabric_color
            named = f"{color.name}, {color.fabric.name}"
            lacking[row.jacket_id][color.pk, named].append(row.block)
    return {
        to_cut[pk].code: "; ".join(
            f"no cloth yet for {', '.join(blocks)}: {named}; {_came(ordered.get(color, ()))}"
            for (color, named), blocks in colors.items()
        )
        for pk, colors in lacking.items()
    }


def _without_cloth(runs: Iterable[int]) -> list[int]:
    """The tickets with a ply that lies on no bolt and is not cut, those of recuts left out: who
    waits for a recut is blocked by its piece."""
    plies = LayPly.objects.filter(
        lot=None, cut_at=None, lay__ticket__run__in=list(runs), lay__ticket__recut=None
    )
    return list(plies.order_by().values_list("lay__ticket", flat=True).distinct())


def _covered(tickets: Iterable[int]) -> dict[int, Counter[LaidKey]]:
    """How many of each block, size and side the plies yield that are cut or have their bolt."""
    there = LayPly.objects.filter(Q(lot__isnull=False) | Q(cut_at__isnull=False))
    lays = Lay.objects.filter(ticket__in=list(tickets)).prefetch_related(
        Prefetch("ply_rows", there)
    )
    found: dict[int, Counter[LaidKey]] = {ticket: Counter() for ticket in tickets}
    for lay in lays:
        if plies := list(lay.ply_rows.all()):
            planned = planned_lay(lay)
            for ply in plies:
                found[lay.ticket_id].update(ply_pieces(planned, ply.number))
    return found


def _blocks(tickets: Iterable[int]) -> Iterable[JacketBlock]:
    return JacketBlock.objects.filter(
        line__ticket__in=list(tickets), jacket__cancelled_at=None
    ).select_related("line__ticket__fabric_color__fabric")


def _ticked(tickets: Iterable[int]) -> Iterable[tuple[int, int, str]]:
    """Blocks that someone saw on the table, whatever the tickets say."""
    ticks = BlockTick.objects.filter(line__ticket__in=list(tickets), taken_back_at=None)
    return ticks.values_list("jacket", "line", "block")


def _on_order() -> dict[int, list[str]]:
    rows = (
        PurchaseLine.objects.filter(
            fabric_color__isnull=False, purchase__closed_at=None, received__lt=F("quantity")
        )
        .order_by("purchase__expected_on", "pk")
        .values_list("fabric_color", "purchase__code")
    )
    found: dict[int, list[str]] = defaultdict(list)
    for color, code in rows:
        assert color is not None  # filtered
        found[color].append(code)
    return found


def _came(codes: Sequence[str]) -> str:
    return f"ordered with {', '.join(dict.fromkeys(codes))}" if codes else "not ordered"

"""How the sides of a jacket's blocks are by the reports, for a change of that jacket."""

from __future__ import annotations

from collections import Counter

from production.changing.change_state import Known, supplement_plans
from production.models import Jacket, Lay, Run, SpoiledPiece, TicketLine
from production.planning.recuts import SideState
from production.reporting.cut_counts import asked_pieces, cut_pieces


def sides_as_reported(known: Known, jacket: Jacket) -> dict[tuple[str, str], SideState]:
    """The sides of a jacket's blocks of which reports say more than the jacket's stage does."""
    rows = list(jacket.blocks.select_related("line__ticket"))
    states: dict[tuple[str, str], SideState] = {}
    for row in rows:
        for side in _sides_all_cut(known.run, row.line):
            states[row.block, side] = SideState(cut=True, ticket=row.line.ticket.code)
    tickets = {row.block: row.line.ticket.code for row in rows}
    for piece in jacket.spoiled_pieces.true().select_related("recut").order_by("pk"):
        if piece.block in tickets and _is_of_this_block(jacket, piece):
            states[piece.block, piece.side] = _state_of(piece, tickets[piece.block])
    return states


def _sides_all_cut(run: Run, line: TicketLine) -> list[str]:
    """The sides of a ticket's line of which nothing is left to cut by the reports."""
    cut = cut_pieces(Lay.objects.filter(ticket=line.ticket_id)).get(line.ticket_id)
    if not cut:
        return []
    withdrawn = Counter(
        (block.block, block.size, side)
        for plan in supplement_plans(run)
        for block in plan.difference.withdrawn
        if block.ticket == line.ticket.code
        for side in block.sides
    )
    return [
        key[2]
        for key, count in asked_pieces([line]).items()
        if cut[key] and count - cut[key] - withdrawn[key] <= 0
    ]


def _is_of_this_block(jacket: Jacket, piece: SpoiledPiece) -> bool:
    """A jacket that was changed and changed back has a new block where the old one was spoiled."""
    changes = jacket.run.supplements.filter(plan__jacket=jacket.code, at__gt=piece.at)
    return not any(
        piece.block in {block["block"] for block in (*new["to_cut"], *new["from_spare"])}
        for change in changes
        for new in [(change.plan or {})["difference"]]
    )


def _state_of(piece: SpoiledPiece, ticket: str) -> SideState:
    if piece.is_replaced:
        return SideState(cut=True, ticket=ticket)
    if piece.recut is None:
        return SideState(lost=True)
    recut = piece.recut.cut_tickets.get(fabric_color=piece.fabric_color_id)
    return SideState(cut=False, ticket=recut.code)

"""What lies on the table of each jacket: cut by its tickets, or seen there by someone."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from enum import StrEnum

from django.contrib.auth.models import User
from django.db.models import QuerySet

from patterns.models import Block
from production.models import BlockTick, Jacket, JacketBlock, Lay, Run, SpoiledPiece
from production.reporting.cut_counts import wholly_cut


class How(StrEnum):
    """How a block of a jacket stands; the first two lie on the table."""

    TICKET = "cut by its ticket"
    TICKED = "seen on the table"
    MISSING = "not there yet"
    SPOILED = "short or spoiled"

    @property
    def lies(self) -> bool:
        return self in {How.TICKET, How.TICKED}


def blocks_by_jacket(jackets: Iterable[Jacket]) -> dict[int, dict[str, How]]:
    """Every block of each jacket and how it stands, by the key of the jacket. Four queries.

    A block lies there when all plies of all lays that cut it in this size are reported as cut, or
    when someone ticked it for the line that it stands on now. A piece of it that was reported as
    short or spoiled, and not replaced, outweighs both.
    """
    keys = [jacket.pk for jacket in jackets]
    if not keys:
        return {}
    rows = list(
        JacketBlock.objects.filter(jacket__in=keys)
        .order_by("jacket", "pk")
        .values_list("jacket", "block", "line", "line__ticket", "line__size")
    )
    whole = wholly_cut(Lay.objects.filter(ticket__in={ticket for _, _, _, ticket, _ in rows}))
    ticked = set(standing_ticks(keys).values_list("jacket", "block", "line"))
    waiting = SpoiledPiece.objects.waiting().filter(jacket__in=keys)
    spoiled = set(waiting.values_list("jacket", "block"))
    found: dict[int, dict[str, How]] = {key: {} for key in keys}
    for jacket, block, line, ticket, size in rows:
        how = How.MISSING
        if (jacket, block) in spoiled:
            how = How.SPOILED
        elif (ticket, block, size) in whole:
            how = How.TICKET
        elif (jacket, block, line) in ticked:
            how = How.TICKED
        found[jacket][block] = how
    return found


def standing_ticks(jackets: Iterable[int]) -> QuerySet[BlockTick]:
    return BlockTick.objects.filter(jacket__in=jackets, taken_back_at=None)


def write_ticks(
    jacket: Jacket, blocks: Iterable[str], by: User | None, at: datetime.datetime
) -> None:
    """Someone saw these blocks on the table; none of them is ticked yet."""
    rows = jacket.blocks.filter(block__in=list(blocks))
    made = BlockTick.objects.bulk_create(
        BlockTick(jacket=jacket, block=row.block, line_id=row.line_id, by=by) for row in rows
    )
    # The moment of the tap, which the table's own time of writing is not.
    BlockTick.objects.filter(pk__in=[tick.pk for tick in made]).update(at=at)


def block_names(codes: Iterable[str]) -> dict[str, str]:
    return dict(Block.objects.filter(code__in=set(codes)).values_list("code", "name"))


def on_table(jackets: Iterable[Jacket]) -> dict[int, dict[str, How]]:
    """The blocks that lie on the table, by the key of the jacket."""
    return {
        jacket: {block: how for block, how in blocks.items() if how.lies}
        for jacket, blocks in blocks_by_jacket(jackets).items()
    }


def ready_jackets(run: Run) -> list[Jacket]:
    """The jackets that wait to be cut of which every block lies on the table."""
    waiting = list(
        Jacket.objects.filter(run=run, stage=Jacket.Stage.CUT, cancelled_at=None).order_by("pk")
    )
    blocks = blocks_by_jacket(waiting)
    return [
        jacket
        for jacket in waiting
        if blocks[jacket.pk] and all(how.lies for how in blocks[jacket.pk].values())
    ]

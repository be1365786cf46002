"""Blocks that someone saw on the table where the tickets do not say so, and those taken back."""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from production import tracking
from production.errors import MovedOnError, StepRefusedError
from production.models import Jacket
from production.stages.table import How, block_names, blocks_by_jacket, standing_ticks, write_ticks

NOTHING_CHANGED = "Nothing was changed."


@transaction.atomic
def tick(code: str, blocks: Iterable[str], by: User | None) -> list[str]:
    """The names of the blocks that are ticked now; one that lies there already stays as it is.

    Raises UnknownJacketError; StepRefusedError for a jacket that is not being cut, a block that it
    does not have, and one of which a piece is short or spoiled.
    """
    jacket = _at_the_table(code)
    standing = blocks_by_jacket([jacket])[jacket.pk]
    wanted = list(dict.fromkeys(blocks))
    names = block_names(standing)
    for block in wanted:
        if block not in standing:
            raise StepRefusedError(
                f"{jacket.code} has no block '{block}'; it has {', '.join(standing)}. "
                f"{NOTHING_CHANGED}"
            )
        if standing[block] == How.SPOILED:
            raise StepRefusedError(
                f"{jacket.code}: {names.get(block, block)} was reported as short or spoiled. If it "
                f"is there and good, take that report back. {NOTHING_CHANGED}"
            )
    missing = [block for block in wanted if not standing[block].lies]
    if missing:
        write_ticks(jacket, missing, by, timezone.now())
    return [names.get(block, block) for block in missing]


@transaction.atomic
def take_back(code: str, block: str, by: User | None) -> str:
    """The block is not there after all; its name. Raises MovedOnError when it is not ticked."""
    jacket = _at_the_table(code)
    lines = jacket.blocks.filter(block=block).values("line")
    ticked = standing_ticks([jacket.pk]).filter(block=block, line__in=lines)
    changed = ticked.update(taken_back_at=timezone.now(), taken_back_by=by)
    named = block_names([block]).get(block, block)
    if not changed:
        raise MovedOnError(f"{jacket.code}: {named} is not ticked. {NOTHING_CHANGED}")
    return named


def _at_the_table(code: str) -> Jacket:
    jacket = tracking.locked_jacket(code)
    if jacket.cancelled_at:
        raise StepRefusedError(f"{jacket.code} is cancelled. {NOTHING_CHANGED}")
    if jacket.stage != Jacket.Stage.CUT:
        raise MovedOnError(
            f"{jacket.code}: its cutting is done already, so its blocks are not counted any more. "
            f"If one is not there, report it as short or spoiled. {NOTHING_CHANGED}"
        )
    return jacket

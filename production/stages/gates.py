"""What must be true before a stage of a jacket is done, and what is noted when it is."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from django.contrib.auth.models import User

from production.errors import StepRefusedError
from production.models import Jacket, StageEvent
from production.stages import lots
from production.stages.table import How, block_names, blocks_by_jacket, write_ticks


def before_done(
    jacket: Jacket,
    stage: str,
    events: Sequence[StageEvent],
    by: User | None,
    at: datetime.datetime,
    *,
    vouch: bool,
) -> None:
    """Raises StepRefusedError when the stage cannot be done. Who vouches says by the tap that what
    is not on record is so: that is noted as theirs."""
    if stage == Jacket.Stage.CUT:
        _before_cut(jacket, by, at, vouch)
    elif stage == Jacket.Stage.FINISH:
        _before_finish(jacket, events, by, at, vouch)
    elif stage == Jacket.Stage.HAND_OVER:
        _before_hand_over(jacket, events)


def _before_cut(jacket: Jacket, by: User | None, at: datetime.datetime, vouch: bool) -> None:
    """Every block lies on the table. One that is short or spoiled does not, whoever says so."""
    blocks = blocks_by_jacket([jacket])[jacket.pk]
    if spoiled := [block for block, how in blocks.items() if how == How.SPOILED]:
        raise StepRefusedError(
            f"{jacket.code} waits for {_named(spoiled)}: reported as short or spoiled, and not "
            "replaced yet. If that was a mistake, take the report back. Nothing was changed."
        )
    missing = [block for block, how in blocks.items() if not how.lies]
    if missing and not vouch:
        raise StepRefusedError(
            f"{jacket.code}: not on the table by the tickets: {_named(missing)}. Tick what lies "
            "there, or say that all of it does. Nothing was changed."
        )
    if missing:
        write_ticks(jacket, missing, by, at)


def _before_finish(
    jacket: Jacket,
    events: Sequence[StageEvent],
    by: User | None,
    at: datetime.datetime,
    vouch: bool,
) -> None:
    """It was looked over and found good since it came to finishing, where that is asked of it."""
    if lots.passed_since(jacket, events) or not lots.asks_for(jacket):
        return
    if not vouch:
        raise StepRefusedError(
            f"{jacket.code}: nobody has looked it over since it came to finishing. Go through the "
            "points on its page, then say that all are good. Nothing was changed."
        )
    lots.write_passed(jacket, events, by, at)


def _before_hand_over(jacket: Jacket, events: Sequence[StageEvent]) -> None:
    """Of a lot that was refused meanwhile, none goes out that nobody looked at; to hand it over
    does not say that it is good."""
    asked, lot = lots.asked_with_lot(jacket)
    if asked and lot and lot.is_refused and not lots.passed_since(jacket, events):
        raise StepRefusedError(
            f"{jacket.code}: too many of the sample of its lot were faulty, so every jacket of it "
            "is looked over, and nobody has looked at this one. Go through the points on its page "
            "first. Nothing was changed."
        )


def _named(blocks: Sequence[str]) -> str:
    names = block_names(blocks)
    return ", ".join(f"{names.get(block, block)} ({block})" for block in blocks)

"""What the page of one jacket reads."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import msgspec
from django.db.models import F
from django.utils.safestring import SafeString, mark_safe

from patterns.models import Block, FabricColor, Zipper
from production.history.history import jacket_lines
from production.history.lines import Line
from production.models import Jacket, JacketBlock, Person, StageEvent, Supplement
from production.planning.snapshot import BlockingSpec
from production.reporting.reports_state import MissingRow, Told, missing_rows, story_of
from production.stages.inspections import menders
from production.stages.jacket_steps import (
    LookOver,
    Table,
    look_over_of,
    table_of,
)
from production.tracking import live_events, name_of, told

PLAIN_ZIPPER = "#8a8a8a"


@dataclass(frozen=True, slots=True)
class Happening:
    """A line of a jacket's history."""

    at: datetime.datetime
    by: str
    words: str
    undone: bool


@dataclass(frozen=True, slots=True)
class JacketStory:
    """A jacket with everything that its page shows."""

    jacket: Jacket
    history: tuple[Happening, ...]
    last_step: StageEvent | None
    fills: Mapping[str, FabricColor]
    blocks: tuple[tuple[FabricColor, tuple[str, ...]], ...]
    blocking: BlockingSpec | None
    zipper: Zipper | None
    supplements: tuple[Supplement, ...] = ()
    missing: tuple[MissingRow, ...] = ()
    table: Table | None = None
    look_over: LookOver | None = None
    mender: Person | None = None
    last_event: int = 0

    @property
    def last_step_words(self) -> str:
        return told(self.last_step) if self.last_step else ""


def jacket_story(code: str) -> JacketStory:
    """Raises Jacket.DoesNotExist."""
    jacket = (
        Jacket.objects.select_related(
            "run",
            "jacket_order__colorway__blocking",
            "jacket_order__colorway__topstitch_thread",
            "jacket_order__team_order__club",
        )
        .defer("run__snapshot", "run__plan")
        .annotate(blockings=F("run__snapshot__blockings"))
        .get(code=code)
    )
    colorway = jacket.jacket_order.colorway
    supplements = tuple(
        Supplement.objects.filter(run=jacket.run_id, plan__jacket=code)
        .defer("snapshot", "plan")
        .annotate(blockings=F("snapshot__blockings"), last_event=F("plan__last_event"))
    )
    known = [jacket, *(supplement for supplement in supplements if supplement.blockings)]
    frozen = [
        spec
        for source in known
        for spec in msgspec.convert(vars(source)["blockings"], tuple[BlockingSpec, ...])
    ]
    events = list(jacket.events.select_related("by", "undoes").order_by("pk"))
    steps = live_events(events)
    blocks = list(
        JacketBlock.objects.filter(jacket=jacket).select_related("line__ticket__fabric_color")
    )
    names = dict(Block.objects.filter(blocking=colorway.blocking_id).values_list("code", "name"))
    fills = {row.block: row.line.ticket.fabric_color for row in blocks}
    missing = missing_rows(jacket.spoiled_pieces.all())
    reported = story_of(missing, ((row.line.ticket_id, row.block, row.line.size) for row in blocks))
    return JacketStory(
        jacket=jacket,
        history=tuple(_history(events, reported, jacket_lines(jacket))),
        last_step=_step_to_undo(steps, supplements),
        fills=fills,
        blocks=_blocks_by_color(fills, names),
        blocking=next((spec for spec in frozen if spec.code == colorway.blocking.code), None),
        zipper=Zipper.objects.filter(color_code=colorway.zipper_color).first(),
        supplements=supplements,
        missing=tuple(row for row in missing if row.is_waiting),
        table=table_of(jacket, blocks, names) if _is_at_the_table(jacket) else None,
        look_over=look_over_of(jacket, events),
        mender=menders([jacket]).get(jacket.pk),
        last_event=events[-1].pk if events else 0,
    )


def _is_at_the_table(jacket: Jacket) -> bool:
    return jacket.stage == Jacket.Stage.CUT and jacket.cancelled_at is None


def _step_to_undo(steps: list[StageEvent], supplements: Iterable[Supplement]) -> StageEvent | None:
    """The last step, unless a change after the freeze counts on it."""
    settled = max((vars(supplement)["last_event"] for supplement in supplements), default=0)
    return steps[-1] if steps and steps[-1].pk > settled else None


def _history(
    events: list[StageEvent], reported: Iterable[Told], seen: Iterable[Line]
) -> list[Happening]:
    """What was recorded of the jacket, reported of its pieces and seen of it, latest first."""
    reports = (Happening(told.at, told.by, told.words, False) for told in reported)
    looks = (Happening(row.at, row.by, row.words, row.undone) for row in seen)
    # The sort keeps the order of events at one moment.
    return sorted((*_happenings(events), *reports, *looks), key=lambda row: row.at, reverse=True)


def _happenings(events: list[StageEvent]) -> Iterable[Happening]:
    undone = {event.undoes_id for event in events}
    for event in reversed(events):
        yield Happening(event.at, name_of(event), told(event), event.pk in undone)


def _blocks_by_color(
    fills: Mapping[str, FabricColor], names: Mapping[str, str]
) -> tuple[tuple[FabricColor, tuple[str, ...]], ...]:
    told_by_color: dict[FabricColor, list[str]] = {}
    for block, color in fills.items():
        told_by_color.setdefault(color, []).append(names.get(block, block))
    return tuple((color, tuple(blocks)) for color, blocks in told_by_color.items())


def pictures(story: JacketStory) -> list[tuple[str, SafeString]]:
    """(name of the view, SVG) of the jacket as it was frozen; none when its blocking has got
    another code since."""
    from patterns.geometry.picture_svg import picture_svg
    from patterns.pictures import VIEW_NAMES, fill_of

    if story.blocking is None:
        return []
    colorway = story.jacket.jacket_order.colorway
    fills = {block: fill_of(color) for block, color in story.fills.items()}
    thread = colorway.topstitch_thread
    return [
        (
            VIEW_NAMES[picture.view],
            # The SVG is our own text with every name escaped in it.
            mark_safe(
                picture_svg(
                    picture,
                    fills,
                    zipper_hex=story.zipper.hex_color if story.zipper else PLAIN_ZIPPER,
                    thread_hex=thread.hex_color if thread else None,
                    title=f"{story.blocking.name}, {VIEW_NAMES[picture.view].lower()}",
                    uid=f"jacket-{picture.view}",
                )
            ),
        )
        for picture in story.blocking.pictures
    ]

"""The operation sheet in words, for its page and its paper."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from production.planning.lengths import cloth_length, small_length
from production.planning.sewing.sewing_parts import (
    Colored,
    ElasticCut,
    NotionCut,
    Placket,
    SeamWork,
    WorkStep,
)
from production.planning.supplies.materials import ZipperChoice, zipper_length
from production.planning.timetable.floor_words import listed


def joins_words(seam: SeamWork) -> str:
    """'Front yoke to Back yoke'; 'Cuff, edge to edge'; 'along Front and Back' for a hem."""
    ours = list(dict.fromkeys(block for block, _ in seam.joins))
    theirs = list(dict.fromkeys(block for _, against in seam.joins for block in against))
    if not theirs:
        return f"along {listed(ours)}"
    if all(against == (block,) for block, against in seam.joins):
        return f"{listed(ours)}, edge to edge"
    return f"{listed(ours)} to {listed(theirs)}"


def seam_words(seam: SeamWork, step: WorkStep, unit: str) -> str:
    """What is told of a seam beside its blocks: 'in 2 stretches, to be topstitched'; its allowance
    where that is not the same for the whole step."""
    words = []
    if step.allowance_mm is None and not step.is_topstitching:
        words.append(f"allowance {small_length(seam.allowance_mm, unit)}")
    if seam.runs > 1:
        words.append(f"in {seam.runs} stretches")
    if seam.topstitched and not step.is_topstitching:
        words.append("to be topstitched")
    return ", ".join(words)


def machine_words(step: WorkStep, unit: str) -> str:
    """'lockstitch machine, 301 lockstitch, stitch 3 mm, 2 rows 6 mm apart, allowance 10 mm'; empty
    for work that names neither machine nor stitch."""
    operation, words = step.operation, []
    if operation.machine:
        name = operation.machine
        words.append(name if name == "serger" else f"{name} machine")
    if operation.stitch_type:
        words.append(step.stitch)
    if operation.stitch_length_mm:
        words.append(f"stitch {plain(operation.stitch_length_mm)} mm")
    if operation.rows > 1:
        apart = f" {plain(operation.seam_width_mm)} mm apart" if operation.seam_width_mm else ""
        words.append(f"{operation.rows} rows{apart}")
    elif operation.seam_width_mm:
        words.append(f"{plain(operation.seam_width_mm)} mm wide")
    if step.allowance_mm is not None:
        words.append(f"allowance {small_length(step.allowance_mm, unit)}")
    return ", ".join(words)


def set_up_words(step: WorkStep) -> tuple[str, ...]:
    """What is set on the machine before the step; what was otherwise in an earlier step begins with
    'Change'."""
    operation, words = step.operation, []
    if step.changes_foot:
        words.append(f"Change the foot to {operation.foot}")
    elif operation.foot:
        words.append(f"Foot: {operation.foot}")
    if step.changes_stitch_length and operation.stitch_length_mm:
        words.append(f"Change the stitch to {plain(operation.stitch_length_mm)} mm")
    return tuple(words)


def zipper_words(zipper: ZipperChoice, unit: str) -> str:
    """'zipper 70 cm slate, shorten by 21 mm to 679 mm'."""
    color = zipper.sold.color_name
    if zipper.made:
        return f"zipper {zipper_length(zipper.finished_mm, unit)} {color}, made to this length"
    words = f"zipper {zipper_length(zipper.sold.length_mm, unit)} {color}"
    if not zipper.shorten_mm:
        return words
    off, left = (small_length(mm, unit) for mm in (zipper.shorten_mm, zipper.finished_mm))
    return f"{words}, shorten by {off} to {left}"


def elastic_words(cut: ElasticCut, unit: str) -> str:
    """'hem elastic 25 mm: 1 length of 1024 mm'; the join is in the length."""
    lengths = "length" if cut.pieces == 1 else "lengths"
    words = f"{cut.elastic.name}: {cut.pieces} {lengths} of {small_length(cut.length_mm, unit)}"
    return f"{words}, {small_length(cut.elastic.join_mm, unit)} of it for the join"


def notion_words(cut: NotionCut, unit: str) -> str:
    if cut.notion.unit == "m":
        return f"{cut.notion.name}: {cloth_length(1000 * cut.quantity, unit)}"
    return f"{cut.notion.name}: {plain(cut.quantity)}"


def placket_words(placket: Placket) -> Iterator[str]:
    """'Placket in spruce', 'Placket inside in marigold'."""
    for side in (placket.outside, placket.inside):
        if side:
            yield colored_words(side)


def colored_words(side: Colored) -> str:
    color, blocks = side
    return f"{listed(blocks)} in {color.name}"


def minutes_words(minutes: Decimal | None) -> str:
    return "" if minutes is None else f"{minutes:.1f} min"


def plain(number: Decimal) -> str:
    return f"{number.normalize():f}"

"""Functions that read patterns into the frozen values that the geometry computes with."""

from __future__ import annotations

from functools import lru_cache

import msgspec
from django.utils.safestring import SafeString, mark_safe

from patterns.geometry.block_svg import block_svg
from patterns.geometry.blocks import Anchor, Block, BlockName, StyleLine, cut_blocks
from patterns.geometry.bodies import Body, Ease
from patterns.geometry.drafting import DraftCheck, draft
from patterns.geometry.outline import Outline
from patterns.geometry.seams import EdgeRef, Seam, SeamKind
from patterns.models import Blocking, Pattern, PatternSize, PieceOutline
from patterns.services import BODY_MEASURES, allowances


def style_lines(blocking: Blocking) -> tuple[StyleLine, ...]:
    return tuple(
        StyleLine(
            code=row.code,
            name=row.name,
            cuts=row.cuts,
            start=Anchor(row.start_edge, float(row.start_fraction)),
            end=Anchor(row.end_edge, float(row.end_fraction)),
            left=BlockName(row.left_code, row.left_name),
            right=BlockName(row.right_code, row.right_name) if row.right_code else None,
            bends=tuple((x, y) for x, y in row.bends),
            topstitched=row.topstitched,
        )
        for row in blocking.style_lines.all()
    )


def base_seams(pattern: Pattern) -> tuple[Seam, ...]:
    return tuple(
        Seam(
            code=row.code,
            name=row.name,
            kind=SeamKind(row.kind),
            leads=msgspec.convert(row.leads, tuple[EdgeRef, ...]),
            follows=msgspec.convert(row.follows, tuple[EdgeRef, ...]),
            ease_mm=float(row.ease_mm),
            topstitched=row.topstitched,
            runs=row.runs,
        )
        for row in pattern.seams.all()
    )


def pieces_of(size: PatternSize) -> tuple[Outline, ...]:
    rows = PieceOutline.objects.filter(size=size).order_by("piece__position")
    return tuple(_outline(msgspec.json.encode(row.outline)) for row in rows)


@lru_cache(maxsize=512)
def _outline(encoded: bytes) -> Outline:
    return msgspec.json.decode(encoded, type=Outline)


def blocks_of(blocking: Blocking, size: PatternSize) -> tuple[Block, ...]:
    """The blocks of a blocking in one size, in cutting order."""
    return cut_blocks(pieces_of(size), style_lines(blocking), allowances())


def block_drawings(blocking: Blocking, size: PatternSize) -> list[tuple[Block, SafeString]]:
    """Each block of a blocking in one size with its drawing as SVG."""
    return [
        # The SVG is our own text with every name escaped in it.
        (block, mark_safe(block_svg(block, f"{block.code} {block.name}, size {size.code}")))
        for block in blocks_of(blocking, size)
    ]


def body_of(size: PatternSize) -> Body:
    return Body(
        code=size.code,
        name=size.name,
        age_group=size.age_group,
        **{f"{measure}_mm": float(getattr(size, f"{measure}_mm")) for measure in BODY_MEASURES},
    )


def ease_of(pattern: Pattern) -> Ease:
    return Ease(
        chest_mm=float(pattern.chest_ease_mm),
        hip_mm=float(pattern.hip_ease_mm),
        neck_mm=float(pattern.neck_ease_mm),
        wrist_mm=float(pattern.wrist_ease_mm),
        cap_mm=float(pattern.cap_ease_mm),
    )


def draft_checks(size: PatternSize) -> tuple[DraftCheck, ...]:
    """What the drafting says of itself for this size, drafted from its stored measures."""
    return draft(body_of(size), ease_of(size.pattern)).checks

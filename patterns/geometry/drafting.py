"""Drafts a boxy zip-front fleece jacket from body measurements and ease.

The draft is our own: its proportions are invented starting values, kept in order by its checks.
Outlines are stitching lines. The hem edges are the finished hem, folded there with elastic in it;
the teeth of the zipper close on the center front line; collar and cuffs are cut double and folded,
and their inner edges are caught in the same seams as the outer ones.
"""

from __future__ import annotations

from dataclasses import dataclass

from patterns.geometry.bodies import BODIES, Body, Ease, check_measurements
from patterns.geometry.drafting_body import BACK, FRONT, Half, back, body_frame, front, half
from patterns.geometry.drafting_checks import DraftCheck, draft_checks
from patterns.geometry.drafting_sleeve import cuff_depth_mm, sleeve
from patterns.geometry.outline import (
    Edge,
    EdgeKind,
    Mark,
    Outline,
    Pairing,
    length_mm,
    notch_on,
)

__all__ = ["BODIES", "Body", "DraftCheck", "DraftedJacket", "Ease", "draft"]

STAND_OF_HEIGHT, STAND_MORE_MM = 0.024, 20.0
PLACKET_WIDTH_MM = 45.0


@dataclass(frozen=True, slots=True)
class DraftedJacket:
    """One size: the pieces (stitching lines, draft frame), what is bought to measure, the checks.

    `zipper_mm` runs from the finished hem to the top of the collar; `hem_girth_mm` is the hem
    before the elastic draws it in; `cuff_girth_mm` is one finished cuff.
    """

    pieces: tuple[Outline, ...]
    zipper_mm: float
    hem_girth_mm: float
    cuff_girth_mm: float
    checks: tuple[DraftCheck, ...]


def draft(body: Body, ease: Ease) -> DraftedJacket:
    """Drafts the jacket for a body.

    Raises PatternError naming the measurement that does not fit and the range that is accepted.
    """
    check_measurements(body, ease)
    frame = body_frame(body, ease)
    front_half, back_half = half(frame, FRONT, frame.balance), half(frame, BACK, 0.0)
    stand_mm = STAND_OF_HEIGHT * body.height_mm + STAND_MORE_MM
    zipper_mm = length_mm(front_half.center) + stand_mm
    drafted_sleeve = sleeve(body, ease, frame, front_half.armhole, back_half.armhole)
    cuff_mm = drafted_sleeve.edge("wrist").length_mm
    pieces = (
        front(front_half),
        back(back_half),
        drafted_sleeve,
        _collar(front_half, back_half, stand_mm),
        *_plackets(zipper_mm, length_mm(front_half.center) / 2),
        _cuff(cuff_mm, cuff_depth_mm(body)),
    )
    hem_mm = 2 * (length_mm(front_half.hem) + length_mm(back_half.hem))
    checks = draft_checks(pieces, ease.cap_mm, zipper_mm)
    return DraftedJacket(pieces, zipper_mm, hem_mm, cuff_mm, checks)


def _collar(front_half: Half, back_half: Half, stand_mm: float) -> Outline:
    """The wearer's left half from the fold at the center back, seen from outside and behind; the
    outer layer is below the fold line."""
    shoulder_mm = length_mm(back_half.neckline)
    end_x, top = -shoulder_mm - length_mm(front_half.neckline), 2 * stand_mm
    neck = Edge("neck", ((end_x, 0.0), (0.0, 0.0)))
    return Outline(
        "CO",
        "Collar",
        Pairing.FOLD,
        (
            neck,
            Edge("center_back", ((0.0, 0.0), (0.0, top)), EdgeKind.FOLD),
            Edge("inner_neck", ((0.0, top), (end_x, top))),
            Edge("inner_end", ((end_x, top), (end_x, stand_mm))),
            Edge("end", ((end_x, stand_mm), (end_x, 0.0))),
        ),
        (
            notch_on("cs", neck, neck.length_mm - shoulder_mm),
            notch_on("cb", neck, neck.length_mm),
        ),
        (Mark("fold", ((end_x, stand_mm), (0.0, stand_mm)), "Fold"),),
        grainline=((end_x / 2, 0.9 * top), (end_x / 2, 0.1 * top)),
    )


def _plackets(zipper_mm: float, notch_mm: float) -> tuple[Outline, Outline]:
    """The strip behind the zipper and its inside. Seen from the front, the strip lies on the
    wearer's right of the zipper seam; the inside is its mirror image. `notch_mm` is the height of
    the center front notch over the hem."""
    right = PLACKET_WIDTH_MM
    inside = (
        Edge("bottom", ((0.0, 0.0), (right, 0.0))),
        Edge("free_side", ((right, 0.0), (right, zipper_mm))),
        Edge("top", ((right, zipper_mm), (0.0, zipper_mm))),
        Edge("zipper_side", ((0.0, zipper_mm), (0.0, 0.0))),
    )
    outside = (
        Edge("bottom", ((-right, 0.0), (0.0, 0.0))),
        Edge("zipper_side", ((0.0, 0.0), (0.0, zipper_mm))),
        Edge("top", ((0.0, zipper_mm), (-right, zipper_mm))),
        Edge("free_side", ((-right, zipper_mm), (-right, 0.0))),
    )
    return (
        _placket("PL", "Placket", outside, -right / 2, notch_mm, zipper_mm),
        _placket("PI", "Placket inside", inside, right / 2, notch_mm, zipper_mm),
    )


def _placket(
    code: str,
    name: str,
    edges: tuple[Edge, ...],
    grain_x: float,
    notch_mm: float,
    zipper_mm: float,
) -> Outline:
    zipper_side = next(edge for edge in edges if edge.name == "zipper_side")
    from_start = notch_mm if zipper_side.points[0][1] == 0.0 else zipper_mm - notch_mm
    return Outline(
        code,
        name,
        Pairing.SINGLE,
        edges,
        (notch_on("cf", zipper_side, from_start),),
        grainline=((grain_x, 0.9 * zipper_mm), (grain_x, 0.1 * zipper_mm)),
    )


def _cuff(girth_mm: float, depth_mm: float) -> Outline:
    """Folded double; the outer layer is above the fold line, next to the sleeve."""
    left, right, top = -girth_mm / 2, girth_mm / 2, 2 * depth_mm
    sleeve_edge = Edge("sleeve_edge", ((right, top), (left, top)))
    return Outline(
        "CU",
        "Cuff",
        Pairing.PAIR,
        (
            sleeve_edge,
            Edge("end_a", ((left, top), (left, 0.0))),
            Edge("inner_edge", ((left, 0.0), (right, 0.0))),
            Edge("end_b", ((right, 0.0), (right, top))),
        ),
        (notch_on("wr", sleeve_edge, girth_mm / 2),),
        (Mark("fold", ((left, depth_mm), (right, depth_mm)), "Fold"),),
        grainline=((0.0, 0.9 * top), (0.0, 0.1 * top)),
    )

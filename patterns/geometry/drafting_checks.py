"""The checks of a drafted jacket: what must fit, whether it does, and by how much it does not."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from patterns.geometry.outline import (
    Edge,
    Notch,
    Outline,
    corner_deg,
    distance_mm,
    faults,
    length_mm,
)
from patterns.geometry.seams import agreement, jacket_seams

#: A drafted seam agrees far closer than one needs to for sewing.
DRAFT_TOLERANCE_MM = 0.05
#: A curve may turn this much where it runs over a seam.
SMOOTH_WITHIN_DEG = 1.0
#: A kink is told in mm as well: how far the line is off this far from the seam.
KINK_AT_MM = 10.0


@dataclass(frozen=True, slots=True)
class DraftCheck:
    """`difference_mm` is how far the draft is off, signed where one side can be the longer; for a
    corner, how far the line strays 10 mm from the seam."""

    name: str
    holds: bool
    difference_mm: float
    detail: str


def draft_checks(
    pieces: Sequence[Outline], cap_ease_mm: float, zipper_mm: float
) -> tuple[DraftCheck, ...]:
    """All checks of a draft: seams, cap halves, zipper, smooth corners, sound outlines."""
    by_code = {piece.code: piece for piece in pieces}
    return (
        *_seam_checks(pieces, cap_ease_mm),
        *_cap_checks(by_code, cap_ease_mm),
        *_zipper_checks(by_code, zipper_mm),
        *_double_layer_checks(by_code),
        *_corner_checks(by_code),
        *(_outline_check(piece) for piece in pieces),
    )


def _seam_checks(pieces: Sequence[Outline], cap_ease_mm: float) -> Iterable[DraftCheck]:
    seams = jacket_seams(cap_ease_mm)
    names = {seam.code: seam.name for seam in seams}
    for found in agreement(pieces, seams):
        yield DraftCheck(
            f"{names[found.seam]}: both sides agree",
            abs(found.difference_mm) <= DRAFT_TOLERANCE_MM,
            found.difference_mm,
            f"{found.leads_mm:.1f} mm + {found.ease_mm:.1f} mm ease, sewn to "
            f"{found.follows_mm:.1f} mm, per jacket",
        )


def _length_check(name: str, wanted_mm: float, drawn_mm: float) -> DraftCheck:
    off_mm = drawn_mm - wanted_mm
    detail = f"{drawn_mm:.1f} mm where {wanted_mm:.1f} mm are wanted"
    return DraftCheck(name, abs(off_mm) <= DRAFT_TOLERANCE_MM, off_mm, detail)


def _cap_checks(pieces: dict[str, Outline], cap_ease_mm: float) -> Iterable[DraftCheck]:
    """The cap's top notch meets the shoulder seam with half of the ease on either side."""
    cap = pieces["SL"].edge("cap")
    top = _notch(pieces["SL"], "sh")
    split = _nearest(cap, top)
    for name, piece, line in (
        ("Back half of the cap", "BK", cap.points[: split + 1]),
        ("Front half of the cap", "FR", cap.points[split:]),
    ):
        armhole_mm = pieces[piece].edge("armhole").length_mm
        yield _length_check(name, armhole_mm + cap_ease_mm / 2, length_mm(line))


def _nearest(edge: Edge, notch: Notch) -> int:
    return min(
        range(len(edge.points)), key=lambda index: distance_mm(edge.points[index], notch.point)
    )


def _notch(piece: Outline, code: str) -> Notch:
    return next(notch for notch in piece.notches if notch.code == code)


def _zipper_checks(pieces: dict[str, Outline], zipper_mm: float) -> Iterable[DraftCheck]:
    front_mm = pieces["FR"].edge("center_front").length_mm + pieces["CO"].edge("end").length_mm
    yield _length_check("Center front and collar stand take the zipper", zipper_mm, front_mm)
    for code in ("PL", "PI"):
        side_mm = pieces[code].edge("zipper_side").length_mm
        yield _length_check(f"{pieces[code].name} is as long as the zipper", zipper_mm, side_mm)


def _double_layer_checks(pieces: dict[str, Outline]) -> Iterable[DraftCheck]:
    for code, outer, inner in (
        ("CO", "neck", "inner_neck"),
        ("CO", "end", "inner_end"),
        ("CU", "sleeve_edge", "inner_edge"),
    ):
        piece = pieces[code]
        yield _length_check(
            f"{piece.name}: inner layer covers '{outer}'",
            piece.edge(outer).length_mm,
            piece.edge(inner).length_mm,
        )


def _corner_checks(pieces: dict[str, Outline]) -> Iterable[DraftCheck]:
    front, back, sleeve = pieces["FR"], pieces["BK"], pieces["SL"]
    for name, corners, wanted_deg in (
        (
            "Armhole runs smoothly over the shoulder seam",
            (_corner(front, "armhole", "shoulder"), _corner(back, "shoulder", "armhole")),
            180.0,
        ),
        (
            "Armhole runs smoothly over the side seam",
            (_corner(front, "side", "armhole"), _corner(back, "armhole", "side")),
            180.0,
        ),
        (
            "Cap runs smoothly over the sleeve seam",
            (_corner(sleeve, "cap", "front_underarm"), _corner(sleeve, "back_underarm", "cap")),
            180.0,
        ),
        (
            "Wrist runs smoothly over the sleeve seam",
            (_corner(sleeve, "front_underarm", "wrist"), _corner(sleeve, "wrist", "back_underarm")),
            180.0,
        ),
        (
            "Neckline runs smoothly over the shoulder seam",
            (_corner(front, "shoulder", "neckline"), _corner(back, "neckline", "shoulder")),
            180.0,
        ),
        (
            "Neckline is square to the center front",
            (_corner(front, "neckline", "center_front"),),
            90.0,
        ),
        (
            "Neckline is square to the center back",
            (_corner(back, "center_back", "neckline"),),
            90.0,
        ),
    ):
        off_deg = sum(corners) - wanted_deg
        yield DraftCheck(
            name,
            abs(off_deg) <= SMOOTH_WITHIN_DEG,
            KINK_AT_MM * math.sin(math.radians(off_deg)),
            f"{sum(corners):.2f} degrees where {wanted_deg:.0f} are wanted",
        )


def _corner(piece: Outline, arriving: str, leaving: str) -> float:
    return corner_deg(piece.edge(arriving).points, piece.edge(leaving).points)


def _outline_check(piece: Outline) -> DraftCheck:
    found = faults(piece)
    return DraftCheck(
        f"{piece.name}: outline is sound", not found, 0.0, " ".join(found) or "closed and simple"
    )

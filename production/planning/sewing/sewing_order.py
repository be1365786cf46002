"""In which order the seams of a jacket are sewn within one operation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from production.planning.snapshot import SeamStretch

#: Seams of the jacket by code as it is made up flat: shoulders, sleeves set into open sides, sides
#: and sleeves, collar, zipper with its placket, hem and cuffs (common practice, no source).
MAKING = (
    "shoulder",
    "armhole",
    "side",
    "underarm",
    "neck",
    "zipper",
    "placket",
    "placket_join",
    "hem",
    "cuff_end",
    "cuff",
)


def order_of_making(stretches: Iterable[SeamStretch], pieces: Mapping[str, str]) -> tuple[str, ...]:
    """The seams of one jacket by code in the order of making; `pieces` names the piece of each
    block.

    First come the style lines, which make up the pieces, each piece for itself and its last cut
    first: what was cut apart last is joined first. Then the seams of `MAKING`. A seam that is not
    known there keeps its place behind the one that is stored before it.
    """
    by_seam: dict[str, list[SeamStretch]] = {}
    for stretch in stretches:
        by_seam.setdefault(stretch.seam, []).append(stretch)
    of_pieces: dict[str, list[str]] = {}
    joining: list[str] = []
    for seam, some in by_seam.items():
        piece = made_up_piece(some, pieces)
        if piece is None:
            joining.append(seam)
        else:
            of_pieces.setdefault(piece, []).append(seam)
    making_up = (seam for seams in of_pieces.values() for seam in reversed(seams))
    return (*making_up, *_joined(joining))


def made_up_piece(stretches: Sequence[SeamStretch], pieces: Mapping[str, str]) -> str | None:
    """The piece that a seam makes up out of its blocks, or None for one that is part of every
    jacket: in those of `MAKING` a piece may meet itself, as a sleeve does."""
    if any(stretch.seam in MAKING or not stretch.against for stretch in stretches):
        return None
    met = {
        pieces.get(block, block)
        for stretch in stretches
        for block in (stretch.block, *stretch.against)
    }
    return met.pop() if len(met) == 1 else None


def _joined(seams: Sequence[str]) -> list[str]:
    ranks: dict[str, int] = {}
    last = -1
    for seam in seams:
        last = MAKING.index(seam) if seam in MAKING else last
        ranks[seam] = last
    # The sort keeps the stored order of those that follow one another without a rank of their own.
    return sorted(seams, key=ranks.__getitem__)

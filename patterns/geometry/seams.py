"""Which edges are sewn to which, how long that is, and whether both sides agree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from patterns.geometry.blocks import Block, BlockName, StyleLine
from patterns.geometry.outline import Outline, Pairing, PatternError
from patterns.geometry.seam_sides import Sides, across_cut, across_seam, parts_of


class SeamKind(StrEnum):
    JOIN = "join"
    HEM = "hem"
    ZIPPER = "zipper"


@dataclass(frozen=True, slots=True)
class EdgeRef:
    """An edge of a piece, taken `times` times per jacket."""

    piece: str
    edge: str
    times: int


@dataclass(frozen=True, slots=True)
class Seam:
    """A seam of the jacket: `leads` are the edges it is measured on, `follows` those sewn to them
    (empty for a hem). The followers are longer by `ease_mm` per jacket, within `tolerance_mm`.
    A jacket takes `runs` unbroken stretches of sewing for it."""

    code: str
    name: str
    kind: SeamKind
    leads: tuple[EdgeRef, ...]
    follows: tuple[EdgeRef, ...] = ()
    ease_mm: float = 0.0
    tolerance_mm: float = 1.0
    topstitched: bool = False
    runs: int = 1


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether the two sides of a seam are equally long once the ease is taken off."""

    seam: str
    leads_mm: float
    follows_mm: float
    ease_mm: float
    difference_mm: float
    holds: bool


@dataclass(frozen=True, slots=True)
class SeamRun:
    """The length of a seam that lies on one block, for a whole jacket (a pair's both sides).

    Sewing goes on over crossing seams from block to block: the `runs` of a seam stand on the block
    with its longest part, and the others have none. `against` are the blocks on the other side
    along this stretch: none for a hem or a zipper, the block itself where its two edges meet.
    """

    seam: str
    kind: SeamKind
    block: str
    length_mm: float
    runs: int
    topstitched: bool
    against: tuple[str, ...] = ()


def jacket_seams(cap_ease_mm: float) -> tuple[Seam, ...]:
    """The seams of the drafted jacket, in order of sewing; `cap_ease_mm` is eased into each sleeve.

    The front and the sleeve are pairs and the back and the collar halves, so each of their edges
    is taken twice. The inner edges of the collar and the cuffs are caught in the seams of the outer
    ones, and the inside of the placket in the placket's, so they have no seam of their own.
    """
    join, hem, zipper = SeamKind.JOIN, SeamKind.HEM, SeamKind.ZIPPER
    placket = ("free_side", "top", "bottom")
    return (
        Seam(
            "placket", "Placket edges", join, _edges("PL", 1, *placket), _edges("PI", 1, *placket)
        ),
        Seam(
            "shoulder",
            "Shoulder seams",
            join,
            _edges("FR", 2, "shoulder"),
            _edges("BK", 2, "shoulder"),
            topstitched=True,
            runs=2,
        ),
        Seam(
            "armhole",
            "Armhole seams",
            join,
            (*_edges("FR", 2, "armhole"), *_edges("BK", 2, "armhole")),
            _edges("SL", 2, "cap"),
            ease_mm=2 * cap_ease_mm,
            topstitched=True,
            runs=2,
        ),
        Seam("side", "Side seams", join, _edges("FR", 2, "side"), _edges("BK", 2, "side"), runs=2),
        Seam(
            "underarm",
            "Sleeve seams",
            join,
            _edges("SL", 2, "front_underarm"),
            _edges("SL", 2, "back_underarm"),
            runs=2,
        ),
        Seam(
            "cuff_end",
            "Cuff ends",
            join,
            _edges("CU", 2, "end_a"),
            _edges("CU", 2, "end_b"),
            runs=2,
        ),
        Seam(
            "cuff",
            "Cuff seams",
            join,
            _edges("SL", 2, "wrist"),
            _edges("CU", 2, "sleeve_edge"),
            runs=2,
        ),
        Seam(
            "neck",
            "Neck seam",
            join,
            (*_edges("FR", 2, "neckline"), *_edges("BK", 2, "neckline")),
            _edges("CO", 2, "neck"),
            topstitched=True,
        ),
        Seam("hem", "Body hem", hem, (*_edges("FR", 2, "hem"), *_edges("BK", 2, "hem"))),
        Seam(
            "zipper",
            "Zipper seams",
            zipper,
            (*_edges("FR", 2, "center_front"), *_edges("CO", 2, "end")),
            topstitched=True,
            runs=2,
        ),
        Seam(
            "placket_join",
            "Placket to the left zipper seam",
            join,
            _edges("PL", 1, "zipper_side"),
            (*_edges("FR", 1, "center_front"), *_edges("CO", 1, "end")),
        ),
    )


def _edges(piece: str, times: int, *names: str) -> tuple[EdgeRef, ...]:
    return tuple(EdgeRef(piece, name, times) for name in names)


def agreement(pieces: Sequence[Outline], seams: Sequence[Seam]) -> tuple[Agreement, ...]:
    """Compares both sides of each seam, per jacket; seams without followers (hem, zipper) have
    nothing to agree with and are left out. PatternError names a piece or an edge that is missing.
    """
    by_code = {piece.code: piece for piece in pieces}
    return tuple(_agreement(by_code, seam) for seam in seams if seam.follows)


def _agreement(pieces: Mapping[str, Outline], seam: Seam) -> Agreement:
    leads_mm = _refs_mm(pieces, seam.leads, seam.code)
    follows_mm = _refs_mm(pieces, seam.follows, seam.code)
    difference_mm = follows_mm - leads_mm - seam.ease_mm
    holds = abs(difference_mm) <= seam.tolerance_mm
    return Agreement(seam.code, leads_mm, follows_mm, seam.ease_mm, difference_mm, holds)


def _refs_mm(pieces: Mapping[str, Outline], refs: Sequence[EdgeRef], seam: str) -> float:
    for ref in refs:
        if ref.piece not in pieces:
            raise PatternError(f"Seam '{seam}' joins piece {ref.piece}, which is not there.")
    return sum(ref.times * pieces[ref.piece].edge(ref.edge).length_mm for ref in refs)


def seam_runs(
    blocks: Sequence[Block], seams: Sequence[Seam], style_lines: Sequence[StyleLine]
) -> tuple[SeamRun, ...]:
    """How much of each seam lies on which block, in mm per jacket, so that thread and minutes can
    be counted in each block's color.

    A seam lies on the blocks of its leading edges, the seam of a style line on those of its left
    hand; so the lengths of a seam's runs add up to the seam. Leading edges are taken as often as
    the blocks are cut. Block codes are unique in a jacket, and `style_lines` are in the order in
    which they cut. Raises PatternError for a seam or a style line that lies on no block.
    """
    parts, every = parts_of(blocks), [_sides(seam) for seam in seams]
    found: list[SeamRun] = []
    for seam in seams:
        runs = _booked(_seam_runs(blocks, seam), seam.runs)
        found += _facing(runs, across_seam(_sides(seam), parts, every))
    for index, line in enumerate(style_lines):
        later = style_lines[index + 1 :]
        runs = _style_line_runs(blocks, line, later)
        found += _facing(runs, _across(blocks, line, later))
    return tuple(found)


def _sides(seam: Seam) -> Sides:
    leads, follows = (
        tuple((ref.piece, ref.edge) for ref in refs) for refs in (seam.leads, seam.follows)
    )
    return leads, follows


def _facing(runs: Sequence[SeamRun], against: Mapping[str, tuple[str, ...]]) -> Iterator[SeamRun]:
    return (replace(run, against=against.get(run.block, ())) for run in runs)


def _across(
    blocks: Sequence[Block], line: StyleLine, later: Sequence[StyleLine]
) -> dict[str, tuple[str, ...]]:
    """The blocks on the other hand of a style line; an opened fold has itself there."""
    left = _cut_from(line.left, later)
    if line.right is None:
        return {code: (code,) for code in left}
    hands = (left, _cut_from(line.right, later))
    cut = [
        [
            part
            for (_, edge), some in parts_of([b for b in blocks if b.code in codes]).items()
            if edge == line.code
            for part in some
        ]
        for codes in hands
    ]
    return across_cut(cut[0], cut[1])


def _seam_runs(blocks: Sequence[Block], seam: Seam) -> list[SeamRun]:
    leads: dict[str, set[str]] = {}
    for ref in seam.leads:
        leads.setdefault(ref.piece, set()).add(ref.edge)
        if not any(
            block.piece == ref.piece and any(part.edge == ref.edge for part in block.edges)
            for block in blocks
        ):
            raise PatternError(
                f"Seam '{seam.code}': no block of piece {ref.piece} has an edge '{ref.edge}'."
            )
    return [
        run
        for block in blocks
        if block.piece in leads
        for run in _runs_on(
            block,
            leads[block.piece],
            seam.code,
            seam.kind,
            seam.topstitched,
            block.pieces_per_jacket,
        )
    ]


def _style_line_runs(
    blocks: Sequence[Block], line: StyleLine, later: Sequence[StyleLine]
) -> list[SeamRun]:
    leading = _cut_from(line.left, later)
    led = [block for block in blocks if block.code in leading]
    once = line.right is None or any(_crosses_the_middle(block, line.code) for block in led)
    runs = [
        run
        for block in led
        for run in _runs_on(
            block,
            {line.code},
            line.code,
            SeamKind.JOIN,
            line.topstitched,
            # An opened fold is one seam between the two blocks of the pair.
            1 if line.right is None else block.pieces_per_jacket,
        )
    ]
    if not runs:
        raise PatternError(
            f"Style line '{line.code}' lies on no block that comes of '{line.left.code}'."
        )
    return _booked(runs, 1 if once else 2)


def _crosses_the_middle(block: Block, edge: str) -> bool:
    """Whether the edge runs over the middle of the jacket: it is there once, not on each side."""
    return (
        block.pairing is not Pairing.PAIR
        and sum(part.name == edge for part in block.draft.edges) == 1
    )


def _booked(parts: Sequence[SeamRun], runs: int) -> list[SeamRun]:
    """The parts of one seam with its runs on the longest."""
    longest = max(parts, key=lambda part: part.length_mm)
    return [replace(part, runs=runs if part is longest else 0) for part in parts]


def _cut_from(block: BlockName, later: Sequence[StyleLine]) -> set[str]:
    """The codes of the blocks that became of a block on one hand of a style line."""
    codes = {block.code}
    for cut in later:
        if cut.cuts in codes:
            codes.remove(cut.cuts)
            codes |= {name.code for name in (cut.left, cut.right) if name is not None}
    return codes


def _runs_on(
    block: Block, edges: set[str], seam: str, kind: SeamKind, topstitched: bool, times: int
) -> list[SeamRun]:
    """The part of a seam that these edges of a block are, or none."""
    lengths = [part.length_mm for part in block.edges if part.edge in edges]
    return (
        [SeamRun(seam, kind, block.code, sum(lengths) * times, 0, topstitched)] if lengths else []
    )

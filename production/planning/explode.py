"""From jackets to what is cut and sewn: pieces, cut-ticket lines, stretches of seam."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

import msgspec

from production.planning.plan import PlanError, TicketLine
from production.planning.snapshot import (
    BlockShape,
    FabricSpec,
    JacketSpec,
    OperationSpec,
    RunSnapshot,
    SeamStretch,
)

#: Block code and size.
ShapeKey = tuple[str, str]
Shapes = Mapping[ShapeKey, BlockShape]

#: A block cut on the fold is opened and lies on the cloth as one piece.
SIDES: Mapping[str, tuple[str, ...]] = {
    "pair": ("left", "right"),
    "single": ("single",),
    "fold": ("single",),
}
#: In the order of a ticket line's counts.
ALL_SIDES = ("left", "right", "single")


# No dataclass: there are a dozen for each jacket, and a struct of mere words can be kept out of the
# collector's rounds, which would make a long run take more than its share of time.
class CutPiece(msgspec.Struct, frozen=True, gc=False):
    """One piece of cloth of one jacket; `side` is left, right or single."""

    jacket: str
    block: str
    size: str
    side: str
    fabric_color: str


def shapes_by_key(shapes: Iterable[BlockShape]) -> dict[ShapeKey, BlockShape]:
    """Shapes by block code and size, in the given order; a name alone makes no other shape.

    Raises PlanError when two different shapes bear the same block code and size.
    """
    found: dict[ShapeKey, BlockShape] = {}
    for shape in shapes:
        known = found.setdefault((shape.block, shape.size), shape)
        if known is not shape and replace(known, name=shape.name) != shape:
            raise PlanError(
                f"Block {shape.block} has two different shapes in size {shape.size}. "
                "Give one of the two blocks another code."
            )
    return found


def fabrics_by_color(snapshot: RunSnapshot) -> dict[str, FabricSpec]:
    """The fabric of each fabric color, by the color's code."""
    fabrics = {fabric.code: fabric for fabric in snapshot.fabrics}
    for color in snapshot.fabric_colors:
        if color.fabric not in fabrics:
            raise PlanError(
                f"Fabric color {color.code} belongs to fabric {color.fabric}, which the run does "
                "not know. Add the fabric or choose another color."
            )
    return {color.code: fabrics[color.fabric] for color in snapshot.fabric_colors}


def explode(snapshot: RunSnapshot) -> tuple[CutPiece, ...]:
    """Every piece that is cut of every jacket, in the order of the jackets and of their blocks.

    Raises PlanError for a run without jackets, and for a jacket, block, size or fabric color that
    cannot be cut.
    """
    if not snapshot.jackets:
        raise PlanError(f"Run {snapshot.run} has no jackets. Approve a team order first.")
    shapes = shapes_by_key(snapshot.shapes)
    fabrics = fabrics_by_color(snapshot)
    sizes = {size.code for size in snapshot.sizes}
    for code, count in Counter(jacket.code for jacket in snapshot.jackets).items():
        if count > 1:
            raise PlanError(
                f"Jacket code {code} is given {count} times. Each jacket needs its own."
            )
    cuts: dict[object, tuple[tuple[str, str, str, str], ...]] = {}
    pieces: list[CutPiece] = []
    for jacket in snapshot.jackets:
        alike = (jacket.size, jacket.blocks, jacket.to_cut)
        if alike not in cuts:
            _refuse_unknown(jacket, shapes, fabrics, sizes)
            cuts[alike] = tuple(
                (block, jacket.size, side, color)
                for block, color in jacket.cut_blocks
                for side in sides_of(shapes[block, jacket.size])
            )
        pieces += [CutPiece(jacket.code, *cut) for cut in cuts[alike]]
    return tuple(pieces)


def _refuse_unknown(
    jacket: JacketSpec, shapes: Shapes, fabrics: Mapping[str, FabricSpec], sizes: set[str]
) -> None:
    if jacket.size not in sizes:
        raise PlanError(
            f"Jacket {jacket.code} is of size {jacket.size}, which the pattern does not have. "
            "Add the size or choose another."
        )
    if not jacket.blocks:
        raise PlanError(f"Jacket {jacket.code} has no blocks. Choose its blocking and colorway.")
    if len({block for block, _ in jacket.blocks}) < len(jacket.blocks):
        raise PlanError(f"Jacket {jacket.code} names a block twice. Give each block one color.")
    for block, color in jacket.blocks:
        if (block, jacket.size) not in shapes:
            raise PlanError(
                f"Jacket {jacket.code}: block {block} has no shape in size {jacket.size}. "
                "Complete the blocking in that size or choose another size."
            )
        if color not in fabrics:
            raise PlanError(
                f"Jacket {jacket.code}: block {block} is to be cut from fabric color {color}, "
                "which is not known. Add the color or choose another."
            )


def sides_of(shape: BlockShape) -> tuple[str, ...]:
    if shape.pairing not in SIDES:
        raise PlanError(
            f"Block {shape.block} in size {shape.size} has the pairing {shape.pairing!r}. "
            f"Choose one of {', '.join(SIDES)}."
        )
    return SIDES[shape.pairing]


def cut_ticket_lines(
    pieces: Iterable[CutPiece], snapshot: RunSnapshot
) -> dict[str, tuple[TicketLine, ...]]:
    """The lines of each fabric color, colors by code, lines in the order of the snapshot's shapes
    and sizes."""
    block_order = {
        block: at for at, block in enumerate(dict.fromkeys(s.block for s in snapshot.shapes))
    }
    size_order = {size.code: at for at, size in enumerate(snapshot.sizes)}
    counts = Counter((piece.fabric_color, piece.block, piece.size, piece.side) for piece in pieces)
    lines: dict[str, set[ShapeKey]] = defaultdict(set)
    for color, block, size, _ in counts:
        lines[color].add((block, size))
    return {
        color: tuple(
            TicketLine(block, size, *(counts[color, block, size, side] for side in ALL_SIDES))
            for block, size in sorted(
                shapes, key=lambda shape: (block_order[shape[0]], size_order[shape[1]])
            )
        )
        for color, shapes in sorted(lines.items())
    }


def sewn_by(operation: OperationSpec, stretch: SeamStretch) -> bool:
    """Whether the operation sews this stretch of seam; False for work that is not sewing."""
    if operation.driver != "seam_metre":
        return False
    match operation.covers:
        case "join" | "zipper" | "hem":
            return stretch.kind == operation.covers
        case "topstitched":
            return stretch.topstitched
        case "cuff":
            return stretch.seam == "cuff"
        case "named":
            return stretch.seam == operation.seam
    raise PlanError(
        f"Operation {operation.code} covers {operation.covers!r}, which names no seams. "
        "Choose join, zipper, topstitched, hem, cuff or named."
    )


#: Blocking and size: jackets alike in both have the same seams.
Cut = tuple[str, str]


def stretches_by_cut(snapshot: RunSnapshot) -> dict[Cut, tuple[SeamStretch, ...]]:
    """The stretches of seam of one jacket, by blocking and size, for the jackets of the run.

    Raises PlanError for a jacket without seams or with a seam on a block that it does not have.
    """
    found: dict[Cut, list[SeamStretch]] = defaultdict(list)
    for stretch in snapshot.seams:
        found[stretch.blocking, stretch.size].append(stretch)
    for jacket in snapshot.jackets:
        cut = (jacket.blocking, jacket.size)
        if cut not in found:
            raise PlanError(
                f"Jacket {jacket.code}: blocking {jacket.blocking} has no seams in size "
                f"{jacket.size}. Give the pattern its seams."
            )
        blocks = {block for block, _ in jacket.blocks}
        for stretch in found[cut]:
            if stretch.block not in blocks:
                raise PlanError(
                    f"Jacket {jacket.code} has no color for block {stretch.block}, on which seam "
                    f"{stretch.seam} runs. Complete its colorway."
                )
    return {cut: tuple(stretches) for cut, stretches in found.items()}

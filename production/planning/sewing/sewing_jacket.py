"""What the operation sheet of one jacket is made of, looked up in the run's snapshot."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol, TypeVar

from production.planning.explode import Cut, sewn_by, shapes_by_key, sides_of
from production.planning.plan import PlanError
from production.planning.sewing.sewing_order import order_of_making
from production.planning.sewing.sewing_parts import Colored, ElasticCut, NotionCut, Placket
from production.planning.snapshot import (
    ElasticSpec,
    JacketSpec,
    OperationSpec,
    RunSnapshot,
    SeamStretch,
    SizeSpec,
)
from production.planning.supplies.materials import (
    ELASTICS_PER_JACKET,
    ZipperChoice,
    elastic_length_mm,
    girth_mm,
    taken_each,
    zipper_choice,
)

#: Codes of the two pieces of the drafted jacket's placket.
PLACKET, PLACKET_INSIDE = "PL", "PI"


@dataclass(frozen=True, slots=True)
class JacketParts:
    """What the steps of one jacket are made of."""

    snapshot: RunSnapshot
    jacket: JacketSpec
    size: SizeSpec
    stretches: tuple[SeamStretch, ...]
    names: Mapping[str, str]
    pieces: Mapping[str, str]
    cut_pieces: int
    order: tuple[str, ...]
    zipper: ZipperChoice
    elastics: tuple[ElasticCut, ...]
    notions: tuple[NotionCut, ...]

    @classmethod
    def of(cls, snapshot: RunSnapshot, jacket: JacketSpec) -> JacketParts:
        size = one_of(snapshot.sizes, jacket.size, "size")
        cut = (jacket.blocking, jacket.size)
        stretches = tuple(one for one in snapshot.seams if (one.blocking, one.size) == cut)
        if not stretches:
            raise PlanError(
                f"Jacket {jacket.code}: blocking {jacket.blocking} has no seams in size "
                f"{jacket.size}. Give the pattern its seams."
            )
        blocks = {block for block, _ in jacket.blocks}
        shapes = [
            shape
            for (block, of_size), shape in shapes_by_key(snapshot.shapes).items()
            if of_size == jacket.size and block in blocks
        ]
        pieces = {shape.block: shape.piece for shape in shapes}
        return cls(
            snapshot=snapshot,
            jacket=jacket,
            size=size,
            stretches=stretches,
            names={shape.block: shape.name for shape in shapes},
            pieces=pieces,
            cut_pieces=sum(len(sides_of(shape)) for shape in shapes),
            order=order_of_making(stretches, pieces),
            zipper=zipper_choice(snapshot, size, jacket.zipper_color),
            elastics=tuple(_elastic(one, size) for one in snapshot.elastics),
            notions=tuple(_notions(snapshot, stretches, cut)),
        )

    def name(self, block: str) -> str:
        return self.names.get(block, block)

    @property
    def by_color(self) -> tuple[Colored, ...]:
        blocks: dict[str, list[str]] = {}
        for block, color in self.jacket.blocks:
            blocks.setdefault(color, []).append(self.name(block))
        return tuple(
            (one_of(self.snapshot.fabric_colors, color, "fabric color"), tuple(some))
            for color, some in blocks.items()
        )

    @property
    def placket(self) -> Placket | None:
        outside, inside = self._of_piece(PLACKET), self._of_piece(PLACKET_INSIDE)
        return Placket(outside, inside) if outside or inside else None

    def _of_piece(self, piece: str) -> Colored | None:
        """The blocks of a piece with the color of its first one."""
        found = [one for one in self.jacket.blocks if self.pieces.get(one[0]) == piece]
        if not found:
            return None
        color = one_of(self.snapshot.fabric_colors, found[0][1], "fabric color")
        return color, tuple(self.name(block) for block, _ in found)

    def sewn_in(self, operation: OperationSpec) -> dict[str, list[SeamStretch]]:
        """The stretches that an operation sews, by seam in the order of making."""
        found: dict[str, list[SeamStretch]] = {}
        for stretch in self.stretches:
            if sewn_by(operation, stretch):
                found.setdefault(stretch.seam, []).append(stretch)
        return {seam: found[seam] for seam in self.order if seam in found}


def _elastic(elastic: ElasticSpec, size: SizeSpec) -> ElasticCut:
    length_mm = elastic_length_mm(elastic, girth_mm(size, elastic.place))
    return ElasticCut(elastic, ELASTICS_PER_JACKET[elastic.place], length_mm)


def _notions(
    snapshot: RunSnapshot, stretches: Sequence[SeamStretch], cut: Cut
) -> Iterator[NotionCut]:
    """The notions of the workroom's own that this jacket takes, none along seams it has not."""
    seams = {stretch.seam for stretch in stretches}
    for notion in snapshot.notions:
        if notion.rule == "seam_metre" and notion.seam not in seams:
            continue
        if quantity := taken_each(notion, stretches, [cut]).get(cut):
            yield NotionCut(notion, quantity)


class Coded(Protocol):
    @property
    def code(self) -> str: ...


Spec = TypeVar("Spec", bound=Coded)


def one_of(specs: Iterable[Spec], code: str, what: str) -> Spec:
    """The one of that code; PlanError in words where the snapshot lacks it."""
    for spec in specs:
        if spec.code == code:
            return spec
    raise PlanError(f"The run does not know {what} {code}. Plan the run again.")


def length_of(stretches: Iterable[SeamStretch]) -> Decimal:
    return sum((Decimal(str(one.length_mm)) for one in stretches), Decimal(0))

"""Plies on stretches of cloth: where each may begin, and as many as find room."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from production.planning.explode import Shapes
from production.planning.flaws import Barred, barred_starts, first_start_mm
from production.planning.lays import FACE_TO_FACE, cloth_width_mm
from production.planning.plan import Lay
from production.planning.snapshot import BoltSpec, FabricSpec


@dataclass(frozen=True, slots=True)
class Ply:
    """One length of cloth of a lay."""

    lay: Lay
    number: int
    takes_mm: int

    @property
    def face_down(self) -> bool:
        return self.lay.mode == FACE_TO_FACE and self.number % 2 == 0

    @property
    def width_mm(self) -> int:
        return cloth_width_mm(self.lay)

    @property
    def key(self) -> tuple[str, int]:
        return (self.lay.lay, self.number)


@dataclass(frozen=True, slots=True)
class Laid:
    """A ply on a stretch of cloth; `skipped_mm` is what lies unused before it."""

    ply: Ply
    bolt: BoltSpec
    start_mm: int
    skipped_mm: int


@dataclass(slots=True)
class Starts:
    """Where plies may begin on bolts; what is worked out is kept for the other plies of a lay."""

    shapes: Shapes
    fabric: FabricSpec
    known: dict[tuple[str, bool, BoltSpec], tuple[Barred, ...]] = field(default_factory=dict)

    def first(self, ply: Ply, bolt: BoltSpec, from_mm: int) -> int | None:
        """The first start from `from_mm` on, None when the ply does not fit behind it."""
        if ply.width_mm > bolt.usable_width_mm:
            return None
        key = (ply.lay.lay, ply.face_down, bolt)
        if key not in self.known:
            self.known[key] = barred_starts(
                ply.lay, self.shapes, bolt, self.fabric, face_down=ply.face_down
            )
        start_mm = first_start_mm(from_mm, self.known[key])
        return start_mm if start_mm + ply.takes_mm <= bolt.end_mm else None


def packed(plies: Iterable[Ply], bolts: Sequence[BoltSpec], starts: Starts) -> list[Laid]:
    """As many of the plies as find room: the longest first, each where the least cloth is left
    behind it."""
    fronts = {bolt: bolt.start_mm for bolt in bolts}
    taken: dict[BoltSpec, list[Laid]] = defaultdict(list)
    for ply in sorted(plies, key=lambda ply: (-ply.takes_mm, ply.width_mm)):
        fitting = [
            (bolt.end_mm - start_mm, bolt.usable_width_mm, place, start_mm, bolt)
            for place, (bolt, front_mm) in enumerate(fronts.items())
            if (start_mm := starts.first(ply, bolt, front_mm)) is not None
        ]
        if fitting:
            *_, start_mm, bolt = min(fitting, key=lambda fit: fit[:3])
            taken[bolt].append(Laid(ply, bolt, start_mm, start_mm - fronts[bolt]))
            fronts[bolt] = start_mm + ply.takes_mm
    return [one for bolt, some in taken.items() for one in _in_lay_order(some, bolt, starts)]


def _in_lay_order(laid: list[Laid], bolt: BoltSpec, starts: Starts) -> list[Laid]:
    """The plies of one bolt in the order in which they are spread, where the flaws allow it."""
    front_mm = bolt.start_mm
    ordered = []
    for ply in sorted((one.ply for one in laid), key=_spread_order):
        start_mm = starts.first(ply, bolt, front_mm)
        if start_mm is None:
            return laid
        ordered.append(Laid(ply, bolt, start_mm, start_mm - front_mm))
        front_mm = start_mm + ply.takes_mm
    return ordered


def _spread_order(ply: Ply) -> tuple[int, str, int]:
    return (len(ply.lay.lay), *ply.key)  # so that L10 comes after L9

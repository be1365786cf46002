"""Plies on stretches of cloth: where each may begin, and as many as find room."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from production.planning.cloth.flaws import Barred, barred_starts, first_start_mm
from production.planning.cutting.lays import FACE_TO_FACE, cloth_width_mm
from production.planning.explode import Shapes
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

    def first(self, ply: Ply, bolt: BoltSpec, from_mm: int, to_mm: int | None = None) -> int | None:
        """The first start from `from_mm` on, None when the ply does not end before `to_mm` or the
        end of the bolt."""
        if ply.width_mm > bolt.usable_width_mm:
            return None
        key = (ply.lay.lay, ply.face_down, bolt)
        if key not in self.known:
            self.known[key] = barred_starts(
                ply.lay, self.shapes, bolt, self.fabric, face_down=ply.face_down
            )
        start_mm = first_start_mm(from_mm, self.known[key])
        return start_mm if start_mm + ply.takes_mm <= (to_mm or bolt.end_mm) else None


@dataclass(frozen=True, slots=True)
class _Free:
    """A stretch that nothing lies on yet."""

    bolt: BoltSpec
    from_mm: int
    to_mm: int


def packed(plies: Iterable[Ply], bolts: Sequence[BoltSpec], starts: Starts) -> list[Laid]:
    """As many of the plies as find room: the longest first, each where the least cloth is left
    behind it. What one leaves before it to go around a flaw is free for a shorter one."""
    free = [_Free(bolt, bolt.start_mm, bolt.end_mm) for bolt in bolts]
    taken: dict[BoltSpec, list[tuple[int, Ply]]] = defaultdict(list)
    for ply in sorted(plies, key=lambda ply: (-ply.takes_mm, ply.width_mm)):
        fitting = [
            (one.to_mm - start_mm, one.bolt.usable_width_mm, place, start_mm)
            for place, one in enumerate(free)
            if (start_mm := starts.first(ply, one.bolt, one.from_mm, one.to_mm)) is not None
        ]
        if fitting:
            *_, place, start_mm = min(fitting)
            one = free[place]
            taken[one.bolt].append((start_mm, ply))
            free[place] = replace(one, from_mm=start_mm + ply.takes_mm)
            if start_mm > one.from_mm:
                free.append(_Free(one.bolt, one.from_mm, start_mm))
    return [one for bolt, some in taken.items() for one in _along(some, bolt, starts)]


def _along(laid: list[tuple[int, Ply]], bolt: BoltSpec, starts: Starts) -> list[Laid]:
    """The plies of one bolt with what is skipped before each: in the order in which they are
    spread, where that takes no more of the bolt."""
    by_place = sorted(laid, key=lambda one: one[0])
    ordered = _in_lay_order((ply for _, ply in laid), bolt, starts)
    last_mm, last = by_place[-1]
    if ordered and ordered[-1][0] + ordered[-1][1].takes_mm <= last_mm + last.takes_mm:
        by_place = ordered
    front_mm, found = bolt.start_mm, []
    for start_mm, ply in by_place:
        found.append(Laid(ply, bolt, start_mm, start_mm - front_mm))
        front_mm = start_mm + ply.takes_mm
    return found


def _in_lay_order(
    plies: Iterable[Ply], bolt: BoltSpec, starts: Starts
) -> list[tuple[int, Ply]] | None:
    """One ply behind the other; None where the flaws leave no room for that."""
    front_mm, ordered = bolt.start_mm, []
    for ply in sorted(plies, key=_spread_order):
        start_mm = starts.first(ply, bolt, front_mm)
        if start_mm is None:
            return None
        ordered.append((start_mm, ply))
        front_mm = start_mm + ply.takes_mm
    return ordered


def _spread_order(ply: Ply) -> tuple[int, str, int]:
    return (len(ply.lay.lay), *ply.key)  # so that L10 comes after L9

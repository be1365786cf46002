"""A supplement told for the pages: blocks by ticket and color, cloth, days and money."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from production.planning.changes import ChangeCosts, HeldBlock, SupplementPlan
from production.planning.explode import ShapeKey
from production.planning.outlook import Outlook
from production.planning.snapshot import FabricColorSpec, RunSnapshot


@dataclass(frozen=True, slots=True)
class BlockGroup:
    """Blocks of one color on one ticket; `cloth_mm` is what the ticket takes, 0 for no new one."""

    ticket: str
    color: FabricColorSpec
    blocks: tuple[str, ...]
    pieces: int
    cloth_mm: int = 0


@dataclass(frozen=True, slots=True)
class Told:
    """What a supplement does with the blocks of its jacket."""

    kept: tuple[BlockGroup, ...]
    withdrawn: tuple[BlockGroup, ...]
    to_spare: tuple[BlockGroup, ...]
    from_spare: tuple[BlockGroup, ...]
    to_cut: tuple[BlockGroup, ...]

    @property
    def cloth_mm(self) -> int:
        return sum(group.cloth_mm for group in self.to_cut)


def told(plan: SupplementPlan, snapshots: Sequence[RunSnapshot]) -> Told:
    """The snapshots, of the run and of the supplement, give blocks and colors their names."""
    names = {(s.block, s.size): s.name for snapshot in snapshots for s in snapshot.shapes}
    colors = {color.code: color for snapshot in snapshots for color in snapshot.fabric_colors}
    cloth = {
        ticket.ticket: ticket.fabric_needed_mm
        for ticket in (plan.cut.cut_tickets if plan.cut else ())
    }

    def grouped(blocks: Iterable[HeldBlock]) -> tuple[BlockGroup, ...]:
        return tuple(_groups(blocks, names, colors, cloth))

    change = plan.difference
    return Told(
        grouped(change.kept),
        grouped(change.withdrawn),
        grouped(change.to_spare),
        grouped(change.from_spare),
        grouped(change.to_cut),
    )


def _groups(
    blocks: Iterable[HeldBlock],
    names: Mapping[ShapeKey, str],
    colors: Mapping[str, FabricColorSpec],
    cloth: Mapping[str, int],
) -> Iterable[BlockGroup]:
    found: dict[tuple[str, str], list[HeldBlock]] = {}
    for block in blocks:
        found.setdefault((block.ticket, block.fabric_color), []).append(block)
    for (ticket, color), some in sorted(found.items()):
        yield BlockGroup(
            ticket,
            colors[color],
            tuple(f"{b.block} {names[b.block, b.size]}, {hands(b)} in {b.size}" for b in some),
            sum(len(block.sides) for block in some),
            cloth.get(ticket, 0),
        )


def hands(block: HeldBlock) -> str:
    return "left and right" if len(block.sides) > 1 else "one"


def cost_rows(costs: ChangeCosts) -> tuple[tuple[str, Decimal], ...]:
    return (
        ("Fabric", costs.fabric),
        ("Thread", costs.thread),
        ("Notions", costs.notions),
        ("Labor", costs.labor),
        ("Overhead", costs.overhead),
        ("Total", costs.total),
    )


def days_later(before: Outlook, after: Outlook) -> int:
    """By how many calendar days the run is ready later, below zero for earlier."""
    if before.expected_finish is None or after.expected_finish is None:
        return 0
    return (after.expected_finish - before.expected_finish).days

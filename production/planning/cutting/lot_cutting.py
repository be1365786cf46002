"""Better lays of a ticket that keep its dye lots apart: looked for part by part.

Lays that mix the jackets of two lots would have all of their cloth bought anew.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from time import monotonic

from production.planning.cloth.remnants import (
    fit_in_rows,
    fit_nested,
    lines_less,
    placed_area_mm2,
    remnant_lays,
)
from production.planning.cloth.ticket_cloth import (
    LotPart,
    TicketCloth,
    lot_parts,
    needs_by_color,
    numbered_lays,
)
from production.planning.cutting import cutting
from production.planning.cutting.cut_orders import Aim, aim_price
from production.planning.cutting.cutting import IsStopped, LayChoice, NestStore, TicketToCut
from production.planning.cutting.cutting_prices import cutting_price
from production.planning.cutting.lays import asked, laid_out
from production.planning.cutting.rows import polygon_area_mm2
from production.planning.cutting.savings import lay_sums
from production.planning.explode import cut_ticket_lines, explode, fabrics_by_color, shapes_by_key
from production.planning.nesting import NESTED
from production.planning.plan import Lay
from production.planning.snapshot import RunSnapshot

ROWS = "rows"
#: A lay, how it was laid out, and what the cutter should know of it.
Told = tuple[Lay, str, str]


def parts_by_ticket(snapshot: RunSnapshot) -> dict[str, tuple[LotPart, ...]]:
    """The parts of each ticket of a run, by the codes that `planner.plan_run` gives them."""
    pieces = explode(snapshot)
    shapes, fabrics, needs = (
        shapes_by_key(snapshot.shapes),
        fabrics_by_color(snapshot),
        needs_by_color(pieces),
    )
    found = {}
    for number, (color, lines) in enumerate(cut_ticket_lines(pieces, snapshot).items(), start=1):
        fabric = fabrics[color]
        code = f"{snapshot.run}-T{number}"
        found[code] = lot_parts(
            TicketCloth(
                ticket=code,
                lines=lines,
                needs=needs[color],
                shapes=shapes,
                fabric=fabric,
                workroom=snapshot.workroom,
                price=cutting_price(fabric, snapshot.operations, snapshot.workroom),
                bolts=tuple(bolt for bolt in snapshot.bolts if bolt.fabric_color == color),
            )
        )
    return found


def choices_by_lot(
    parts: Sequence[LotPart],
    seconds: float,
    store: NestStore,
    *,
    seed: int = 0,
    on_better: Callable[[LayChoice], None] | None = None,
    is_stopped: IsStopped | None = None,
) -> tuple[LayChoice, ...]:
    """As `cutting.lay_choices` for a ticket in parts, which share the seconds by their area. Lays
    on remnants stay as they are, unless nesting covers more of these, and a part that a dye lot
    serves gets no lays that it does not."""
    tell = on_better or (lambda _: None)
    ways = [_Ways(part) for part in parts]
    if len(parts) == 1 and not parts[0].cloth.bolts:
        return cutting.lay_choices(
            ways[0].to_cut, seconds, store, seed=seed, on_better=on_better, is_stopped=is_stopped
        )
    tell(_joined(ways, ROWS))
    areas = [_area_mm2(part) for part in parts]
    for mine, area_mm2 in zip(ways, areas, strict=True):
        if is_stopped and is_stopped():
            continue
        began = monotonic()
        mine.fill_remnants()

        def keep(choice: LayChoice, mine: _Ways = mine) -> None:
            if mine.take(choice):
                tell(_joined(ways, choice.aim))

        share = max(seconds * area_mm2 / sum(areas) - (monotonic() - began), 0.0)
        found = mine.remnants_only
        if mine.to_cut.lines:
            found = cutting.lay_choices(
                mine.to_cut, share, store, seed=seed, on_better=keep, is_stopped=is_stopped
            )
        for choice in found:
            keep(choice)
    return tuple(_joined(ways, aim) for aim in (ROWS, *Aim))


class _Ways:
    """The best lays of one part so far, by aim, each with its method and note."""

    def __init__(self, part: LotPart) -> None:
        self.part = part
        self.rows: tuple[Told, ...] = tuple((lay, ROWS, "") for lay in part.lays)
        self.fixed = self.rows[: part.on_remnants]
        self.best: dict[str, tuple[Told, ...]] = {}

    @property
    def to_cut(self) -> TicketToCut:
        """What the remnants leave."""
        cloth = self.part.cloth
        return TicketToCut(
            ticket=cloth.ticket,
            lines=lines_less(cloth.lines, laid_out([lay for lay, _, _ in self.fixed])),
            shapes=cloth.shapes,
            fabric=cloth.fabric,
            workroom=cloth.workroom,
            price=cloth.price,
            bolts=cloth.bolts,
        )

    @property
    def remnants_only(self) -> tuple[LayChoice, ...]:
        """The choices when the remnants leave nothing to be cut."""
        zero = Decimal(0)
        return tuple(LayChoice(aim.value, (), 0, zero, zero, {}) for aim in Aim)

    def fill_remnants(self) -> None:
        """Fills the remnants with true outlines, where more of them is covered like this."""
        cloth = self.part.cloth
        remnants = [bolt for bolt in cloth.bolts if bolt.is_remnant]
        if not remnants or self.part.use.to_buy_mm:
            return
        lays, _ = remnant_lays(
            cloth.lines,
            cloth.shapes,
            remnants,
            cloth.fabric,
            cloth.workroom,
            fit_in_rows,
            fit_nested,
        )
        in_rows = [lay for lay, _, _ in self.fixed]
        if _covered_mm2(lays, cloth) > _covered_mm2(in_rows, cloth):
            rows = {lay.placements for lay in in_rows}
            self.fixed = tuple(
                (lay, ROWS if lay.placements in rows else NESTED, "") for lay in lays
            )

    def take(self, choice: LayChoice) -> bool:
        """Keeps better lays, unless the cloth on hand does not hold them."""
        if choice.aim == ROWS:
            return False
        cloth = self.part.cloth
        told = (*self.fixed, *((lay, *choice.methods[lay.lay]) for lay in choice.lays))
        lays = numbered_lays(cloth.ticket, [lay for lay, _, _ in told])
        price = aim_price(cloth.price, cloth.workroom, Aim(choice.aim))
        allowance_mm = cloth.fabric.end_allowance_mm
        known = [lay for lay, _, _ in self.of(choice.aim)]
        if price.of(lays, allowance_mm) >= price.of(known, allowance_mm) * (1 - cutting.BETTER_BY):
            if lays == numbered_lays(cloth.ticket, known):
                self.best[choice.aim] = told  # with why they are still rows
            return False
        if self.part.use.to_buy_mm or not self.part.use_of(lays).to_buy_mm:
            self.best[choice.aim] = told
            return True
        return False

    def of(self, aim: str) -> tuple[Told, ...]:
        return self.best.get(aim, self.rows)


def _joined(ways: Sequence[_Ways], aim: str) -> LayChoice:
    told = [each for mine in ways for each in mine.of(aim)]
    cloth = ways[0].part.cloth
    lays = numbered_lays(cloth.ticket, [lay for lay, _, _ in told])
    sums = lay_sums(lays, cloth.fabric, cloth.price)
    return LayChoice(
        aim=str(aim),
        lays=lays,
        fabric_mm=sums.fabric_mm,
        cutting_minutes=sums.cutting_minutes,
        cost=sums.cost,
        methods={
            lay.lay: (method, note) for lay, (_, method, note) in zip(lays, told, strict=True)
        },
    )


def _covered_mm2(lays: Sequence[Lay], cloth: TicketCloth) -> float:
    return sum(placed_area_mm2(lay.placements, cloth.shapes) for lay in lays)


def _area_mm2(part: LotPart) -> float:
    return sum(
        count * polygon_area_mm2(part.cloth.shapes[block, size].cut_outline_mm)
        for (block, size, _), count in asked(part.cloth.lines).items()
    )

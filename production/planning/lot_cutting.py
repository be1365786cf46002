"""Better lays of a ticket that keep its dye lots apart: looked for part by part.

Lays that mix the jackets of two lots would have all of their cloth bought anew.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from production.planning import cutting
from production.planning.cut_orders import Aim
from production.planning.cutting import IsStopped, LayChoice, NestStore, TicketToCut
from production.planning.cutting_prices import cutting_price
from production.planning.explode import cut_ticket_lines, explode, fabrics_by_color, shapes_by_key
from production.planning.lays import asked, laid_out
from production.planning.plan import Lay
from production.planning.remnants import lines_less
from production.planning.rows import polygon_area_mm2
from production.planning.savings import lay_sums
from production.planning.snapshot import RunSnapshot
from production.planning.ticket_cloth import (
    LotPart,
    TicketCloth,
    lot_parts,
    needs_by_color,
    numbered_lays,
)

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
    on remnants stay as they are, and a part that a dye lot serves gets no lays that it does not."""
    tell = on_better or (lambda _: None)
    ways = [_Ways(part) for part in parts]
    if len(parts) == 1 and not parts[0].cloth.bolts:
        return cutting.lay_choices(
            ways[0].to_cut, seconds, store, seed=seed, on_better=on_better, is_stopped=is_stopped
        )
    tell(_joined(ways, ROWS))
    areas = [_area_mm2(part) for part in parts]
    for mine, area_mm2 in zip(ways, areas, strict=True):
        if not mine.to_cut.lines or (is_stopped and is_stopped()):
            continue

        def keep(choice: LayChoice, mine: _Ways = mine) -> None:
            if mine.take(choice):
                tell(_joined(ways, choice.aim))

        share = seconds * area_mm2 / sum(areas)
        cutting.lay_choices(
            mine.to_cut, share, store, seed=seed, on_better=keep, is_stopped=is_stopped
        )
    return tuple(_joined(ways, aim) for aim in (ROWS, *Aim))


class _Ways:
    """The best lays of one part so far, by aim, each with its method and note."""

    def __init__(self, part: LotPart) -> None:
        cloth = part.cloth
        self.part = part
        self.fixed = tuple((lay, ROWS, "") for lay in part.lays[: part.on_remnants])
        self.rows: tuple[Told, ...] = tuple((lay, ROWS, "") for lay in part.lays)
        self.best: dict[str, tuple[Told, ...]] = {}
        laid = laid_out(part.lays[: part.on_remnants])
        self.to_cut = TicketToCut(
            ticket=cloth.ticket,
            lines=lines_less(cloth.lines, laid),
            shapes=cloth.shapes,
            fabric=cloth.fabric,
            workroom=cloth.workroom,
            price=cloth.price,
            bolts=cloth.bolts,
        )

    def take(self, choice: LayChoice) -> bool:
        """Keeps better lays, unless the cloth on hand does not hold them."""
        if choice.aim == ROWS:
            return False
        told = (*self.fixed, *((lay, *choice.methods[lay.lay]) for lay in choice.lays))
        lays = numbered_lays(self.part.cloth.ticket, [lay for lay, _, _ in told])
        is_served = not self.part.use_of(lays).to_buy_mm
        if self.part.use.to_buy_mm or is_served:
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


def _area_mm2(part: LotPart) -> float:
    return sum(
        count * polygon_area_mm2(part.cloth.shapes[block, size].cut_outline_mm)
        for (block, size, _), count in asked(part.cloth.lines).items()
    )

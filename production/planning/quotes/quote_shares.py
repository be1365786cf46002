"""What a jacket of one size and colorway has of the costs of a run.

Cloth goes by the area that is cut, so that each block carries its share of the cloth around it;
thread and notions by what the jacket takes of them; labor by its minutes. The parts of a line add
up to the line to the smallest unit of the currency.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from production.planning.costs import LINES, CostPart
from production.planning.cutting.rows import polygon_area_mm2
from production.planning.explode import shapes_by_key, sides_of
from production.planning.minutes.labor import JacketMinutes
from production.planning.quotes.quote_mix import Weight, kind_of, split
from production.planning.snapshot import JacketSpec, RunSnapshot
from production.planning.supplies.materials import along_seams, notion_needs
from production.planning.threads.thread import thread_needs


@dataclass(frozen=True, slots=True)
class Kind:
    """One jacket of a kind: the area that is cut of each fabric color, the metres of each thread
    color, and the money of its notions."""

    code: str
    size: str
    colorway: str
    area_mm2: Mapping[str, float]
    thread_m: Mapping[str, Decimal]
    notions: Decimal


@dataclass(frozen=True, slots=True)
class KindCost:
    """The jackets of one size and colorway together: their shares of the lines, of the cost, and of
    the gross price, were each paid for by what it costs."""

    size: str
    colorway: str
    jackets: int
    fabric: Decimal
    thread: Decimal
    notions: Decimal
    labor: Decimal
    overhead: Decimal
    waste: Decimal
    cost: Decimal
    gross: Decimal


def kinds_of(snapshot: RunSnapshot) -> tuple[Kind, ...]:
    """What each jacket of the snapshot takes alone."""
    shapes = shapes_by_key(snapshot.shapes)
    areas = {
        key: polygon_area_mm2(shape.cut_outline_mm) * len(sides_of(shape))
        for key, shape in shapes.items()
    }
    found = []
    for jacket in snapshot.jackets:
        area_mm2: Counter[str] = Counter()
        for block, color in jacket.blocks:
            area_mm2[color] += areas[block, jacket.size]  # type: ignore[assignment]
        alone = _alone(snapshot, jacket)
        thread_m: dict[str, Decimal] = defaultdict(Decimal)
        for need in thread_needs(alone):
            thread_m[need.thread_color] += need.metres
        notions = sum((one.need.quantity * one.price for one in notion_needs(alone)), Decimal(0))
        found.append(
            Kind(jacket.code, jacket.size, jacket.colorway, dict(area_mm2), dict(thread_m), notions)
        )
    return tuple(found)


def _alone(snapshot: RunSnapshot, jacket: JacketSpec) -> RunSnapshot:
    cut = (jacket.blocking, jacket.size)
    seams = tuple(seam for seam in snapshot.seams if (seam.blocking, seam.size) == cut)
    notions = along_seams(snapshot.notions, seams)
    return replace(snapshot, jackets=(jacket,), seams=seams, notions=notions)


def costs_by_kind(
    run: RunSnapshot,
    kinds: Sequence[Kind],
    parts: Sequence[CostPart],
    minutes: JacketMinutes,
    gross: Decimal,
) -> tuple[KindCost, ...]:
    """The costs of a run by kind, those alone of which it has jackets, in their order."""
    counts = Counter(map(kind_of, run.jackets))
    made = [kind for kind in kinds if counts[kind.code]]
    worked: dict[str, Decimal] = defaultdict(Decimal)
    for jacket in run.jackets:
        worked[kind_of(jacket)] += sum(minutes[jacket.code].values())
    lines = {line: [Decimal(0)] * len(made) for line in LINES}

    def weights(line: str, of: str) -> Sequence[Weight]:
        match line:
            case "fabric":
                return [counts[kind.code] * kind.area_mm2.get(of, 0.0) for kind in made]
            case "thread":
                return [counts[kind.code] * kind.thread_m.get(of, Decimal(0)) for kind in made]
            case "notions":
                return [counts[kind.code] * kind.notions for kind in made]
            case "labor":
                return [worked[kind.code] for kind in made]
        return lines[of]  # a share of another line goes as that line does

    for (line, of), amount in _amounts(parts).items():
        shares = split(amount, weights(line, of), run.workroom.currency)
        lines[line] = [had + more for had, more in zip(lines[line], shares, strict=True)]
    costs = [sum((lines[line][at] for line in LINES), Decimal(0)) for at in range(len(made))]
    prices = split(gross, costs, run.workroom.currency)
    return tuple(
        KindCost(
            size=kind.size,
            colorway=kind.colorway,
            jackets=counts[kind.code],
            **{line: lines[line][at] for line in LINES},
            cost=costs[at],
            gross=prices[at],
        )
        for at, kind in enumerate(made)
    )


def _amounts(parts: Sequence[CostPart]) -> dict[tuple[str, str], Decimal]:
    """Amounts by line and by what goes its own way: each color, but all notions as one."""
    found: dict[tuple[str, str], Decimal] = defaultdict(Decimal)
    for part in parts:
        found[part.line, "" if part.line == "notions" else part.of] += part.amount
    return found


@dataclass(frozen=True, slots=True)
class Shared:
    """Jackets that are alike in one respect, as in their size, together."""

    name: str
    jackets: int
    cost: Decimal
    gross: Decimal
    lines: tuple[Decimal, ...]


def together(kinds: Sequence[KindCost], respect: str) -> tuple[Shared, ...]:
    """By `size` or by `colorway`, in the order in which each comes first; the lines are those of
    `LINES`. The sums are those of the kinds."""
    names = dict.fromkeys(getattr(kind, respect) for kind in kinds)
    found = []
    for name in names:
        alike = [kind for kind in kinds if getattr(kind, respect) == name]
        found.append(
            Shared(
                name,
                sum(kind.jackets for kind in alike),
                sum((kind.cost for kind in alike), Decimal(0)),
                sum((kind.gross for kind in alike), Decimal(0)),
                tuple(sum((getattr(kind, line) for kind in alike), Decimal(0)) for line in LINES),
            )
        )
    return tuple(found)

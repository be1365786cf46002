"""What cutting costs: the cloth that is spread, and the minutes of laying up and cutting out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from production.planning.cutting.lays import spread_count, width_share
from production.planning.plan import Lay
from production.planning.snapshot import FabricSpec, OperationSpec, WorkroomSpec


@dataclass(frozen=True, slots=True)
class CuttingMinutes:
    """Minutes with relaxation allowance of setting up a lay, spreading a length, cutting round an
    outline."""

    lay: Decimal = Decimal(0)
    ply: Decimal = Decimal(0)
    outline: Decimal = Decimal(0)

    def of(self, lays: Iterable[Lay]) -> Decimal:
        return sum(
            (
                self.lay + self.ply * spread_count(lay) + self.outline * len(lay.placements)
                for lay in lays
            ),
            Decimal(0),
        )


@dataclass(frozen=True, slots=True)
class CuttingPrice:
    """What lays are weighed by, in money: a millimetre of spread cloth, a lay, a spread length, a
    cut outline; and the minutes that the last three are paid for.

    Cloth is valued by area: `cloth_mm` is for cloth of the fabric's width, `width_mm`, and a lay on
    a remnant or bolt of half of that width costs half as much per mm. Without a width all cloth
    counts as equally wide.
    """

    cloth_mm: float
    lay: float
    ply: float
    outline: float
    minutes: CuttingMinutes = CuttingMinutes()
    width_mm: int | None = None

    def of(self, lays: Iterable[Lay], end_allowance_mm: int) -> float:
        return sum(self._of_lay(lay, end_allowance_mm) for lay in lays)

    def _of_lay(self, lay: Lay, end_allowance_mm: int) -> float:
        share = width_share(lay, self.width_mm) if self.width_mm else 1.0
        cloth = self.cloth_mm * share * (lay.length_mm + 2 * end_allowance_mm)
        return (
            self.lay + spread_count(lay) * (self.ply + cloth) + self.outline * len(lay.placements)
        )

    def on_width(self, width_mm: int) -> CuttingPrice:
        """The same for lays on cloth of another width, each of which takes all of it."""
        share = width_mm / self.width_mm if self.width_mm else 1.0
        return replace(self, cloth_mm=self.cloth_mm * share, width_mm=width_mm)

    def weighed(self, workroom: WorkroomSpec) -> CuttingPrice:
        """The price as the workroom weighs cloth against cutting."""
        cloth, cutting = float(workroom.cloth_weight), float(workroom.cutting_weight)
        return replace(
            self,
            cloth_mm=cloth * self.cloth_mm,
            lay=cutting * self.lay,
            ply=cutting * self.ply,
            outline=cutting * self.outline,
        )


def cutting_price(
    fabric: FabricSpec, operations: Iterable[OperationSpec], workroom: WorkroomSpec
) -> CuttingPrice:
    """The price of cutting from the fabric's price and the minutes of the cut operations; as in the
    costs of a run, cloth shrinks before it is spread and the relaxation allowance is paid."""
    minutes = dict.fromkeys(("lay", "ply", "outline"), Decimal(0))
    for operation in operations:
        if operation.stage == "cut" and operation.driver in minutes:
            minutes[operation.driver] += operation.minutes_each * (
                1 + workroom.relaxation_allowance
            )
    paid = {on: float(each * workroom.labor_per_hour / 60) for on, each in minutes.items()}
    return CuttingPrice(
        cloth_mm=float(fabric.price_per_m / 1000 / (1 - fabric.shrinkage)),
        **paid,
        minutes=CuttingMinutes(**minutes),
        width_mm=fabric.usable_width_mm,
    )

"""The plan of a run, field for field as it is printed by `make_plan --format json` (schema 1)."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from decimal import Decimal

from production.planning.snapshot import Line


class PlanError(ValueError):
    """A run that cannot be planned; the message says which block, size or material and why."""


@dataclass(frozen=True, slots=True)
class PlannedJacket:
    code: str
    member: str
    size: str
    colorway: str
    blocks: dict[str, str]


@dataclass(frozen=True, slots=True)
class PlannedBlock:
    block: str
    piece: str
    size: str
    pairing: str
    cut_outline_mm: Line
    stitch_outline_mm: Line


@dataclass(frozen=True, slots=True)
class TicketLine:
    block: str
    size: str
    left: int
    right: int
    single: int


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a block lies: mirror its cut outline across the grainline (y -> -y) when `mirrored`,
    turn it by `rotation_deg` about the origin, move it by (x_mm, y_mm)."""

    block: str
    size: str
    side: str
    x_mm: float
    y_mm: float
    rotation_deg: float
    mirrored: bool


@dataclass(frozen=True, slots=True)
class Lay:
    lay: str
    mode: str
    plies: int
    usable_width_mm: int
    length_mm: float
    efficiency: float
    lower_bound_mm: float
    box_rows_mm: float
    placements: tuple[Placement, ...]


@dataclass(frozen=True, slots=True)
class CutTicket:
    ticket: str
    fabric: str
    fabric_color: str
    nap: str
    lines: tuple[TicketLine, ...]
    lays: tuple[Lay, ...]
    fabric_needed_mm: int
    from_stock_mm: int
    to_buy_mm: int
    #: What cannot be kept of dye lots and which cloth is not used, with the reasons.
    cloth_notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ThreadNeed:
    """Thread of one color for one operation. `spools` are what it takes alone: operations on one
    machine share theirs, and `thread.spool_needs` counts what is bought. `method` is formula,
    ratio or sample; of `metres`, `needle_metres` run through needles, the rest through bobbins or
    loopers."""

    thread_color: str
    use: str
    stitch_type: str
    metres: Decimal
    spools: int
    method: str = "formula"
    needle_metres: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class NotionNeed:
    """So much of a notion for the jackets of a size. `ware` is the key of what is bought for it,
    as `zipper:spruce:650`."""

    item: str
    size: str
    color: str
    quantity: Decimal
    unit: str
    ware: str = ""


@dataclass(frozen=True, slots=True)
class OperationNeed:
    """`standard_minutes` of one operation over the run, before the relaxation allowance."""

    operation: str
    stage: str
    standard_minutes: Decimal
    count: int


@dataclass(frozen=True, slots=True)
class Changeover:
    kind: str
    count: int
    minutes: Decimal


@dataclass(frozen=True, slots=True)
class Labor:
    """`with_allowance_minutes` = (standard minutes + changeovers) x (1 + relaxation allowance)."""

    operations: tuple[OperationNeed, ...]
    changeovers: tuple[Changeover, ...]
    standard_minutes: Decimal
    with_allowance_minutes: Decimal


@dataclass(frozen=True, slots=True)
class Costs:
    """`total` is the sum of the lines; plans from before there was waste have none of it."""

    fabric: Decimal
    thread: Decimal
    notions: Decimal
    labor: Decimal
    overhead: Decimal
    total: Decimal
    per_jacket: Decimal
    waste: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Schedule:
    latest_cutting_start: datetime.date
    expected_finish: datetime.date
    chance_on_time: float


@dataclass(frozen=True, slots=True)
class Check:
    check: str
    holds: bool
    detail: str


@dataclass(frozen=True, slots=True)
class Plan:
    schema: int
    run: str
    team_orders: tuple[str, ...]
    deadline: datetime.date
    jackets: tuple[PlannedJacket, ...]
    blocks: tuple[PlannedBlock, ...]
    cut_tickets: tuple[CutTicket, ...]
    threads: tuple[ThreadNeed, ...]
    notions: tuple[NotionNeed, ...]
    labor: Labor
    costs: Costs
    schedule: Schedule
    checks: tuple[Check, ...]

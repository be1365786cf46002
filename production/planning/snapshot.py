"""What a plan is computed from: one frozen, self-contained picture of a run.

Lengths are millimetres, minutes and money decimals, codes are those of the models. The snapshot is
stored with the run, so that a later change of a pattern or a price leaves its paper as it was.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from decimal import Decimal

from patterns.geometry.picture import Picture

Point = tuple[float, float]
Line = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class BlockShape:
    """A block in one size, in the lay frame of `patterns.geometry.blocks.Block`."""

    block: str
    name: str
    piece: str
    size: str
    pairing: str
    cut_outline_mm: Line
    stitch_outline_mm: Line
    notches: tuple[tuple[Point, Point, int], ...] = ()
    marks: tuple[tuple[str, Line], ...] = ()
    grainline: tuple[Point, Point] = ((0.0, 0.0), (100.0, 0.0))
    is_free_on_grain: bool = False


@dataclass(frozen=True, slots=True)
class SeamStretch:
    """The length of one seam that lies on one block, for one jacket of a blocking and a size.

    `seam` is the seam's or style line's code, `kind` is join, hem or zipper, `runs` how many
    separate stretches of sewing it takes.
    """

    blocking: str
    size: str
    seam: str
    name: str
    kind: str
    block: str
    length_mm: float
    runs: int
    topstitched: bool
    #: Blocks on the other side of the seam, along this stretch.
    against: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JacketSpec:
    """One jacket: `blocks` pairs each of its blocks with the fabric color it is cut from. `to_cut`
    names those that this plan cuts; None, as in every run, stands for all."""

    code: str
    team_order: str
    member: str
    size: str
    blocking: str
    colorway: str
    blocks: tuple[tuple[str, str], ...]
    zipper_color: str
    topstitch_thread: str | None = None
    name_on_jacket: str = ""
    note: str = ""
    to_cut: tuple[str, ...] | None = None

    @property
    def cut_blocks(self) -> tuple[tuple[str, str], ...]:
        """The blocks that this plan cuts; in a supplement they are fewer than the jacket has."""
        if self.to_cut is None:
            return self.blocks
        return tuple((block, color) for block, color in self.blocks if block in self.to_cut)


@dataclass(frozen=True, slots=True)
class SizeSpec:
    code: str
    name: str
    age_group: str
    zipper_mm: int
    hem_girth_mm: int
    cuff_girth_mm: int


@dataclass(frozen=True, slots=True)
class FabricSpec:
    code: str
    name: str
    fiber: str
    usable_width_mm: int
    nap: str
    highest_plies: int
    shrinkage: Decimal
    end_allowance_mm: int
    compressed_thickness_mm: Decimal
    price_per_m: Decimal


@dataclass(frozen=True, slots=True)
class FabricColorSpec:
    code: str
    name: str
    fabric: str
    hex_color: str
    hatch: str
    thread: str


@dataclass(frozen=True, slots=True)
class FlawSpec:
    """A fault in the cloth: the corner nearest to the start of the bolt, and how far it reaches."""

    at_mm: int
    across_mm: int
    length_mm: int
    width_mm: int


@dataclass(frozen=True, slots=True)
class BoltSpec:
    """Cloth on hand that nothing is planned on yet: from `start_mm` to `end_mm` along the bolt or
    remnant, in whose positions the flaws are told."""

    code: str
    fabric_color: str
    dye_lot: str
    usable_width_mm: int
    start_mm: int
    end_mm: int
    is_remnant: bool = False
    flaws: tuple[FlawSpec, ...] = ()


@dataclass(frozen=True, slots=True)
class ThreadSpec:
    code: str
    name: str
    hex_color: str
    spool_m: int
    price_per_spool: Decimal
    cone_m: int | None = None
    price_per_cone: Decimal | None = None


@dataclass(frozen=True, slots=True)
class ZipperSpec:
    color_code: str
    color_name: str
    length_mm: int
    price: Decimal


@dataclass(frozen=True, slots=True)
class ElasticSpec:
    place: str
    name: str
    width_mm: int
    stretch_factor: Decimal
    join_mm: int
    price_per_m: Decimal


@dataclass(frozen=True, slots=True)
class NotionSpec:
    """A notion of the workroom's own and the rule by which a jacket takes it: `quantity` per jacket
    or per metre of `seam`, or that of `by_size`, by code of the size."""

    code: str
    name: str
    rule: str
    unit: str
    quantity: Decimal
    price: Decimal
    seam: str = ""
    differs_by_size: bool = False
    by_size: tuple[tuple[str, Decimal], ...] = ()


@dataclass(frozen=True, slots=True)
class OperationSpec:
    """One step of work; see `patterns.models.Operation` for what drives it."""

    code: str
    name: str
    stage: str
    driver: str
    covers: str = ""
    minutes_each: Decimal = Decimal(0)
    minutes_per_metre: Decimal = Decimal(0)
    machine: str = ""
    foot: str = ""
    stitch_type: str = ""
    stitch_length_mm: Decimal | None = None
    seam_width_mm: Decimal = Decimal(0)
    rows: int = 1
    cloth_layers: int = 2
    contrast_thread: bool = False
    thread_rule: str = "block"
    own_thread: str | None = None
    takes_cones: bool = False
    seam: str = ""
    skill: str = ""
    #: Thread per length of seam and row by an unravelled sample: needle; bobbin or looper.
    needle_factor: Decimal | None = None
    under_factor: Decimal | None = None


@dataclass(frozen=True, slots=True)
class WorkroomSpec:
    name: str
    length_unit: str
    currency: str
    table_length_mm: int
    block_gap_mm: int
    seam_allowance_mm: int
    hem_allowance_mm: int
    people: int
    minutes_per_person_day: int
    working_weekdays: str
    relaxation_allowance: Decimal
    thread_waste: Decimal
    thread_tail_mm: int
    labor_per_hour: Decimal
    overhead: Decimal
    minutes_spread: Decimal
    tool_highest_plies: int = 8
    spreading: str = "face_up"
    cloth_weight: Decimal = Decimal(1)
    cutting_weight: Decimal = Decimal(1)
    over_cut: int = 0
    thread_method: str = "formula"
    thread_change_minutes: Decimal = Decimal("3.0")
    further_spool_minutes: Decimal = Decimal("1.5")
    foot_change_minutes: Decimal = Decimal("1.0")
    stitch_change_minutes: Decimal = Decimal(0)
    learning_rate: Decimal | None = None
    zipper_rule: str = "shorten"
    exact_zipper_extra: Decimal = Decimal(0)
    fabric_waste: Decimal = Decimal(0)
    notion_waste: Decimal = Decimal(0)
    margin: Decimal = Decimal(0)
    tax_rate: Decimal = Decimal(0)
    deposit_share: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class OrderSpec:
    code: str
    club: str
    title: str
    deadline: datetime.date


@dataclass(frozen=True, slots=True)
class BlockingSpec:
    """A blocking by code and name, with its pictures in a middle size."""

    code: str
    name: str
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True, slots=True)
class RunSnapshot:
    """Everything a plan needs. `planned_on` is the day that the schedule counts from."""

    run: str
    deadline: datetime.date
    planned_on: datetime.date
    orders: tuple[OrderSpec, ...]
    jackets: tuple[JacketSpec, ...]
    sizes: tuple[SizeSpec, ...]
    shapes: tuple[BlockShape, ...]
    seams: tuple[SeamStretch, ...]
    operations: tuple[OperationSpec, ...]
    fabrics: tuple[FabricSpec, ...]
    fabric_colors: tuple[FabricColorSpec, ...]
    threads: tuple[ThreadSpec, ...]
    zippers: tuple[ZipperSpec, ...]
    elastics: tuple[ElasticSpec, ...]
    workroom: WorkroomSpec
    blockings: tuple[BlockingSpec, ...] = ()
    bolts: tuple[BoltSpec, ...] = ()
    notions: tuple[NotionSpec, ...] = ()

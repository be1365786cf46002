"""A change after the freeze: what is cut already, what is cut in addition, and what it costs.

A supplement holds the difference alone. The tickets of the run, and of earlier supplements, stay as
they were printed; what is no longer needed is cut and becomes a spare part, or is not cut yet and
stands on the supplement as withdrawn: "do not cut".
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal

from production.planning.checks import differences, named_check
from production.planning.costs import rounded
from production.planning.explode import shapes_by_key, sides_of
from production.planning.minutes.labor import plan_labor
from production.planning.plan import Check, Plan
from production.planning.snapshot import JacketSpec, RunSnapshot
from production.planning.standing import END, STAGES

SCHEMA = 1
CUT, SEW, FINISH = STAGES[:3]
WITH_SUPPLEMENTS = (
    "with supplements and recuts every piece is in one jacket or among the spare parts"
)

#: Block, size, side and fabric color: pieces alike in all four can stand for each other.
Piece = tuple[str, str, str, str]
Minutes = Mapping[str, Decimal]


@dataclass(frozen=True, slots=True)
class HeldBlock:
    """A block that a jacket has been given: the ticket it stands on, and whether it is cut."""

    block: str
    size: str
    fabric_color: str
    sides: tuple[str, ...]
    ticket: str = ""
    cut: bool = False

    @property
    def kind(self) -> tuple[str, str, str]:
        return (self.block, self.size, self.fabric_color)

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return tuple((self.block, self.size, side, self.fabric_color) for side in self.sides)


@dataclass(frozen=True, slots=True)
class SparePiece:
    """A cut piece that lies among the spare parts; `number` tells it from others alike."""

    number: int
    piece: Piece
    ticket: str


@dataclass(frozen=True, slots=True)
class Difference:
    """What a change does to the blocks of one jacket. `spares_taken` are the numbers of the spare
    parts that serve `from_spare`."""

    kept: tuple[HeldBlock, ...] = ()
    withdrawn: tuple[HeldBlock, ...] = ()
    to_spare: tuple[HeldBlock, ...] = ()
    from_spare: tuple[HeldBlock, ...] = ()
    to_cut: tuple[HeldBlock, ...] = ()
    spares_taken: tuple[int, ...] = ()

    @property
    def held(self) -> tuple[HeldBlock, ...]:
        """What the jacket has been given after the change."""
        return (*self.kept, *self.from_spare, *self.to_cut)

    @property
    def cut_kept(self) -> int:
        """How many cut blocks stay in the jacket."""
        return sum(block.cut for block in self.kept)

    @property
    def had_cut(self) -> int:
        """How many blocks of the jacket were cut before the change."""
        return self.cut_kept + len({block.block for block in self.to_spare})

    @property
    def moves_blocks(self) -> bool:
        return bool(self.withdrawn or self.to_spare or self.from_spare or self.to_cut)


@dataclass(frozen=True, slots=True)
class ChangeCosts:
    """What a change costs; labor and overhead are below zero where it saves work. Thread counts by
    the metre, as it comes from spools that the run has opened."""

    fabric: Decimal
    thread: Decimal
    notions: Decimal
    labor: Decimal
    overhead: Decimal
    total: Decimal


@dataclass(frozen=True, slots=True)
class SupplementPlan:
    """What one supplement changed, in which kind of change (add, change or cancel).

    `minutes` is how much more work is left in the workroom than before, allowance included.
    `sewn` says that sewing had begun, so that seams are unpicked before blocks are put by.
    `last_event` is the number of the jacket's last event when the change was made: what was cut by
    a later one was cut after it. `cut` is the plan of the blocks to cut; None for a cancellation.
    """

    supplement: str
    jacket: str
    kind: str
    difference: Difference
    minutes: Decimal
    costs: ChangeCosts
    sewn: bool = False
    last_event: int = 0
    cut: Plan | None = None
    schema: int = field(default=SCHEMA)


def wanted_blocks(jacket: JacketSpec, snapshot: RunSnapshot) -> tuple[HeldBlock, ...]:
    """The blocks of a jacket as it is wanted, on no ticket yet."""
    shapes = shapes_by_key(snapshot.shapes)
    return tuple(
        HeldBlock(block, jacket.size, color, sides_of(shapes[block, jacket.size]))
        for block, color in jacket.blocks
    )


def frozen_blocks(jacket: JacketSpec, snapshot: RunSnapshot, plan: Plan) -> tuple[HeldBlock, ...]:
    """The blocks of a jacket as its run was frozen, none of them cut."""
    tickets = {ticket.fabric_color: ticket.ticket for ticket in plan.cut_tickets}
    return tuple(
        replace(block, ticket=tickets[block.fabric_color])
        for block in wanted_blocks(jacket, snapshot)
    )


def with_cuts(
    held: Iterable[HeldBlock], since_event: int, cuts: Iterable[int]
) -> tuple[HeldBlock, ...]:
    """The blocks as they are now: all are cut once the jacket's cutting was done by an event after
    `since_event`. `cuts` are the numbers of the events that say so and were not undone."""
    done = any(number > since_event for number in cuts)
    return tuple(replace(block, cut=block.cut or done) for block in held)


def difference(
    held: Iterable[HeldBlock],
    wanted: Iterable[HeldBlock],
    spares: Iterable[SparePiece],
    *,
    instead_of_cutting: bool = False,
) -> Difference:
    """Compare what a jacket has been given with what is wanted.

    A block alike in code, size and fabric color is kept. Spare parts serve whole blocks only: a
    left without its right stays where it is, so that tickets keep as many left as right.
    With `instead_of_cutting` they also serve for blocks that the jacket has and are not cut yet.
    """
    have = {block.kind: block for block in held}
    want = {block.kind: block for block in wanted}
    lying: dict[Piece, list[SparePiece]] = defaultdict(list)
    for spare in spares:
        lying[spare.piece].append(spare)
    from_spare, to_cut, taken = [], [], []
    stays = {kind for kind in have if kind in want and (have[kind].cut or not instead_of_cutting)}
    for kind, block in ((kind, block) for kind, block in want.items() if kind not in stays):
        if all(lying[piece] for piece in block.pieces):
            parts = [lying[piece].pop(0) for piece in block.pieces]
            from_spare.append(replace(block, ticket=parts[0].ticket, cut=True))
            taken += [part.number for part in parts]
        elif kind in have:
            stays.add(kind)
        else:
            to_cut.append(block)
    gone = [block for kind, block in have.items() if kind not in stays]
    return Difference(
        kept=tuple(block for kind, block in have.items() if kind in stays),
        withdrawn=tuple(block for block in gone if not block.cut),
        to_spare=tuple(block for block in gone if block.cut),
        from_spare=tuple(from_spare),
        to_cut=tuple(to_cut),
        spares_taken=tuple(taken),
    )


def on_tickets(change: Difference, plan: Plan) -> Difference:
    """The difference with the new tickets on the blocks that are to be cut."""
    tickets = {ticket.fabric_color: ticket.ticket for ticket in plan.cut_tickets}
    return replace(
        change,
        to_cut=tuple(replace(block, ticket=tickets[block.fabric_color]) for block in change.to_cut),
    )


def stage_after(stage: str, change: Difference) -> str:
    """Where a changed jacket goes on from. Once anything of it was cut, its bundle is made up anew
    at cutting; one that was sewn and keeps its blocks, for another zipper, goes back to sewing."""
    if change.moves_blocks:
        return CUT
    return stage if stage in (CUT, SEW) else SEW


def minutes_by_stage(
    before: Minutes,
    change: Difference,
    planned: Minutes,
    was: tuple[RunSnapshot, JacketSpec],
    becomes: tuple[RunSnapshot, JacketSpec],
) -> dict[str, Decimal]:
    """The standard minutes of a changed jacket, allowance included.

    Cutting takes its old share for the kept blocks that are not cut yet, and what the plan of the
    supplement says for the new ones. Sewing and finishing grow or shrink by the difference of the
    two jackets, each taken alone, so that a share of the run's changeovers stays.
    """
    uncut = [block for block in (*change.kept, *change.withdrawn) if not block.cut]
    kept = sum(len(block.sides) for block in change.kept if not block.cut)
    whole = sum(len(block.sides) for block in uncut)
    share = Decimal(kept) / whole if whole else Decimal(0)
    old, new = _alone(*was), _alone(*becomes)
    return {
        CUT: rounded(before[CUT] * share + planned[CUT]),
        **{
            stage: max(rounded(before[stage] + new[stage] - old[stage]), Decimal("0.00"))
            for stage in (SEW, FINISH)
        },
    }


def _alone(snapshot: RunSnapshot, jacket: JacketSpec) -> Minutes:
    return plan_labor(replace(snapshot, jackets=(jacket,)), (), ())[1][jacket.code]


def left_from(stage: str, minutes: Minutes) -> Decimal:
    """Minutes from a stage on; nothing is left of a jacket that is handed over."""
    stages = () if stage == END else STAGES[STAGES.index(stage) :]
    return sum((minutes.get(each, Decimal(0)) for each in stages), Decimal(0))


def withdrawn_pieces(changes: Iterable[SupplementPlan]) -> Counter[Piece]:
    return Counter(
        piece
        for change in changes
        for block in change.difference.withdrawn
        for piece in block.pieces
    )


def check_with_supplements(
    tickets: Counter[Piece],
    withdrawn: Counter[Piece],
    jackets: Counter[Piece],
    spares: Counter[Piece],
    spoiled: Counter[Piece] | None = None,
    over_cut: Counter[Piece] | None = None,
) -> Check:
    """Pieces over all tickets of a run, its supplements and its recuts, and those cut beyond them,
    less those withdrawn and those spoiled, are the pieces of the jackets that are still wanted and
    the spare parts on hand."""
    spoiled, over_cut = spoiled or Counter(), over_cut or Counter()
    cut, used = Counter(tickets), Counter(jackets)
    cut.update(over_cut)
    cut.subtract(withdrawn)
    cut.subtract(spoiled)
    used.update(spares)
    more = f" + {over_cut.total()} over-cut" if over_cut else ""
    less = f" - {spoiled.total()} short or spoiled" if spoiled else ""
    return named_check(
        WITH_SUPPLEMENTS,
        differences(used, cut, "jackets and spare parts are", "tickets less withdrawn have"),
        f"{tickets.total()} pieces over all tickets{more} - {withdrawn.total()} not to be cut{less}"
        f" = {jackets.total()} in jackets + {spares.total()} spare parts, "
        "for every block, size, side and fabric color",
    )

"""The truths of a plan, each checked anew from the jackets and told in plain words."""

from __future__ import annotations

from calendar import day_name
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import TypeVar

from production.planning.cutting.lays import (
    SYMMETRY_TOL_MM,
    asked,
    cloth_width_mm,
    laid_out,
    validate_lay,
)
from production.planning.cutting.rows import LaidKey, polygon_area_mm2
from production.planning.explode import (
    SIDES,
    fabrics_by_color,
    sewn_by,
    shapes_by_key,
    stretches_by_cut,
)
from production.planning.minutes.labor import CENT
from production.planning.plan import Check, Plan
from production.planning.snapshot import JacketSpec, Line, NotionSpec, RunSnapshot
from production.planning.supplies.materials import ELASTICS_PER_JACKET, girth_mm
from production.planning.threads.thread import threaded_operations
from production.planning.threads.thread_stitches import stitch_of

PIECES = "every piece of every jacket stands on exactly one cut ticket"
PAIRS = "every left has its right"
LAYS = "lays cut exactly what the tickets ask"
LAYOUT = "no overlap, inside the width, nap kept"
FOLDS = "blocks cut on the fold are symmetric"
FABRIC = "fabric covers the blocks"
NEEDS = "thread, zippers and elastic cover the seams"
MINUTES = "minutes of jackets add up to the minutes of the run"
SCHEDULE = "schedule is a capacity sum"

FAULTS_SHOWN = 5
ZERO = Decimal(0)

_Key = TypeVar("_Key", bound=tuple[str, ...])


def check_plan(
    snapshot: RunSnapshot, plan: Plan, jacket_minutes: Mapping[str, Mapping[str, Decimal]]
) -> tuple[Check, ...]:
    """All checks of a plan, always in the same order."""
    return (
        _check_pieces(plan),
        _check_pairs(plan),
        _check_lays(snapshot, plan),
        _check_layout(snapshot, plan),
        _check_folds(plan),
        _check_fabric(plan),
        _check_needs(snapshot, plan),
        _check_minutes(plan, jacket_minutes),
        _explain_schedule(snapshot, plan),
    )


def named_check(name: str, faults: list[str], detail: str) -> Check:
    if not faults:
        return Check(name, True, detail)
    more = len(faults) - FAULTS_SHOWN
    shown = faults[:FAULTS_SHOWN] + ([f"and {more} more"] if more > 0 else [])
    return Check(name, False, "; ".join(shown))


def differences(want: Counter[_Key], have: Counter[_Key], wants: str, has: str) -> list[str]:
    return [
        f"{' '.join(key)}: {wants} {want[key]}, {has} {have[key]}"
        for key in sorted(want.keys() | have.keys())
        if want[key] != have[key]
    ]


def _check_pieces(plan: Plan) -> Check:
    pairing = {(block.block, block.size): block.pairing for block in plan.blocks}
    jackets = Counter(
        (block, jacket.size, side, color)
        for jacket in plan.jackets
        for block, color in jacket.blocks.items()
        for side in SIDES[pairing[block, jacket.size]]
    )
    tickets: Counter[tuple[str, str, str, str]] = Counter()
    for ticket in plan.cut_tickets:
        for (block, size, side), count in asked(ticket.lines).items():
            tickets[block, size, side, ticket.fabric_color] += count
    return named_check(
        PIECES,
        differences(jackets, tickets, "jackets need", "tickets have"),
        f"{tickets.total()} pieces over {len(plan.cut_tickets)} cut tickets = "
        f"{jackets.total()} pieces of {len(plan.jackets)} jackets, "
        "for every block, size, side and fabric color",
    )


def _check_pairs(plan: Plan) -> Check:
    pairing = {(block.block, block.size): block.pairing for block in plan.blocks}
    faults, pairs = [], 0
    for ticket in plan.cut_tickets:
        for line in ticket.lines:
            where = f"{ticket.ticket} {line.block} {line.size}"
            pairs += line.left
            if line.left != line.right:
                faults.append(f"{where}: {line.left} left, {line.right} right")
            paired = pairing[line.block, line.size] == "pair"
            if line.single if paired else line.left or line.right:
                faults.append(f"{where}: a side that the block does not have")
    return named_check(PAIRS, faults, f"{pairs} left and {pairs} right pieces, line by line")


def _check_lays(snapshot: RunSnapshot, plan: Plan) -> Check:
    faults: list[str] = []
    over: list[str] = []
    cut = 0
    for ticket in plan.cut_tickets:
        wanted, laid = asked(ticket.lines), laid_out(ticket.lays)
        cut += laid.total()
        allowed = _over_cut(wanted, laid, snapshot.workroom.over_cut)
        over += [f"{ticket.ticket} {' '.join(key)} {n}" for key, n in sorted(allowed.items())]
        faults += [
            f"{ticket.ticket} {difference}"
            for difference in differences(
                wanted, laid - allowed, "the ticket asks for", "its lays cut"
            )
        ]
    lays = sum(len(ticket.lays) for ticket in plan.cut_tickets)
    many = "none too many"
    if over:
        many = f"{len(over)} kinds of piece too many, as the workroom allows: {', '.join(over)}"
    return named_check(LAYS, faults, f"{lays} lays cut {cut} pieces, none short and {many}")


def _over_cut(wanted: Counter[LaidKey], laid: Counter[LaidKey], allowed: int) -> Counter[LaidKey]:
    """What is cut too many of pieces that are asked for, where it is not more than allowed."""
    over = {key: laid[key] - n for key, n in wanted.items()}
    return Counter({key: n for key, n in over.items() if 0 < n <= allowed})


def _check_layout(snapshot: RunSnapshot, plan: Plan) -> Check:
    shapes = shapes_by_key(snapshot.shapes)
    fabrics = fabrics_by_color(snapshot)
    room = snapshot.workroom
    lays = [(lay, fabrics[t.fabric_color]) for t in plan.cut_tickets for lay in t.lays]
    faults = [
        fault
        for lay, fabric in lays
        for fault in validate_lay(lay, shapes, fabric, room.block_gap_mm, room)
    ]
    placed = sum(len(lay.placements) for lay, _ in lays)
    return named_check(
        LAYOUT,
        faults,
        f"{placed} placed outlines in {len(lays)} lays checked as true shapes, "
        f"{room.block_gap_mm} mm or more apart",
    )


def _check_folds(plan: Plan) -> Check:
    folds = [block for block in plan.blocks if block.pairing == "fold"]
    off_mm = {f"{b.block} {b.size}": _asymmetry_mm(b.cut_outline_mm) for b in folds}
    return named_check(
        FOLDS,
        [f"{name}: off by {off:.2f} mm" for name, off in off_mm.items() if off > SYMMETRY_TOL_MM],
        f"{len(folds)} outlines equal their mirror images within "
        f"{max(off_mm.values(), default=0.0):.2f} mm ({SYMMETRY_TOL_MM} mm allowed)",
    )


def _asymmetry_mm(outline: Line) -> float:
    import shapely

    mirrored = shapely.LinearRing([(x, -y) for x, y in outline])
    return float(shapely.hausdorff_distance(shapely.LinearRing(outline), mirrored))


def _check_fabric(plan: Plan) -> Check:
    areas = {(b.block, b.size): polygon_area_mm2(b.cut_outline_mm) for b in plan.blocks}
    faults = []
    for ticket in plan.cut_tickets:
        # The widest: a lay on a remnant is narrower than the rest of its ticket.
        width_mm = max((cloth_width_mm(lay) for lay in ticket.lays), default=0)
        blocks_mm2 = sum(n * areas[b, size] for (b, size, _), n in asked(ticket.lines).items())
        if ticket.fabric_needed_mm * width_mm < blocks_mm2:
            faults.append(
                f"{ticket.ticket}: {ticket.fabric_needed_mm} mm of {width_mm} mm width for "
                f"{blocks_mm2 / 1e6:.2f} m2 of blocks"
            )
        if ticket.from_stock_mm + ticket.to_buy_mm < ticket.fabric_needed_mm:
            faults.append(f"{ticket.ticket}: stock and purchase are less than what is needed")
    needed_m = sum(ticket.fabric_needed_mm for ticket in plan.cut_tickets) / 1000
    return named_check(
        FABRIC, faults, f"{needed_m:.3f} m of cloth hold the area of all their blocks"
    )


def _check_needs(snapshot: RunSnapshot, plan: Plan) -> Check:
    faults = [*_thread_faults(snapshot, plan), *_notion_faults(snapshot, plan)]
    metres = sum((need.metres for need in plan.threads), Decimal(0))
    return named_check(
        NEEDS,
        faults,
        f"{metres} m of thread; every seam is sewn, with no thread shorter than its seam; "
        f"{len(plan.jackets)} zippers; elastic for every hem and cuff it is planned for; "
        f"{len(snapshot.notions)} own notions for every jacket that takes them",
    )


def _thread_faults(snapshot: RunSnapshot, plan: Plan) -> Iterable[str]:
    """A stitch holds each of its threads at least once along the seam: a bound that does not rest
    on the formulas."""
    threaded = threaded_operations(snapshot)
    jackets = Counter((jacket.blocking, jacket.size) for jacket in snapshot.jackets)
    least_m: dict[str, Decimal] = defaultdict(Decimal)
    unsewn = set()
    for cut, stretches in stretches_by_cut(snapshot).items():
        for stretch in stretches if jackets[cut] else ():
            sewing = [operation for operation in threaded if sewn_by(operation, stretch)]
            if not sewing:
                unsewn.add(stretch.seam)
            for op in sewing:
                lines = jackets[cut] * op.rows * stitch_of(op.stitch_type).threads
                least_m[op.code] += lines * Decimal(str(stretch.length_mm)) / 1000
    for seam in sorted(unsewn):
        yield f"seam {seam} is sewn by no operation with a stitch type"
    have_m: dict[str, Decimal] = defaultdict(Decimal)
    spool_m = {thread.code: thread.spool_m for thread in snapshot.threads}
    for need in plan.threads:
        have_m[need.use] += need.metres
        if need.spools * spool_m[need.thread_color] < need.metres:
            yield f"{need.spools} spools of {need.thread_color} are short of {need.metres} m"
    for use, metres in least_m.items():
        if have_m[use] < metres:
            yield f"{use}: {have_m[use]} m of thread for at least {metres} m in the seams"


def _notion_faults(snapshot: RunSnapshot, plan: Plan) -> Iterable[str]:
    zippers: Counter[tuple[str, str]] = Counter()
    have: dict[str, Decimal] = defaultdict(Decimal)
    for need in plan.notions:
        have[":".join(need.ware.split(":")[:2])] += need.quantity
        if need.ware.startswith("zipper:"):
            zippers[need.size, need.color] += int(need.quantity)
    wanted = Counter((jacket.size, jacket.zipper_color) for jacket in snapshot.jackets)
    yield from differences(wanted, zippers, "jackets take zippers", "planned are")
    sizes = {size.code: size for size in snapshot.sizes}
    for elastic in snapshot.elastics:
        girths_mm = sum(girth_mm(sizes[j.size], elastic.place) for j in snapshot.jackets)
        times = ELASTICS_PER_JACKET[elastic.place]
        joins_mm = len(snapshot.jackets) * elastic.join_mm
        least_m = times * (girths_mm * elastic.stretch_factor + joins_mm) / 1000
        yield from _short(elastic.name, have[f"elastic:{elastic.place}"], least_m, "m")
    for notion in snapshot.notions:
        least = sum((_least_of(notion, jacket, snapshot) for jacket in snapshot.jackets), ZERO)
        yield from _short(notion.name, have[f"notion:{notion.code}"], least, notion.unit)


def _short(name: str, have: Decimal, least: Decimal, unit: str) -> Iterable[str]:
    if have < least:
        yield f"{name}: {have} {unit} for at least {least} {unit}"


def _least_of(notion: NotionSpec, jacket: JacketSpec, snapshot: RunSnapshot) -> Decimal:
    """What one jacket takes of a notion before anything is cut to whole mm or counted in pieces."""
    if notion.rule == "size":
        return dict(notion.by_size)[jacket.size]
    if notion.rule == "jacket":
        return notion.quantity
    cut = (jacket.blocking, jacket.size)
    lengths_mm = (
        Decimal(str(round(one.length_mm, 3)))
        for one in snapshot.seams
        if one.seam == notion.seam and (one.blocking, one.size) == cut
    )
    return notion.quantity * sum(lengths_mm, ZERO) / 1000


def _check_minutes(plan: Plan, jacket_minutes: Mapping[str, Mapping[str, Decimal]]) -> Check:
    whole = sum(
        (sum(stages.values(), Decimal(0)) for stages in jacket_minutes.values()), Decimal(0)
    )
    run = plan.labor.with_allowance_minutes
    faults = []
    if abs(whole - run) > CENT * len(plan.jackets):
        faults.append(f"the jackets take {whole} minutes, the run {run}")
    missing = [jacket.code for jacket in plan.jackets if jacket.code not in jacket_minutes]
    faults += [f"jacket {code} has no minutes" for code in missing]
    return named_check(
        MINUTES, faults, f"{len(jacket_minutes)} jackets take {whole} minutes, the run {run}"
    )


def _explain_schedule(snapshot: RunSnapshot, plan: Plan) -> Check:
    room = snapshot.workroom
    days = ", ".join(day_name[int(digit) - 1] for digit in sorted(room.working_weekdays))
    return Check(
        SCHEDULE,
        True,
        f"{plan.labor.with_allowance_minutes} minutes are divided by {room.people} people x "
        f"{room.minutes_per_person_day} minutes on {days}, counted from "
        f"{snapshot.planned_on} on. Nobody is assumed to wait for a machine, for cloth or for "
        "another, and nobody to be away. The chance of being on time is that of a normal "
        f"distribution with a standard deviation of {100 * room.minutes_spread:.0f} % of all "
        "minutes: if the standards are off, all jackets are slow together.",
    )

"""What a run was planned with and what it came to, from tickets, stock, clicks and purchases."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal

from django.db.models import Count, Q, Sum
from django.db.models.functions import Coalesce

from production.buying.purchases import line_name
from production.changing.change_state import Known
from production.models import (
    CutTicket,
    Jacket,
    PurchaseLine,
    Quote,
    Run,
    SpoiledPiece,
    StockMovement,
    WareMovement,
)
from production.needs.run_needs import open_runs, wares_of
from production.planning.actuals.afterwards import (
    STAGES,
    TicketCloth,
    WareUse,
    compare_cloth,
    compare_minutes,
    compare_wares,
)
from production.planning.actuals.afterwards_money import (
    Afterwards,
    Bought,
    Prices,
    Quoted,
    QuoteReached,
    against_quote,
    compare_money,
    compare_purchases,
    list_price,
    list_prices,
    total_of,
)
from production.planning.plan import CutTicket as PlannedTicket
from production.planning.snapshot import FabricSpec
from production.planning.supplies.materials import less_by_area_mm
from production.planning.supplies.shopping import CLOTH
from production.quoting.quotes import load_figures
from production.reporting.recuts import load_recut
from production.stock.ware_catalog import Catalog, cloth_key
from production.work_study.stage_minutes import stage_times

ZERO = Decimal(0)
MOVED = (StockMovement.Kind.CUT, StockMovement.Kind.UNDONE)
DRAWN = (WareMovement.Kind.TAKEN, WareMovement.Kind.BROUGHT_BACK)


def afterwards_of(run: Run) -> Afterwards:
    """Planned against actual as far as it is known today.

    Raises PlanError where its jackets cannot be made from what is sold.
    """
    known = Known.of(run)
    room = known.snapshot.workroom
    catalog = Catalog()
    tickets = _tickets(run, known)
    cloth = compare_cloth(tickets, _color_names(known))
    standing = list(run.jackets.filter(cancelled_at=None))
    minutes = compare_minutes(stage_times(run), _whole_minutes(standing))
    is_over = not open_runs().filter(pk=run.pk).exists()
    wares = compare_wares(_uses(run, catalog), is_over=is_over)
    listed: dict[str, Decimal] = {}
    for snapshot in reversed(known.snapshots):
        listed |= list_prices(snapshot)
    same_money = catalog.room.currency == room.currency
    bought = tuple(_bought(run, listed, room.exact_zipper_extra, catalog)) if same_money else ()
    valued = compare_cloth([ticket.by_area for ticket in tickets], _color_names(known))
    money = compare_money(valued, wares, minutes, Prices(room, listed, bought))
    return Afterwards(
        currency=room.currency,
        cloth=cloth,
        minutes=minutes,
        wares=wares,
        purchases=compare_purchases(bought, room.currency),
        money=money,
        quotes=tuple(_quotes(run, total_of(money).likely, standing, room.currency)),
        pieces=_pieces(run),
        spoiled=SpoiledPiece.objects.true().filter(jacket__run=run).count(),
        recut_mm=sum(ticket.planned_mm for ticket in tickets if ticket.is_recut),
        fabric_waste=room.fabric_waste,
        notes=()
        if same_money
        else (
            f"The workroom counts in {catalog.room.currency} now and the run in {room.currency}, "
            "so that its purchases are not compared.",
        ),
    )


def _tickets(run: Run, known: Known) -> list[TicketCloth]:
    planned = {ticket.ticket: ticket for ticket in _planned(run, known)}
    counts = CutTicket.objects.filter(run=run).annotate(
        plies=Count("lays__ply_rows"),
        plies_cut=Count("lays__ply_rows", filter=Q(lays__ply_rows__cut_at__isnull=False)),
    )
    cut = _cut_mm(run)
    fabrics = {spec.code: spec for each in reversed(known.snapshots) for spec in each.fabrics}
    return [
        TicketCloth(
            ticket.code,
            ticket.fabric_color.code,
            planned[ticket.code].fabric_needed_mm,
            cut[ticket.pk],
            vars(ticket)["plies"],
            vars(ticket)["plies_cut"],
            is_recut=ticket.recut_id is not None,
            counted=_counted(planned[ticket.code], fabrics),
        )
        for ticket in counts.select_related("fabric_color").order_by("position", "pk")
    ]


def _counted(ticket: PlannedTicket, fabrics: Mapping[str, FabricSpec]) -> Decimal:
    less_mm = less_by_area_mm(ticket.lays, fabrics[ticket.fabric])
    return 1 - less_mm / ticket.fabric_needed_mm


def _planned(run: Run, known: Known) -> Iterator[PlannedTicket]:
    yield from known.plan.cut_tickets
    for _, supplement in known.supplements:
        if supplement.cut:
            yield from supplement.cut.cut_tickets
    for recut in run.recuts.all():
        yield from load_recut(recut)[1].cut.cut_tickets


def _cut_mm(run: Run) -> dict[int, int]:
    """What left the bolts for the plies of each ticket, reports that were taken back taken off."""
    rows = (
        StockMovement.objects.filter(ply__lay__ticket__run=run, kind__in=MOVED)
        .order_by()
        .values_list("ply__lay__ticket")
        .annotate(mm=Sum("mm"))
    )
    return defaultdict(int, {ticket: -mm for ticket, mm in rows if ticket is not None})


def _color_names(known: Known) -> dict[str, str]:
    return {
        color.code: color.name
        for snapshot in reversed(known.snapshots)
        for color in snapshot.fabric_colors
    }


def _whole_minutes(jackets: Iterable[Jacket]) -> dict[str, Decimal]:
    minutes = dict.fromkeys(STAGES, ZERO)
    for jacket in jackets:
        for stage in STAGES:
            minutes[stage] += Decimal(jacket.standard_minutes.get(stage, 0))
    return minutes


def _uses(run: Run, catalog: Catalog) -> Iterator[WareUse]:
    moved = set(
        run.ware_movements.filter(kind__in=DRAWN).order_by().values_list("ware__key", flat=True)
    )
    for want in wares_of(run):
        name, unit = want.name, want.unit
        if not unit:
            sold = catalog.sold(want.key)
            name, unit = sold.name, sold.unit
        yield WareUse(want.key, name, unit, want.needed, want.holds, want.key in moved)


def _bought(
    run: Run, listed: dict[str, Decimal], exact_extra: Decimal, catalog: Catalog
) -> Iterator[Bought]:
    lines = PurchaseLine.objects.filter(purchase__run=run, received__gt=0)
    for line in lines.select_related("purchase", "fabric_color__fabric", "ware").order_by("pk"):
        key = line.ware.key if line.ware else cloth_key(line.fabric_color.code)  # type: ignore[union-attr]  # one of both, by a constraint
        yield Bought(
            line.purchase.code,
            key,
            line_name(line, catalog),
            line.ware.unit if line.ware else CLOTH,
            line.received,
            line.price * line.received / line.quantity,
            list_price(key, listed, exact_extra),
        )


def _quotes(
    run: Run, cost: Decimal, standing: list[Jacket], currency: str
) -> Iterator[QuoteReached]:
    accepted = Quote.objects.filter(team_order__run_order__run=run, state=Quote.State.ACCEPTED)
    made: dict[int, int] = dict(
        run.jackets.filter(cancelled_at=None)
        .order_by()
        .values_list("jacket_order__team_order")
        .annotate(count=Count("pk"))
    )
    for quote in accepted.select_related("team_order").order_by("team_order__code"):
        yield against_quote(
            _quoted(quote), made.get(quote.team_order_id, 0), cost, len(standing), currency
        )


def _quoted(quote: Quote) -> Quoted:
    assert quote.quantity  # an accepted quote has one, by a constraint
    offer = load_figures(quote).offer(quote.quantity)
    return Quoted(
        quote.code,
        quote.team_order.code,
        quote.currency,
        offer.jackets,
        offer.price,
        offer.gross,
        offer.net,
        offer.costs.total,
        offer.margin,
    )


def _pieces(run: Run) -> int:
    """Pieces on the tickets of the run and its supplements; recuts are held against them."""
    sums = CutTicket.objects.filter(run=run, recut=None).aggregate(
        left=Coalesce(Sum("lines__left"), 0),
        right=Coalesce(Sum("lines__right"), 0),
        single=Coalesce(Sum("lines__single"), 0),
    )
    return sum(sums.values())

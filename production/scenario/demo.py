"""The demo scenario: two invented clubs, one run in mid-production, one order that is ready to be
planned, one form open to members."""

from __future__ import annotations

import datetime

from django.contrib.auth.models import Group, User
from django.db import transaction
from django.db.models import QuerySet, Sum
from django.utils import timezone

from orders import handing_out, states
from orders.models import (
    AccessLink,
    Amendment,
    BlockChoice,
    Club,
    Colorway,
    ColorwayBlock,
    Expected,
    JacketOrder,
    Payment,
    TeamOrder,
)
from patterns.models import Block, Blocking, FabricColor, Pattern, ThreadColor
from patterns.services import install_shipped
from production.errors import ProductionError
from production.forecasting.looking_ahead import look_ahead
from production.models import (
    Jacket,
    Lay,
    LayPly,
    Purchase,
    Quote,
    Run,
    SpoiledPiece,
    StockLot,
    StockMovement,
    WareMovement,
)
from production.reporting.cut_reports import report_cut
from production.reporting.missing import Missing, report_missing
from production.scenario import demo_floor
from production.scenario.demo_orders import (
    DEMO_BOLTS,
    DEMO_BOUGHT,
    DEMO_FINISHED,
    DEMO_FLAWS,
    DEMO_ORDERS,
    DEMO_SEWN,
    DEMO_SPOILED,
    NOVICES,
    NOVICES_MISSING,
    OWN_CHOICES,
    PADDLERS,
    PLANNED_ORDERS,
    YOUTH,
    DemoColorway,
    DemoOrder,
)
from production.scenario.demo_workroom import (
    bought_lots,
    clear_purchases,
    clear_study,
    fill_shelf,
    order_notions,
    quote_and_accept,
    take_notions,
    time_operation,
)
from production.services import plan_run_for
from production.stages.check_points import install_check_points
from production.stock.cloth import receive
from production.stock.cloth_upkeep import add_flaw
from production.tracking import record

#: How long the days of the demo are planned for.
DEMO_SECONDS = 1.0
DEMO_PASSWORD = "tern-quay-demo"  # for the demo's two log-ins on this machine
DEMO_PEOPLE = ("maker", "helper")


def database_is_empty() -> bool:
    return not (User.objects.exists() or Club.objects.exists() or Run.objects.exists())


@transaction.atomic
def make_demo() -> None:
    """(Re)create the demo; ProductionError when a real order stands beside it."""
    clubs = sorted({order.club for order in DEMO_ORDERS})
    real = TeamOrder.objects.exclude(club__name__in=clubs).select_related("club").first()
    if real is not None:
        raise ProductionError(
            f"Team order {real} is not part of the demo, and the demo shares runs, stock and"
            " calendar with it. Load the demo into an empty database instead"
            " (JACKET_MUSTER_DATA names another folder)."
        )
    _clear(clubs)
    install_shipped()
    install_check_points()
    maker = _people()
    demo_floor.set_up_people()
    orders = [_team_order(order, maker) for order in PLANNED_ORDERS]
    _open_form(_team_order(NOVICES, maker), maker)
    _approve(_team_order(YOUTH, maker), maker)
    began = timezone.now().replace(hour=8, minute=30, second=0, microsecond=0)
    began -= datetime.timedelta(days=12)
    planned = began - datetime.timedelta(days=3)
    _cloth(planned, maker)
    fill_shelf(planned, maker)
    crew = next(order for order in orders if order.code == PADDLERS.code)
    quote_and_accept(crew, planned.date() - datetime.timedelta(days=14), maker)
    run = plan_run_for(orders, maker, planned_on=planned.date())
    Run.objects.filter(pk=run.pk).update(created_at=planned)
    purchase = order_notions(run, planned, maker)
    _cut(run, began - datetime.timedelta(days=1), maker)
    take_notions(run, purchase, began + datetime.timedelta(days=2), _helper())
    _work_on(run, began, maker)
    time_operation(began + datetime.timedelta(days=6), maker)
    look_ahead(DEMO_SECONDS)


def _clear(clubs: list[str]) -> None:
    """Old demo rows go, runs first: a jacket holds on to its order."""
    runs = Run.objects.filter(run_orders__team_order__club__name__in=clubs)
    demo_floor.clear(runs, clubs)
    # A piece that was spoiled holds on to what took its place.
    SpoiledPiece.objects.filter(jacket__run__in=runs).delete()
    lots = bought_lots(runs)
    purchased = list(Purchase.objects.filter(run__in=runs).values_list("pk", flat=True))
    moved = list(WareMovement.objects.filter(run__in=runs).values_list("pk", flat=True))
    runs.delete()
    codes = [*(bolt.code for bolt in DEMO_BOLTS), *(code for code, *_ in DEMO_BOUGHT)]
    _clear_cloth(StockLot.objects.filter(code__in=codes))
    _clear_cloth(StockLot.objects.filter(pk__in=lots))
    clear_purchases(purchased, moved)
    clear_study()
    Quote.objects.filter(team_order__club__name__in=clubs).delete()
    Payment.objects.filter(team_order__club__name__in=clubs).delete()
    Amendment.objects.filter(team_order__club__name__in=clubs).delete()
    TeamOrder.objects.filter(club__name__in=clubs).delete()
    Club.objects.filter(name__in=clubs).delete()


def _clear_cloth(lots: QuerySet[StockLot]) -> None:
    """Lots with the remnants that were cut from them, which hold on to them."""
    if lots.exists():
        _clear_cloth(StockLot.objects.filter(cut_from__in=lots))
        StockMovement.objects.filter(lot__in=lots).delete()
        lots.delete()


def _cloth(at: datetime.datetime, maker: User) -> None:
    colors = {color.code: color for color in FabricColor.objects.select_related("fabric")}
    for bolt in DEMO_BOLTS:
        lot = receive(
            code=bolt.code,
            fabric_color=colors[bolt.color],
            dye_lot=bolt.dye_lot,
            length_mm=bolt.length_mm,
            usable_width_mm=bolt.usable_width_mm,
            is_remnant=bolt.is_remnant,
            received_on=at.date(),
            by=maker,
        )
        lot.movements.update(at=at)
    for code, at_mm, across_mm, length_mm, width_mm, is_hole, words in DEMO_FLAWS:
        add_flaw(
            StockLot.objects.get(code=code),
            at_mm=at_mm,
            across_mm=across_mm,
            length_mm=length_mm,
            width_mm=width_mm,
            is_hole=is_hole,
            words=words,
        )


def _people() -> User:
    for name in DEMO_PEOPLE:
        if not User.objects.filter(username=name).exists():
            person = User.objects.create_user(name, password=DEMO_PASSWORD)
            person.groups.add(Group.objects.get_or_create(name=name)[0])
    return User.objects.get(username="maker")


def _helper() -> User:
    return User.objects.get(username="helper")


def next_regatta(today: datetime.date) -> datetime.date:
    """The next 14 March that is at least five weeks away."""
    this_year = datetime.date(today.year, 3, 14)
    if this_year - today >= datetime.timedelta(weeks=5):
        return this_year
    return this_year.replace(year=today.year + 1)


def _team_order(demo: DemoOrder, maker: User) -> TeamOrder:
    club, _ = Club.objects.get_or_create(name=demo.club, defaults={"contact": demo.contact})
    order = TeamOrder.objects.create(
        code=demo.code,
        club=club,
        title=demo.title,
        deadline=next_regatta(timezone.localdate()),
        price=demo.price,
        payer=demo.payer,
        welcome=demo.welcome,
    )
    colors = {color.code: color for color in FabricColor.objects.all()}
    order.palette.set([colors[code] for code in demo.palette])
    colorways = {colorway.name: _colorway(order, colorway, colors) for colorway in demo.colorways}
    sizes = {size.code: size for size in Pattern.objects.get().sizes.all()}
    for row in demo.roster:
        member, size, colorway_name, name_on_jacket = row.split(",")
        line = JacketOrder.objects.create(
            team_order=order,
            member=member,
            size=sizes[size],
            colorway=colorways[colorway_name],
            name_on_jacket=name_on_jacket,
        )
        for chooser, block, color in OWN_CHOICES:
            if chooser == member:
                BlockChoice.objects.create(
                    jacket_order=line,
                    block=Block.objects.get(blocking=line.colorway.blocking, code=block),
                    fabric_color=colors[color],
                )
    Amendment.objects.create(
        team_order=order, by=maker, words=f"order taken with {len(demo.roster)} jackets"
    )
    return order


def _open_form(order: TeamOrder, maker: User) -> None:
    """Members may order for three more weeks, by links that are given out."""
    order.closes_on = timezone.localdate() + datetime.timedelta(days=21)
    order.save(update_fields=["closes_on"])
    order.free_blocks.set(Block.objects.filter(blocking__colorways__team_order=order, code="CO"))
    listed = [*NOVICES_MISSING, *order.jacket_orders.values_list("member", flat=True)]
    Expected.objects.bulk_create(Expected(team_order=order, name=name) for name in listed)
    for kind in handing_out.NAMES:
        handing_out.give_out(order, kind, by=maker)


def _colorway(order: TeamOrder, demo: DemoColorway, colors: dict[str, FabricColor]) -> Colorway:
    blocking = Blocking.objects.get(code=demo.blocking)
    thread = ThreadColor.objects.get(code=demo.topstitch) if demo.topstitch else None
    colorway = Colorway.objects.create(
        team_order=order,
        name=demo.name,
        blocking=blocking,
        zipper_color=demo.zipper,
        topstitch_thread=thread,
    )
    ColorwayBlock.objects.bulk_create(
        ColorwayBlock(
            colorway=colorway,
            block=block,
            fabric_color=colors[demo.accents.get(block.code, demo.base)],
        )
        for block in blocking.blocks.all()
    )
    return colorway


def _approve(order: TeamOrder, maker: User) -> None:
    """The form is over, and the club stands by its list."""
    states.move(order, TeamOrder.State.CLOSED, by=maker)
    states.move(order, TeamOrder.State.APPROVED, by=None, by_link=AccessLink.Kind.COORDINATOR)


def _cut(run: Run, began: datetime.datetime, maker: User) -> None:
    """What is short is bought, and every ply of every lay is cut, one lay after the other."""
    helper = _helper()
    bought = _buy(run, began, maker)
    lays = Lay.objects.filter(ticket__run=run).select_related("ticket__fabric_color")
    for place, lay in enumerate(lays.order_by("ticket__position", "position")):
        plies = list(lay.ply_rows.values_list("number", "lot"))
        from_stock = [number for number, lot in plies if lot]
        from_bought = [number for number, lot in plies if not lot]
        if from_stock:
            report_cut(lay.code, from_stock, helper)
        if from_bought:
            report_cut(lay.code, from_bought, helper, lot=bought[lay.ticket.fabric_color.code])
        at = began + datetime.timedelta(minutes=25 * (place + 1))
        lay.ply_rows.update(cut_at=at)
        StockMovement.objects.filter(ply__lay=lay).update(at=at)


def _buy(run: Run, at: datetime.datetime, maker: User) -> dict[str, str]:
    """The bolts that come for what no cloth on hand is planned for: their codes by color."""
    short = dict(
        LayPly.objects.filter(lay__ticket__run=run, lot=None)
        .values_list("lay__ticket__fabric_color__code")
        .annotate(mm=Sum("takes_mm"))
    )
    for code, color, dye_lot, over_mm in DEMO_BOUGHT:
        lot = receive(
            code=code,
            fabric_color=FabricColor.objects.select_related("fabric").get(code=color),
            dye_lot=dye_lot,
            length_mm=short.get(color, 0) + over_mm,
            received_on=at.date(),
            by=maker,
        )
        lot.movements.update(at=at)
    return {color: code for code, color, *_ in DEMO_BOUGHT}


def _work_on(run: Run, began: datetime.datetime, maker: User) -> None:
    """Two weeks of work: twenty jackets cut, nine sewn, one mended on the way, four finished and
    two of them handed over."""
    helper = _helper()
    codes = list(Jacket.objects.filter(run=run).order_by("pk").values_list("code", flat=True))

    def at(day: int, place: int) -> datetime.datetime:
        return began + datetime.timedelta(days=day, minutes=17 * place)

    for place, code in enumerate(codes[:20]):
        record(code, "done", "cut", helper, at=at(0, place))
    member, block, side, reason = DEMO_SPOILED
    jacket = Jacket.objects.get(run=run, jacket_order__member=member)
    spoiled = report_missing(Missing(jacket.code, block, side, reason), helper)
    SpoiledPiece.objects.filter(pk=spoiled.pk).update(at=at(1, 0))
    _timed(codes, "sew", DEMO_SEWN, began + datetime.timedelta(days=3), (helper, maker))
    for place, code in enumerate(codes[len(DEMO_SEWN) : 9]):
        record(code, "done", "sew", helper, at=at(4, place))
    record(codes[2], "send_back", "sew", helper, reason="zipper wave at the hem", at=at(6, 0))
    record(codes[2], "done", "sew", helper, at=at(6, 3))
    _timed(codes, "finish", DEMO_FINISHED, began + datetime.timedelta(days=7), (helper,))
    demo_floor.deliver_first(Jacket.objects.filter(run=run, code__in=codes[:2]), helper, at(8, 0))
    demo_floor.find_skipped_stitches(codes[5], helper, at(8, 4))
    record(codes[9], "start", "sew", helper, at=at(9, 0))
    record(codes[20], "start", "cut", helper, at=at(9, 1))


def _timed(
    codes: list[str],
    stage: str,
    took: tuple[int, ...],
    began: datetime.datetime,
    people: tuple[User, ...],
) -> None:
    """The first jackets go through a stage one after the other, by turns of some people, each with
    a short pause after it."""
    free = dict.fromkeys(people, began)
    for place, (code, minutes) in enumerate(zip(codes, took, strict=False)):
        person = people[place % len(people)]
        record(code, "start", stage, person, at=free[person])
        done = free[person] + datetime.timedelta(minutes=minutes)
        record(code, "done", stage, person, at=done)
        free[person] = done + datetime.timedelta(minutes=8)

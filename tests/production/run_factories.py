"""Runs as they are after planning, made by hand from the small jacket of `planning_factories`."""

from __future__ import annotations

import datetime
from decimal import Decimal
from functools import cache
from typing import Any

import msgspec
from django.contrib.auth.models import Group, User
from django.test import Client
from django.utils import timezone

from orders.models import Club, Colorway, JacketOrder, TeamOrder
from patterns.models import (
    Block,
    Blocking,
    Fabric,
    FabricColor,
    Pattern,
    PatternSize,
    Piece,
    ThreadColor,
    Zipper,
)
from production.models import CutTicket, Jacket, JacketBlock, Run, RunOrder, TicketLine
from production.planning.planner import RunPlan, plan_run
from production.planning.snapshot import BlockingSpec, RunSnapshot
from tests.production.planning_factories import make_jacket, make_snapshot

BLOCKS = (("FR", "pair"), ("BK", "fold"), ("CO", "single"))
FILLS = (("FR", "spruce"), ("BK", "spruce"), ("CO", "oat"))
# Invented: one jacket's minutes, allowance included.
MINUTES = {"cut": "10.00", "sew": "60.00", "finish": "20.00"}


def make_person(name: str = "ana", role: str = "helper") -> User:
    person = User.objects.create_user(name, password="not used")
    person.groups.add(Group.objects.get_or_create(name=role)[0])
    return person


def person(name: str) -> Client:
    """Someone who is logged in; the name is also the role."""
    client = Client()
    client.force_login(make_person(name, name))
    return client


def make_blocking() -> Blocking:
    """The blocking `quay` with its sizes S and M, and the fabric colors spruce and oat."""
    pattern, made = Pattern.objects.get_or_create(
        code="base",
        defaults={
            "name": "Base",
            **dict.fromkeys(
                (f"{part}_ease_mm" for part in ("chest", "hip", "neck", "wrist", "cap")), 0
            ),
        },
    )
    if not made:
        return Blocking.objects.get(code="quay")
    for position, code in enumerate(("S", "M")):
        make_size(pattern, code, position)
    blocking = Blocking.objects.create(pattern=pattern, code="quay", name="Quay")
    for position, (code, pairing) in enumerate(BLOCKS):
        part = {"code": code, "name": f"block {code}", "pairing": pairing, "position": position}
        piece = Piece.objects.create(pattern=pattern, **part)
        Block.objects.create(blocking=blocking, piece=piece, **part)
    Zipper.objects.create(
        color_code="black", color_name="black", hex_color="#000000", length_mm=600, price=2
    )
    make_color("spruce")
    make_color("oat")
    return blocking


def make_size(pattern: Pattern, code: str, position: int) -> PatternSize:
    measures = ("height", "chest", "hip", "neck", "shoulder_width", "arm", "wrist", "zipper")
    return PatternSize.objects.create(
        pattern=pattern,
        code=code,
        name=code,
        position=position,
        age_group="adult",
        hem_girth_mm=900,
        cuff_girth_mm=200,
        **dict.fromkeys((f"{measure}_mm" for measure in measures), 500),
    )


def make_color(code: str) -> FabricColor:
    thread = ThreadColor.objects.create(
        code=f"thread-{code}", name=code, hex_color="#123456", spool_m=1000, price_per_spool=4
    )
    fabric, _ = Fabric.objects.get_or_create(
        code="fleece",
        defaults={
            "name": "Test fleece",
            "fiber": "polyester",
            "usable_width_mm": 1400,
            "nap": "one_way",
            "highest_plies": 8,
            "shrinkage": Decimal("0.02"),
            "end_allowance_mm": 20,
            "compressed_thickness_mm": Decimal("1.2"),
            "price_per_m": 10,
        },
    )
    return FabricColor.objects.create(
        fabric=fabric, code=code, name=code, hex_color="#123456", thread=thread
    )


def make_team_order(code: str = "TO-1", jackets: int = 2, **values: Any) -> TeamOrder:
    """An order with jackets in sizes S and M by turns, all in the colorway `home`."""
    blocking = make_blocking()
    club, _ = Club.objects.get_or_create(name=values.pop("club", "Test Club"))
    order = TeamOrder.objects.create(
        **{
            "code": code,
            "club": club,
            "title": "Jackets",
            "deadline": datetime.date(2027, 2, 26),
            **values,
        }
    )
    order.palette.set(FabricColor.objects.all())
    colorway = Colorway.objects.create(
        team_order=order, name="home", blocking=blocking, zipper_color="black"
    )
    sizes = list(blocking.pattern.sizes.all())
    for number in range(jackets):
        JacketOrder.objects.create(
            team_order=order,
            member=f"Member {number + 1:02d}",
            size=sizes[number % len(sizes)],
            colorway=colorway,
        )
    return order


def make_run(jackets: int = 2, code: str = "R-0001", order: TeamOrder | None = None) -> Run:
    """A run of one team order; its jackets are <order>-01, -02, … and wait to be cut."""
    order = order or make_team_order(jackets=jackets, state=TeamOrder.State.IN_PRODUCTION)
    lines = list(order.jacket_orders.select_related("size").order_by("pk"))
    snapshot, planned = planned_run(
        code, order.code, order.deadline, tuple((line.member, line.size.code) for line in lines)
    )
    run = Run.objects.create(
        code=code,
        deadline=order.deadline,
        snapshot=msgspec.to_builtins(snapshot),
        plan=msgspec.to_builtins(planned.plan),
    )
    RunOrder.objects.create(run=run, team_order=order)
    made = Jacket.objects.bulk_create(
        Jacket(
            run=run,
            code=spec.code,
            jacket_order=line,
            size=spec.size,
            standard_minutes=MINUTES,
        )
        for spec, line in zip(snapshot.jackets, lines, strict=True)
    )
    make_tickets(run, planned, made)
    return run


@cache
def planned_run(
    code: str, order: str, deadline: datetime.date, members: tuple[tuple[str, str], ...]
) -> tuple[RunSnapshot, RunPlan]:
    """Cached, since placing the same blocks again gives the same lays."""
    snapshot = make_snapshot(
        run=code,
        deadline=deadline,
        jackets=tuple(
            make_jacket(
                f"{order}-{number:02d}", team_order=order, member=member, size=size, blocks=FILLS
            )
            for number, (member, size) in enumerate(members, start=1)
        ),
        blockings=(BlockingSpec("quay", "Quay"),),
    )
    return snapshot, plan_run(snapshot)


def make_tickets(run: Run, planned: RunPlan, jackets: list[Jacket]) -> None:
    for position, ticket in enumerate(planned.plan.cut_tickets):
        color = FabricColor.objects.get(code=ticket.fabric_color)
        stored = CutTicket.objects.create(
            run=run, code=ticket.ticket, fabric_color=color, position=position
        )
        for line in ticket.lines:
            row = TicketLine.objects.create(ticket=stored, **msgspec.to_builtins(line))
            JacketBlock.objects.bulk_create(
                JacketBlock(jacket=jacket, block=line.block, line=row)
                for jacket in jackets
                if jacket.size == line.size
            )


def today_at(hour: int, minute: int) -> datetime.datetime:
    return timezone.localtime().replace(hour=hour, minute=minute, second=0, microsecond=0)

"""What the order pages read."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import chain, count
from string import ascii_uppercase

from django.db.models import Count, Prefetch, QuerySet
from django.utils.safestring import SafeString

from orders.facts import TeamOrderFacts
from orders.models import (
    Amendment,
    BlockChoice,
    Club,
    Colorway,
    ColorwayBlock,
    JacketOrder,
    TeamOrder,
)
from orders.words import thread_name
from patterns.models import Block, Blocking, FabricColor, ThreadColor, Workroom, Zipper

FILLS = Prefetch("fills", ColorwayBlock.objects.select_related("block", "fabric_color"))
CHOICES = Prefetch("choices", BlockChoice.objects.select_related("block", "fabric_color"))


@dataclass(frozen=True, slots=True)
class Look:
    """A jacket as the page shows it: pictures by view, each color with its blocks in words, and
    the names of zipper tape (empty while none is chosen) and topstitch thread."""

    pictures: list[tuple[str, SafeString]]
    legend: list[tuple[FabricColor, list[str]]]
    zipper: str
    topstitch: str


def team_orders_for_list() -> QuerySet[TeamOrder]:
    return (
        TeamOrder.objects.select_related("club")
        .annotate(jackets=Count("jacket_orders"))
        .order_by("deadline", "pk")
    )


def team_orders_for_calendar(club: Club | None) -> QuerySet[TeamOrder]:
    """The orders with days to keep, of one club or of all."""
    orders = TeamOrder.objects.select_related("club").exclude(state=TeamOrder.State.CANCELLED)
    return orders.filter(club=club) if club else orders


def facts_of(team_order: TeamOrder) -> TeamOrderFacts:
    """What is stored of an order, as a form would say it."""
    return TeamOrderFacts(
        code=team_order.code,
        club=team_order.club,
        title=team_order.title,
        deadline=team_order.deadline,
        palette=tuple(team_order.palette.all()),
        note=team_order.note,
        contact=team_order.club.contact,
        closes_on=team_order.closes_on,
        names_allowed=team_order.names_allowed,
        sizes=tuple(team_order.sizes.all()),
        free_blocks=tuple(team_order.free_blocks.all()),
        welcome=team_order.welcome,
        coordinator_email=team_order.coordinator_email,
        price=team_order.price,
        payer=team_order.payer,
        discount=team_order.discount,
        erase_after_days=team_order.erase_after_days,
    )


def blocks_to_free(team_order: TeamOrder) -> QuerySet[Block]:
    """The blocks of the order's colorways: those whose color members may be let choose."""
    return (
        Block.objects.filter(blocking__colorways__team_order=team_order)
        .select_related("blocking")
        .order_by("blocking__name", "position")
        .distinct()
    )


def jacket_orders_of(team_order: TeamOrder) -> QuerySet[JacketOrder]:
    return (
        team_order.jacket_orders.select_related("size", "colorway", "team_order")
        .prefetch_related(CHOICES)
        .order_by("pk")
    )


def members_to_repeat(team_order: TeamOrder) -> QuerySet[JacketOrder]:
    """Those whom an order made again may take over: nobody once members' data is erased."""
    known = team_order.jacket_orders if team_order.erased_at is None else JacketOrder.objects.none()
    return known.select_related("size", "colorway").order_by("member")


def colorways_of(team_order: TeamOrder) -> QuerySet[Colorway]:
    return (
        team_order.colorways.select_related("blocking__pattern", "topstitch_thread")
        .prefetch_related(
            FILLS, "blocking__blocks", "blocking__style_lines", "blocking__pattern__sizes"
        )
        .annotate(jackets=Count("jacket_orders"))
        .order_by("name")
    )


def run_code_of(team_order: TeamOrder) -> str | None:
    """The run that a frozen order is made in, by its code alone: a run's plan is large."""
    return (
        TeamOrder.objects.filter(pk=team_order.pk)
        .values_list("run_order__run__code", flat=True)
        .get()
    )


def amendments_of(team_order: TeamOrder) -> QuerySet[Amendment]:
    return team_order.amendments.select_related("by")


def amendments_of_deleted_orders() -> QuerySet[Amendment]:
    return Amendment.objects.filter(team_order__isnull=True).select_related("by")


def look_of(
    blocking: Blocking,
    fills: dict[str, FabricColor],
    zipper_color: str,
    topstitch_thread: ThreadColor | None,
    *,
    uid: str,
) -> Look:
    from patterns.pictures import colorway_svgs

    zipper = Zipper.objects.filter(color_code=zipper_color).first()
    extra = {"zipper_hex": zipper.hex_color} if zipper else {}
    pictures = colorway_svgs(
        blocking,
        fills,
        thread_hex=topstitch_thread.hex_color if topstitch_thread else None,
        uid=uid,
        **extra,
    )
    legend: dict[FabricColor, list[str]] = {}
    for block in blocking.blocks.all():
        if block.code in fills:
            legend.setdefault(fills[block.code], []).append(str(block))
    return Look(
        pictures,
        list(legend.items()),
        zipper=zipper.color_name if zipper else zipper_color,
        topstitch=thread_name(topstitch_thread),
    )


def look_of_colorway(colorway: Colorway, choices: Iterable[BlockChoice] = (), *, uid: str) -> Look:
    """A colorway's look, with a member's own choices laid over it."""
    fills = {fill.block.code: fill.fabric_color for fill in colorway.fills.all()}
    fills |= {choice.block.code: choice.fabric_color for choice in choices}
    return look_of(
        colorway.blocking, fills, colorway.zipper_color, colorway.topstitch_thread, uid=uid
    )


def currency() -> str:
    workroom = Workroom.objects.first() or Workroom()
    return workroom.currency


def zipper_colors() -> dict[str, str]:
    """Names of the zipper tape colors by code."""
    return dict(Zipper.objects.order_by("color_name").values_list("color_code", "color_name"))


def suggested_code(club_name: str, deadline: date) -> str:
    """Initials of the club's first two words, the year, and the first letter still free."""
    words = re.findall(r"[A-Za-z0-9]+", club_name)
    start = "".join(word[0].upper() for word in words[:2]) or "TO"
    stem = f"{start}-{deadline:%y}"
    taken = {
        code.upper()
        for code in TeamOrder.objects.filter(code__istartswith=stem).values_list("code", flat=True)
    }
    endings = chain(ascii_uppercase, map(str, count(27)))
    return next(code for ending in endings if (code := f"{stem}{ending}") not in taken)

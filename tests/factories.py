"""Rows for tests, with quiet defaults: a tiny pattern of two blocks, one club, one open order."""

from __future__ import annotations

from datetime import date
from itertools import count
from typing import Any

from django.contrib.auth.models import Group, User

from orders.models import BlockChoice, Club, Colorway, ColorwayBlock, JacketOrder, TeamOrder
from orders.roles import HELPER, MAKER
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

FAR_OFF = date(2099, 3, 14)
_numbers = count(1)


def make_maker(username: str = "mara") -> User:
    return _person(username, MAKER)


def make_helper(username: str = "hal") -> User:
    return _person(username, HELPER)


def _person(username: str, role: str) -> User:
    user = User.objects.create_user(username)
    user.groups.add(Group.objects.get_or_create(name=role)[0])
    return user


def make_pattern(code: str = "P1", sizes: tuple[str, ...] = ("S", "M", "L", "8")) -> Pattern:
    pattern = Pattern.objects.create(
        code=code,
        name=f"Pattern {code}",
        chest_ease_mm=200,
        hip_ease_mm=180,
        neck_ease_mm=60,
        wrist_ease_mm=80,
        cap_ease_mm=15,
    )
    for position, size in enumerate(sizes):
        make_size(pattern, size, position)
    Piece.objects.create(pattern=pattern, code="FR", name="front", pairing="pair", position=0)
    return pattern


def make_size(pattern: Pattern, code: str, position: int = 0) -> PatternSize:
    return PatternSize.objects.create(
        pattern=pattern,
        code=code,
        name=code,
        position=position,
        age_group=PatternSize.AgeGroup.ADULT,
        height_mm=1700,
        chest_mm=960,
        hip_mm=980,
        neck_mm=380,
        shoulder_width_mm=430,
        arm_mm=620,
        wrist_mm=170,
        zipper_mm=600,
        hem_girth_mm=1000,
        cuff_girth_mm=220,
    )


def make_blocking(
    name: str = "Two Halves",
    *,
    pattern: Pattern | None = None,
    blocks: tuple[str, ...] = ("YK", "BD"),
) -> Blocking:
    """A blocking of the one pattern there is; its blocks are parts of the pattern's first piece."""
    pattern = pattern or Pattern.objects.first() or make_pattern()
    blocking = Blocking.objects.create(
        pattern=pattern, code=name.lower().replace(" ", "-"), name=name
    )
    piece = pattern.pieces.all()[0]
    for position, code in enumerate(blocks):
        Block.objects.create(
            blocking=blocking,
            piece=piece,
            code=code,
            name=f"{code} part",
            pairing=piece.pairing,
            position=position,
        )
    return blocking


def make_fabric_color(name: str = "spruce", **overrides: Any) -> FabricColor:
    fabric, _ = Fabric.objects.get_or_create(
        code="FL",
        defaults={
            "name": "fleece",
            "fiber": "polyester",
            "usable_width_mm": 1480,
            "nap": Fabric.Nap.ONE_WAY,
            "highest_plies": 6,
            "shrinkage": "0.020",
            "end_allowance_mm": 20,
            "compressed_thickness_mm": "1.20",
            "price_per_m": "9.00",
        },
    )
    thread, _ = ThreadColor.objects.get_or_create(
        code=f"T-{name}",
        defaults={
            "name": name,
            "hex_color": "#335544",
            "spool_m": 1000,
            "price_per_spool": "4.00",
        },
    )
    values = {"fabric": fabric, "name": name, "hex_color": "#335544", "thread": thread}
    color, _ = FabricColor.objects.get_or_create(code=name, defaults=values | overrides)
    return color


def make_zipper(color: str = "spruce", length_mm: int = 600) -> Zipper:
    return Zipper.objects.create(
        color_code=color,
        color_name=color,
        hex_color="#335544",
        length_mm=length_mm,
        price="2.00",
    )


def make_club(name: str | None = None, **overrides: Any) -> Club:
    return Club.objects.create(name=name or f"Club {next(_numbers)}", **overrides)


def make_team_order(
    code: str | None = None, *, palette: tuple[str, ...] = ("spruce", "oat"), **overrides: Any
) -> TeamOrder:
    team_order = TeamOrder.objects.create(
        **{
            "code": code or f"TO-{next(_numbers)}",
            "club": overrides.pop("club", None) or make_club(),
            "title": "jackets",
            "deadline": FAR_OFF,
        }
        | overrides
    )
    team_order.palette.set([make_fabric_color(name) for name in palette])
    return team_order


def make_colorway(
    team_order: TeamOrder,
    name: str = "Harbor",
    *,
    blocking: Blocking | None = None,
    color: str = "spruce",
) -> Colorway:
    """A colorway in one color throughout."""
    blocking = blocking or Blocking.objects.first() or make_blocking()
    colorway = Colorway.objects.create(
        team_order=team_order, name=name, blocking=blocking, zipper_color="spruce"
    )
    fabric_color = make_fabric_color(color)
    for block in blocking.blocks.all():
        ColorwayBlock.objects.create(colorway=colorway, block=block, fabric_color=fabric_color)
    return colorway


def make_jacket_order(
    team_order: TeamOrder,
    member: str | None = None,
    *,
    size: str = "M",
    colorway: Colorway | None = None,
    own: dict[str, str] | None = None,
    **overrides: Any,
) -> JacketOrder:
    """`own` gives block codes the member's own color by name."""
    colorway = colorway or team_order.colorways.first() or make_colorway(team_order)
    jacket_order = JacketOrder.objects.create(
        team_order=team_order,
        member=member or f"Member {next(_numbers)}",
        size=colorway.blocking.pattern.sizes.get(code=size),
        colorway=colorway,
        **overrides,
    )
    for block, color in (own or {}).items():
        BlockChoice.objects.create(
            jacket_order=jacket_order,
            block=colorway.blocking.blocks.get(code=block),
            fabric_color=make_fabric_color(color),
        )
    return jacket_order

"""What a form or a roster says about an order, on its way to the services."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from orders.models import Club, Colorway, TeamOrder
from patterns.models import Block, Blocking, FabricColor, PatternSize, ThreadColor


@dataclass(frozen=True, slots=True)
class TeamOrderFacts:
    code: str
    club: Club
    title: str
    deadline: date
    palette: tuple[FabricColor, ...]
    note: str = ""
    contact: str = ""
    closes_on: date | None = None
    names_allowed: bool = True
    sizes: tuple[PatternSize, ...] = ()
    free_blocks: tuple[Block, ...] = ()
    welcome: str = ""
    coordinator_email: str = ""
    price: Decimal | None = None
    payer: str = TeamOrder.Payer.CLUB
    discount: Decimal = Decimal(0)
    erase_after_days: int = 90


@dataclass(frozen=True, slots=True)
class ColorwayFacts:
    name: str
    blocking: Blocking
    zipper_color: str
    topstitch_thread: ThreadColor | None
    fills: Mapping[Block, FabricColor]


@dataclass(frozen=True, slots=True)
class JacketFacts:
    member: str
    size: PatternSize
    colorway: Colorway
    name_on_jacket: str = ""
    note: str = ""
    choices: Mapping[Block, FabricColor] = field(default_factory=dict)

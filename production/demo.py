"""The demo scenario: two invented clubs, one run in mid-production, one form open to members."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from django.contrib.auth.models import Group, User
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from orders import handing_out
from orders.models import (
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
from production.cloth import receive
from production.cloth_upkeep import add_flaw
from production.errors import ProductionError
from production.models import Jacket, Run, StockLot, StockMovement
from production.services import plan_run_for
from production.tracking import record

DEMO_PASSWORD = "tern-quay-demo"  # for the demo's two log-ins on this machine
DEMO_PEOPLE = ("maker", "helper")


@dataclass(frozen=True, slots=True)
class DemoColorway:
    name: str
    blocking: str
    base: str
    accents: dict[str, str]
    zipper: str
    topstitch: str | None = None


@dataclass(frozen=True, slots=True)
class DemoOrder:
    code: str
    club: str
    contact: str
    title: str
    palette: tuple[str, ...]
    colorways: tuple[DemoColorway, ...]
    roster: tuple[str, ...]
    price: str
    payer: str
    welcome: str


REGATTA = DemoOrder(
    code="TQ-SPRING",
    club="Tern Quay Rowing Club",
    contact="The boat captain, at the boathouse",
    title="Spring regatta jackets",
    palette=("spruce", "marigold", "oat"),
    colorways=(
        DemoColorway(
            "Harbor",
            "boathouse",
            "spruce",
            {
                "B-FY": "marigold",
                "B-BY": "marigold",
                "B-FS": "oat",
                "B-BS": "oat",
                "PI": "marigold",
            },
            "spruce",
            "marigold",
        ),
        DemoColorway(
            "Dawn",
            "boathouse",
            "oat",
            {"B-FY": "spruce", "B-BY": "spruce", "CO": "spruce", "CU": "spruce"},
            "oat",
        ),
        DemoColorway(
            "Squall",
            "breakwater",
            "spruce",
            {"W-FU": "marigold", "CO": "marigold"},
            "marigold",
        ),
        DemoColorway(
            "Shingle", "breakwater", "oat", {"W-FL": "spruce", "CO": "marigold"}, "oat", "spruce"
        ),
        DemoColorway(
            "Coxswain",
            "oar-stripe",
            "spruce",
            {"O-SB": "oat", "CO": "oat", "PI": "oat"},
            "spruce",
            "oat",
        ),
        DemoColorway(
            "Lantern", "oar-stripe", "marigold", {"O-SB": "spruce", "CU": "spruce"}, "marigold"
        ),
    ),
    # member, size, colorway, name on the jacket
    roster=(
        "Wren Calder,M,Harbor,WREN",
        "Tomas Iglis,L,Harbor,TOMAS",
        "Odile Marsh,S,Harbor,",
        "Jory Penhale,XL,Harbor,JORY",
        "Britt Aalund,M,Harbor,BRITT",
        "Kasimir Dole,L,Harbor,",
        "Senna Voss,XS,Harbor,SENNA",
        "Piet Harrow,2XL,Harbor,",
        "Léonie Fabre,S,Harbor,LÉONIE",
        "Mika Sorrel,M,Harbor,",
        "Edda Lund,S,Dawn,EDDA",
        "Ravi Tolland,M,Dawn,",
        "Nell Ashby,XS,Dawn,NELL",
        "Corin Blake,L,Dawn,",
        "Ylva Strand,M,Dawn,YLVA",
        "Amos Quill,3XL,Dawn,",
        "Sanne de Wit,M,Squall,SANNE",
        "Bram Oakes,L,Squall,",
        "Tilda Roe,S,Squall,TILDA",
        "Gus Merrow,XL,Squall,GUS",
        "Ines Cardoso,M,Squall,",
        "Fenn Hollis,L,Squall,FENN",
        "Hal Brigg,XL,Shingle,",
        "Maud Sayer,M,Shingle,MAUD",
        "Otis Crane,L,Shingle,",
        "Zofia Łęcka,S,Shingle,ZOFIA",
        "Dara Finch,YL,Coxswain,DARA",
        "Pip Larkin,YM,Coxswain,PIP",
        "Juno Weir,YM,Coxswain,",
        "Robin Tarn,YXL,Coxswain,ROBIN",
        "Ada Moss,YS,Coxswain,ADA",
        "Finn Colley,YL,Coxswain,",
        "Lio Hatch,YXL,Coxswain,",
        "Mara Pell,S,Coxswain,MARA",
        "Sol Venn,YL,Lantern,SOL",
        "Kit Orme,YXL,Lantern,KIT",
        "Bea Luscombe,YM,Lantern,",
        "Ned Farrow,M,Lantern,NED",
    ),
    price="92.00",
    payer=TeamOrder.Payer.MEMBERS,
    welcome="Jackets for the regatta, sewn to order. Choose a size that fits over one layer.",
)

PADDLERS = DemoOrder(
    code="LM-CREW",
    club="Lowmarsh Paddlers",
    contact="The crew secretary",
    title="Crew jackets",
    palette=("slate", "oat"),
    colorways=(
        DemoColorway("Reed", "oar-stripe", "slate", {"O-SB": "oat", "CO": "oat"}, "slate", "oat"),
        DemoColorway("Fen", "breakwater", "oat", {"W-FL": "slate", "CO": "slate"}, "slate"),
    ),
    roster=(
        "Ansel Frith,M,Reed,ANSEL",
        "Beck Tully,L,Reed,",
        "Cass Wyman,S,Reed,CASS",
        "Dov Marten,XL,Reed,",
        "Elin Skye,M,Reed,ELIN",
        "Flora Nye,S,Reed,",
        "Greer Holt,L,Reed,GREER",
        "Hedy Stone,M,Fen,",
        "Idris Vale,L,Fen,IDRIS",
        "Jem Rushton,M,Fen,",
        "Kaya Bourne,S,Fen,KAYA",
        "Lorne Pike,2XL,Fen,",
    ),
    price="86.50",
    payer=TeamOrder.Payer.CLUB,
    welcome="The club pays for the crew's jackets; please only order the one that you will wear.",
)

#: Its form is open: members are still choosing.
NOVICES = DemoOrder(
    code="TQ-NOVICE",
    club="Tern Quay Rowing Club",
    contact="The boat captain, at the boathouse",
    title="Novice squad jackets",
    palette=("spruce", "marigold", "oat"),
    colorways=(
        DemoColorway(
            "Harbor",
            "boathouse",
            "spruce",
            {"B-FY": "marigold", "B-BY": "marigold", "B-FS": "oat", "B-BS": "oat"},
            "spruce",
            "marigold",
        ),
        DemoColorway("Coxswain", "oar-stripe", "spruce", {"O-SB": "oat", "CO": "oat"}, "spruce"),
    ),
    roster=(
        "Alba Renwick,YL,Harbor,ALBA",
        "Cato Brandt,M,Harbor,",
        "Imke Vaal,YXL,Coxswain,IMKE",
        "Rafe Dunmore,S,Coxswain,RAFE",
    ),
    price="92.00",
    payer=TeamOrder.Payer.MEMBERS,
    welcome="Welcome to the squad! Choose a size over one layer of clothes, and if you like your "
    "own color for the collar.",
)
#: On the squad's list, but without a jacket so far.
NOVICES_MISSING = ("Bruno Ash", "Delia Thorn", "Ove Lindgren")


@dataclass(frozen=True, slots=True)
class DemoBolt:
    code: str
    color: str
    dye_lot: str
    length_mm: int
    usable_width_mm: int = 1480
    is_remnant: bool = False


#: Invented, so that the demo has both cloth on hand and something to buy.
DEMO_BOLTS = (
    DemoBolt("B-101", "spruce", "SP-4471", 12_000),
    DemoBolt("B-102", "oat", "OA-2208", 8_000),
    DemoBolt("B-103", "slate", "SL-0917", 3_000),
    DemoBolt("B-104", "oat", "OA-2208", 620, 700, True),
)

#: Found when the spruce was looked through: bolt, then along, across, length and width in mm.
DEMO_FLAWS = (
    ("B-101", 2_350, 610, 40, 25, True, "hole"),
    ("B-101", 7_900, 1_120, 230, 30, False, "oil line"),
)

PLANNED_ORDERS = (REGATTA, PADDLERS)
DEMO_ORDERS = (*PLANNED_ORDERS, NOVICES)

#: Own color choices of single members: (member, block, fabric color).
OWN_CHOICES = (("Mika Sorrel", "CO", "oat"), ("Bram Oakes", "CU", "marigold"))


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
    maker = _people()
    orders = [_team_order(order, maker) for order in PLANNED_ORDERS]
    _open_form(_team_order(NOVICES, maker), maker)
    began = timezone.now().replace(hour=8, minute=30, second=0, microsecond=0)
    began -= datetime.timedelta(days=12)
    _cloth(began.date(), maker)
    run = plan_run_for(orders, maker, planned_on=began.date())
    Run.objects.filter(pk=run.pk).update(created_at=began)
    _work_on(run, began)


def _clear(clubs: list[str]) -> None:
    """Old demo rows go, runs first: a jacket holds on to its order."""
    Run.objects.filter(run_orders__team_order__club__name__in=clubs).delete()
    _clear_cloth(StockLot.objects.filter(code__in=[bolt.code for bolt in DEMO_BOLTS]))
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


def _cloth(day: datetime.date, maker: User) -> None:
    colors = {color.code: color for color in FabricColor.objects.select_related("fabric")}
    for bolt in DEMO_BOLTS:
        receive(
            code=bolt.code,
            fabric_color=colors[bolt.color],
            dye_lot=bolt.dye_lot,
            length_mm=bolt.length_mm,
            usable_width_mm=bolt.usable_width_mm,
            is_remnant=bolt.is_remnant,
            received_on=day,
            by=maker,
        )
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


def _work_on(run: Run, began: datetime.datetime) -> None:
    """Two weeks of work: twenty jackets cut, nine sewn, one mended on the way, four finished and
    two of them handed over."""
    helper = User.objects.get(username="helper")
    codes = list(Jacket.objects.filter(run=run).order_by("pk").values_list("code", flat=True))

    def at(day: int, place: int) -> datetime.datetime:
        return began + datetime.timedelta(days=day, minutes=17 * place)

    for place, code in enumerate(codes[:20]):
        record(code, "done", "cut", helper, at=at(0, place))
    for place, code in enumerate(codes[:9]):
        record(code, "done", "sew", helper, at=at(3, place))
    record(codes[2], "send_back", "sew", helper, reason="zipper wave at the hem", at=at(6, 0))
    record(codes[2], "done", "sew", helper, at=at(6, 3))
    for place, code in enumerate(codes[:4]):
        record(code, "done", "finish", helper, at=at(7, place))
    for place, code in enumerate(codes[:2]):
        record(code, "done", "hand_over", helper, at=at(8, place))
    record(codes[5], "send_back", "sew", helper, reason="skipped stitches on the yoke", at=at(8, 4))
    record(codes[9], "start", "sew", helper, at=at(9, 0))
    record(codes[20], "start", "cut", helper, at=at(9, 1))

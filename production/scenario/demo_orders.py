"""The orders, cloth and reports of the demo scenario. All of it is invented."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from orders.models import TeamOrder


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

#: Approved by the club and not planned yet: a visitor can plan it and watch the lays get better.
YOUTH = DemoOrder(
    code="LM-YOUTH",
    club="Lowmarsh Paddlers",
    contact="The crew secretary",
    title="Youth crew jackets",
    palette=("slate", "oat", "marigold"),
    colorways=(
        DemoColorway("Heron", "breakwater", "slate", {"W-FU": "oat", "CO": "marigold"}, "slate"),
        DemoColorway(
            "Sedge", "oar-stripe", "oat", {"O-SB": "slate", "CO": "slate"}, "oat", "slate"
        ),
    ),
    roster=(
        "Ólöf Brekka,YL,Heron,ÓLÖF",
        "Нестор Журавка,YM,Heron,НЕСТОР",
        "Δάφνη Καλαμιά,YS,Heron,",
        "Nia Okafor-Reed,YXL,Heron,NIA",
        "Արեւ Եղեգ,YM,Heron,",
        "Đặng Thu Sậy,S,Heron,THU",
        "Želimir Trska,YL,Sedge,ŽELIMIR",
        "ლელა ჭილაძირი,YS,Sedge,",
        "Rowan Teal,YXL,Sedge,ROWAN",
        "Inés Junco,M,Sedge,",
    ),
    price="79.00",
    payer=TeamOrder.Payer.CLUB,
    welcome="For the youth crew and those who coach it. Choose a size over one layer.",
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

#: What the run was short of, bought for it: code, color and dye lot, and what it is longer than
#: the run needs, in mm. Of slate and oat, enough is left for a part of the next order.
DEMO_BOUGHT = (
    ("B-105", "spruce", "SP-4488", 300),
    ("B-106", "marigold", "MA-1306", 250),
    ("B-107", "oat", "OA-2231", 3_000),
    ("B-108", "slate", "SL-0940", 4_000),
)

#: Found as the bundles were made up: member, block, side, and what is wrong with it.
DEMO_SPOILED = ("Wren Calder", "B-FY", "left", "slipped in the stack, 12 mm short at the armhole")

#: On the shelf before the run: wares by their keys.
DEMO_SHELF = (
    ("thread:spruce:cone", 2),
    ("thread:oat:spool", 3),
    ("thread:marigold:spool", 2),
    ("thread:slate:spool", 1),
    ("zipper:spruce:650", 5),
    ("zipper:spruce:700", 3),
    ("zipper:oat:700", 4),
)


@dataclass(frozen=True, slots=True)
class DearerWare:
    """A ware that cost more than its price list, by this factor."""

    supplier: str
    key: str
    factor: Decimal


DEMO_DEARER = DearerWare("Harbor Haberdashery", "zipper:slate:700", Decimal("1.06"))
#: A spool of it was taken beyond the need and not brought back.
DEMO_TAKEN_BEYOND = "thread:oat:spool"

#: The operation that was timed, and its readings: seconds on the watch and rating.
DEMO_OPERATION = "elastic"
DEMO_READINGS = ((262, 95), (247, 100), (255, 100), (236, 105), (251, 100), (269, 95))

#: Minutes that the first jackets of the run took from start to end: at the machine by turns of
#: helper and maker, and at finishing.
DEMO_SEWN = (61, 64, 63, 66, 60, 62)
DEMO_FINISHED = (9, 11, 10, 9)

PLANNED_ORDERS = (REGATTA, PADDLERS)
DEMO_ORDERS = (*PLANNED_ORDERS, YOUTH, NOVICES)

#: Own color choices of single members: (member, block, fabric color).
OWN_CHOICES = (("Mika Sorrel", "CO", "oat"), ("Bram Oakes", "CU", "marigold"))

"""The base jacket, its three blockings, operations and materials that the app ships with.

All minutes, prices and stock here are invented starting values, to be replaced by the workroom's
own; stitch types are ISO 4915 numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from patterns.geometry.blocks import Anchor, BlockName, StyleLine

PATTERN_CODE = "FLEECE-1"
PATTERN_NAME = "Zip-front fleece jacket"


@dataclass(frozen=True, slots=True)
class ShippedBlocking:
    code: str
    name: str
    note: str
    style_lines: tuple[StyleLine, ...]


BOATHOUSE = ShippedBlocking(
    code="boathouse",
    name="Boathouse",
    note="A yoke on fronts and back that meets at the shoulder, and curved side panels.",
    style_lines=(
        StyleLine(
            code="fyoke",
            name="front yoke seam",
            cuts="FR",
            start=Anchor("armhole", 0.60),
            end=Anchor("center_front", 0.14),
            left=BlockName("B-FB", "Front body"),
            right=BlockName("B-FY", "Front yoke"),
            bends=((0.33, 0.03), (0.67, 0.03)),
        ),
        StyleLine(
            code="fside",
            name="front side panel seam",
            cuts="B-FB",
            start=Anchor("hem", 0.66),
            end=Anchor("armhole", 0.22),
            left=BlockName("B-FC", "Front center"),
            right=BlockName("B-FS", "Front side panel"),
            bends=((0.40, 0.02), (0.80, 0.10)),
        ),
        StyleLine(
            code="byoke",
            name="back yoke seam",
            cuts="BK",
            start=Anchor("center_back", 0.80),
            end=Anchor("armhole", 0.40),
            left=BlockName("B-BB", "Back body"),
            right=BlockName("B-BY", "Back yoke"),
        ),
        StyleLine(
            code="bside",
            name="back side panel seam",
            cuts="B-BB",
            start=Anchor("armhole", 0.78),
            end=Anchor("hem", 0.34),
            left=BlockName("B-BC", "Back center"),
            right=BlockName("B-BS", "Back side panel"),
            bends=((0.20, 0.10), (0.60, 0.02)),
        ),
    ),
)

BREAKWATER = ShippedBlocking(
    code="breakwater",
    name="Breakwater",
    note="A diagonal line across both fronts that meets at the zipper; the collar in contrast.",
    style_lines=(
        StyleLine(
            code="diag",
            name="front diagonal seam",
            cuts="FR",
            start=Anchor("armhole", 0.35),
            end=Anchor("center_front", 0.52),
            left=BlockName("W-FL", "Front lower"),
            right=BlockName("W-FU", "Front upper"),
        ),
    ),
)

OAR_STRIPE = ShippedBlocking(
    code="oar-stripe",
    name="Oar Stripe",
    note="A band around each sleeve and a back split down the middle.",
    style_lines=(
        StyleLine(
            code="bandtop",
            name="sleeve band upper seam",
            cuts="SL",
            start=Anchor("back_underarm", 0.70),
            end=Anchor("front_underarm", 0.30),
            left=BlockName("O-SX", "Sleeve below"),
            right=BlockName("O-ST", "Sleeve top"),
        ),
        StyleLine(
            code="bandlow",
            name="sleeve band lower seam",
            cuts="O-SX",
            start=Anchor("back_underarm", 0.48),
            end=Anchor("front_underarm", 0.52),
            left=BlockName("O-SL", "Sleeve lower"),
            right=BlockName("O-SB", "Sleeve band"),
        ),
        StyleLine(
            code="split",
            name="center back seam",
            cuts="BK",
            start=Anchor("center_back", 0),
            end=Anchor("center_back", 1),
            left=BlockName("O-BK", "Back half"),
            right=None,
        ),
    ),
)

BLOCKINGS = (BOATHOUSE, BREAKWATER, OAR_STRIPE)


def _operation(
    code: str, name: str, stage: str, driver: str, **values: object
) -> dict[str, object]:
    return {"code": code, "name": name, "stage": stage, "driver": driver, **values}


OPERATIONS: tuple[dict[str, object], ...] = (
    _operation("lay-up", "Set up and mark the lay", "cut", "lay", minutes_each=Decimal("9")),
    _operation("spread", "Spread a ply", "cut", "ply", minutes_each=Decimal("1.4")),
    _operation("cut-out", "Cut round an outline", "cut", "outline", minutes_each=Decimal("0.90")),
    _operation("bundle", "Bundle and tag a jacket", "cut", "jacket", minutes_each=Decimal("2")),
    _operation(
        "seam",
        "Sew the seams",
        "sew",
        "seam_metre",
        covers="join",
        minutes_each=Decimal("0.30"),
        minutes_per_metre=Decimal("1.10"),
        machine="lockstitch",
        foot="standard",
        stitch_type="301",
        stitch_length_mm=Decimal("3.0"),
    ),
    _operation(
        "overedge",
        "Overedge the seams",
        "sew",
        "seam_metre",
        covers="join",
        minutes_each=Decimal("0.15"),
        minutes_per_metre=Decimal("0.55"),
        machine="serger",
        foot="serger",
        stitch_type="504",
        stitch_length_mm=Decimal("3.0"),
        seam_width_mm=Decimal("5.0"),
        takes_cones=True,
    ),
    _operation(
        "topstitch",
        "Topstitch beside the seams",
        "sew",
        "seam_metre",
        covers="topstitched",
        minutes_each=Decimal("0.30"),
        minutes_per_metre=Decimal("1.20"),
        machine="lockstitch",
        foot="edge-joining",
        stitch_type="301",
        stitch_length_mm=Decimal("3.5"),
        cloth_layers=3,
        contrast_thread=True,
    ),
    _operation(
        "zipper",
        "Sew in the zipper",
        "sew",
        "seam_metre",
        covers="zipper",
        minutes_each=Decimal("1.50"),
        minutes_per_metre=Decimal("3.00"),
        machine="lockstitch",
        foot="zipper",
        stitch_type="301",
        stitch_length_mm=Decimal("3.0"),
    ),
    _operation("elastic", "Sew and insert the elastic", "sew", "jacket", minutes_each=Decimal("4")),
    _operation(
        "hem",
        "Double-needle the hem",
        "sew",
        "seam_metre",
        covers="hem",
        minutes_each=Decimal("0.50"),
        minutes_per_metre=Decimal("1.50"),
        machine="lockstitch",
        foot="double needle",
        stitch_type="301",
        stitch_length_mm=Decimal("3.5"),
        seam_width_mm=Decimal("6.0"),
        rows=2,
        contrast_thread=True,
    ),
    _operation(
        "cuff",
        "Double-needle the cuffs",
        "sew",
        "seam_metre",
        covers="cuff",
        minutes_each=Decimal("0.60"),
        minutes_per_metre=Decimal("1.80"),
        machine="lockstitch",
        foot="double needle",
        stitch_type="301",
        stitch_length_mm=Decimal("3.5"),
        seam_width_mm=Decimal("6.0"),
        rows=2,
        cloth_layers=3,
        contrast_thread=True,
    ),
    _operation("trim", "Trim threads and look over", "finish", "jacket", minutes_each=Decimal("5")),
    _operation(
        "label", "Sew in size and care label", "finish", "jacket", minutes_each=Decimal("2")
    ),
    _operation("fold", "Fold and pack by member", "finish", "jacket", minutes_each=Decimal("1.5")),
)

#: code, name, screen color
COLORS: tuple[tuple[str, str, str], ...] = (
    ("spruce", "spruce", "#1f5a4c"),
    ("marigold", "marigold", "#e8a317"),
    ("oat", "oat", "#e6d9bd"),
    ("slate", "slate", "#5d6b7a"),
)
HATCHES = {"spruce": "rising", "marigold": "dots", "oat": "none", "slate": "level"}
FABRIC: dict[str, object] = {
    "code": "fleece-280",
    "name": "Quay fleece 280",
    "fiber": "100 % polyester",
    "usable_width_mm": 1480,
    "nap": "one_way",
    "highest_plies": 8,
    "shrinkage": Decimal("0.020"),
    "end_allowance_mm": 20,
    "compressed_thickness_mm": Decimal("1.20"),
    "price_per_m": Decimal("11.80"),
}
SPOOL_M = 1000
SPOOL_PRICE = Decimal("4.60")
CONE_M = 5000
CONE_PRICE = Decimal("9.80")

#: name, days from order to goods; both invented.
CLOTH_SUPPLIER = ("Low Mill Cloth", 10)
NOTIONS_SUPPLIER = ("Harbor Haberdashery", 5)

#: Sold from 30 to 80 cm in steps of 5 cm: common practice, no source.
ZIPPER_LENGTHS_MM = tuple(range(300, 801, 50))
ZIPPER_PRICE_BASE = Decimal("1.20")
ZIPPER_PRICE_PER_M = Decimal("2.40")

ELASTICS: tuple[dict[str, object], ...] = (
    {
        "place": "hem",
        "name": "hem elastic 25 mm",
        "width_mm": 25,
        "stretch_factor": Decimal("0.880"),
        "join_mm": 20,
        "price_per_m": Decimal("0.95"),
    },
    {
        "place": "cuff",
        "name": "cuff elastic 25 mm",
        "width_mm": 25,
        "stretch_factor": Decimal("0.850"),
        "join_mm": 20,
        "price_per_m": Decimal("0.95"),
    },
)

#: Invented starting values. Their seams are codes of the shipped pattern.
NOTIONS: tuple[dict[str, object], ...] = (
    {
        "code": "stay-tape",
        "name": "stay tape for the shoulders",
        "rule": "seam_metre",
        "seam": "shoulder",
        "unit": "m",
        "quantity": Decimal("1.05"),
        "sold_step": Decimal("10"),
        "price": Decimal("0.35"),
    },
    {
        "code": "interfacing",
        "name": "placket interfacing, 40 mm",
        "rule": "seam_metre",
        "seam": "zipper",
        "unit": "m",
        "quantity": Decimal("1.05"),
        "sold_step": Decimal("1"),
        "price": Decimal("0.60"),
    },
    {
        "code": "size-label",
        "name": "size label",
        "rule": "jacket",
        "differs_by_size": True,
        "sold_step": Decimal("10"),
        "price": Decimal("0.08"),
    },
    {
        "code": "care-label",
        "name": "care label",
        "rule": "jacket",
        "sold_step": Decimal("25"),
        "price": Decimal("0.10"),
    },
)

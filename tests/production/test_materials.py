from __future__ import annotations

from decimal import Decimal

import pytest

from production.planning.materials import (
    elastic_length_mm,
    fabric_needed_mm,
    notion_needs,
    zipper_for,
)
from production.planning.plan import Lay, NotionNeed, PlanError
from production.planning.snapshot import ElasticSpec, ZipperSpec
from tests.production.planning_factories import make_fabric, make_jacket, make_size, make_snapshot


def make_lay(plies: int, length_mm: float) -> Lay:
    return Lay("L", "face_up", plies, 1400, length_mm, 0.8, 0.0, 0.0, ())


def test_every_ply_has_both_end_allowances_and_shrinkage_comes_on_top() -> None:
    # 4 x (1000 + 40) + 1 x (500 + 40) = 4700 mm on the table; 4700 / 0.98 = 4795.92 before.
    lays = [make_lay(4, 1000.0), make_lay(1, 500.0)]
    assert fabric_needed_mm(lays, make_fabric()) == 4796


def test_cloth_that_does_not_shrink_needs_what_is_spread() -> None:
    fabric = make_fabric(shrinkage=Decimal(0), end_allowance_mm=0)
    assert fabric_needed_mm([make_lay(3, 333.0)], fabric) == 999
    assert fabric_needed_mm([make_lay(1, 333.1)], fabric) == 334


def test_zippers_are_counted_by_size_and_color() -> None:
    jackets = (
        make_jacket("J1"),
        make_jacket("J2", size="M", zipper_color="white"),
        make_jacket("J3", size="M"),
        make_jacket("J4", size="M"),
    )
    needs = [priced.need for priced in notion_needs(make_snapshot(jackets=jackets, elastics=()))]
    assert needs == [
        NotionNeed("separating zipper 60 cm", "S", "black", Decimal(1), "piece"),
        NotionNeed("separating zipper 65 cm", "M", "black", Decimal(2), "piece"),
        NotionNeed("separating zipper 65 cm", "M", "white", Decimal(1), "piece"),
    ]


def test_the_shortest_zipper_that_is_long_enough_is_taken() -> None:
    snapshot = make_snapshot()
    assert zipper_for(snapshot, make_size("S", zipper_mm=600), "black").length_mm == 600
    assert zipper_for(snapshot, make_size("S", zipper_mm=601), "black").length_mm == 650


def test_a_half_centimetre_is_told_in_the_item() -> None:
    zippers = (ZipperSpec("black", "black", 635, Decimal(2)),)
    first, *_ = notion_needs(make_snapshot(zippers=zippers))
    assert first.need.item == "separating zipper 63.5 cm"


def test_a_zipper_too_long_for_the_shop_is_named_with_the_longest_sold() -> None:
    size = make_size("XL", zipper_mm=700)
    with pytest.raises(PlanError, match="XL needs a zipper of 70 cm in black, but the longest"):
        zipper_for(make_snapshot(), size, "black")
    with pytest.raises(PlanError, match="none is sold in that color"):
        zipper_for(make_snapshot(), size, "purple")


def test_elastic_is_the_stretched_girth_and_the_join_in_whole_mm() -> None:
    elastic = ElasticSpec("hem", "hem elastic", 25, Decimal("0.85"), 20, Decimal(1))
    assert elastic_length_mm(elastic, 901) == 786  # 765.85 + 20


def test_a_jacket_takes_one_hem_and_two_cuff_elastics() -> None:
    jackets = (make_jacket("J1"), make_jacket("J2"))
    needs = [p.need for p in notion_needs(make_snapshot(jackets=jackets)) if p.need.unit == "m"]
    assert needs == [
        NotionNeed("hem elastic", "S", "", Decimal("1.48"), "m"),  # 2 x (900 x 0.8 + 20)
        NotionNeed("cuff elastic", "S", "", Decimal("0.80"), "m"),  # 2 x 2 x (200 x 0.9 + 20)
    ]


def test_elastic_for_a_place_that_jackets_lack_is_refused() -> None:
    hood = ElasticSpec("hood", "hood elastic", 25, Decimal("0.8"), 20, Decimal(1))
    with pytest.raises(PlanError, match="'hood'"):
        notion_needs(make_snapshot(elastics=(hood,)))

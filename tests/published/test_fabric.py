"""Cloth against textbook arithmetic. All three follow from definitions and were recomputed."""

from __future__ import annotations

from decimal import Decimal

import pytest

from production.planning.plan import Lay
from production.planning.supplies.materials import (
    cut_length_mm,
    fabric_needed_mm,
    length_by_area_mm,
)
from tests.production.planning_factories import make_fabric


def test_shrinkage_divides_by_what_remains() -> None:
    """100 cm that shrink by 4 % must be cut as 104.17 cm, not 104.00 (definition, recomputed;
    rounded to two decimals of a cm, hence 0.05 mm)."""
    assert cut_length_mm(Decimal(1000), Decimal("0.04")) == pytest.approx(
        Decimal("1041.7"), abs=Decimal("0.05")
    )


def test_cloth_for_a_lay_follows_the_same_rule() -> None:
    """One ply of 100 cm without end allowance: 1041.67 mm, bought in whole mm upward."""
    fabric = make_fabric(shrinkage=Decimal("0.04"), end_allowance_mm=0)
    lay = Lay("L", "face_up", 1, 1400, 1000.0, 0.8, 0.0, 0.0, ())
    assert fabric_needed_mm([lay], fabric) == 1042


def test_length_by_area() -> None:
    """1.55 m2 on 1.50 m of width at 80 % take 1.2917 m (definition, recomputed; four decimals of
    a metre, hence 0.05 mm)."""
    assert length_by_area_mm(1_550_000, 1500, 0.80) == pytest.approx(1291.7, abs=0.05)

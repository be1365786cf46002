from __future__ import annotations

import pytest

from production.planning.cloth.four_point import (
    FoundFlaw,
    flaw_points,
    points_per_100_square_yards,
    roll_points,
)


def test_a_flaw_across_the_cloth_counts_by_its_width() -> None:
    assert flaw_points(FoundFlaw(0, length_mm=5, width_mm=240)) == 4


def test_a_clean_bolt_has_no_points() -> None:
    assert roll_points([]) == 0
    assert points_per_100_square_yards(0, 12_000, 1480) == 0


@pytest.mark.parametrize("size", [(0, 1480), (12_000, 0), (-1, 1480)])
def test_cloth_without_a_size_has_no_score(size: tuple[int, int]) -> None:
    with pytest.raises(ValueError, match="a length and a width"):
        points_per_100_square_yards(3, *size)

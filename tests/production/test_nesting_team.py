"""Blocks dealt out to two solvers, and what they find laid end to end."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings

from production.planning.nesting import NESTED, Strip, faults_of, nest
from production.planning.nesting.blocks import area_mm2, clean_ring, ring_area_mm2
from production.planning.nesting.rows import in_rows
from production.planning.nesting.team import (
    FEWEST_PIECES_HALVED,
    Team,
    halves,
    is_better_halved,
    joined,
)
from tests.production.nesting_factories import polygon, rectangle, some_blocks

STRIP = Strip(1200.0, 4.0)
TRIANGLES = [polygon("Triangle", ((0.0, 0.0), (300.0, 0.0), (0.0, 200.0)), 40, 0.0, 180.0)]


@settings(max_examples=30, deadline=None)
@given(blocks=some_blocks())
def test_halves_are_all_pieces_and_differ_by_no_more_than_the_largest(blocks):
    first, second = halves(blocks)
    dealt: Counter[tuple[str, ...]] = Counter()
    for block in (*first, *second):
        dealt[block.key] += block.count
    assert dealt == {block.key: block.count for block in blocks}
    largest_mm2 = max(ring_area_mm2(clean_ring(block)) for block in blocks)
    assert abs(area_mm2(first) - area_mm2(second)) <= largest_mm2 + 1e-6


def test_both_halves_get_of_each_size():
    blocks = [rectangle("large", 100, 100, 2), rectangle("small", 10, 10, 2)]
    first, second = halves(blocks)
    assert [block.count for block in first] == [block.count for block in second] == [1, 1]


@settings(max_examples=20, deadline=None)
@given(blocks=some_blocks())
def test_sound_halves_laid_end_to_end_are_a_sound_nest(blocks):
    first, second = halves([*blocks, rectangle("one more", 50, 50)])
    rows, behind = in_rows(first, STRIP), in_rows(second, STRIP)
    both = joined(rows, behind, STRIP.gap_mm)
    assert both.length_mm == rows.length_mm + STRIP.gap_mm + behind.length_mm
    assert faults_of(both, [*blocks, rectangle("one more", 50, 50)], STRIP) == []


def test_only_many_pieces_with_little_time_are_halved():
    few = [rectangle("few", 100, 100, FEWEST_PIECES_HALVED - 1)]
    assert is_better_halved(TRIANGLES, 0.5)
    assert not is_better_halved(TRIANGLES, 60.0)
    assert not is_better_halved(few, 0.1)


@pytest.mark.parametrize("seconds", [0.5, 2.0], ids=["halves", "whole"])
def test_team_finds_a_sound_nest_of_all_blocks(seconds):
    with Team(TRIANGLES, STRIP, seconds, 0) as team:
        assert team.nest() is None
        while not team.is_done:
            team.listen(0.1)
        found = team.nest()
    assert team.trouble == ""
    assert found is not None and faults_of(found, TRIANGLES, STRIP) == []


def test_halved_nest_is_sound_and_shorter_than_rows():
    found = nest(TRIANGLES, STRIP, 0.7)
    assert (found.method, found.note) == (NESTED, "")
    assert faults_of(found, TRIANGLES, STRIP) == []
    assert found.length_mm < in_rows(TRIANGLES, STRIP).length_mm * 0.8

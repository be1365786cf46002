"""Instances that others pack too, through the same code as a lay.

Source: ESICUP, the EURO working group on cutting and packing; see esicup/README.md for where the
files come from. The best densities are the records of the solver's author in his repository
(JeroenGar/sparrow at a4bfbbe, data/records), not checked against other literature: a yardstick
that a denser nest would have to be explained against, never an oracle.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from production.planning.nesting import Nest, NestBlock, Strip, faults_of, nest
from tests.benchmarks.nesting_sets import BEST_DENSITY, density, esicup

SECONDS = 2.0


@pytest.fixture(scope="module", params=["fu", "jakobs1"])
def packed(request) -> tuple[str, list[NestBlock], Strip, Nest]:
    blocks, strip = esicup(request.param)
    return request.param, blocks, strip, nest(blocks, strip, SECONDS)


def test_every_placement_is_valid(packed):
    _, blocks, strip, found = packed
    assert faults_of(found, blocks, strip) == []


def test_density_is_no_more_than_the_best_known(packed):
    name, blocks, strip, found = packed
    assert 50 < density(found, blocks, strip) <= min(BEST_DENSITY[name] + 0.05, 100)


def test_piece_moved_by_a_millimetre_is_refused(packed):
    """The nest is tight: some piece lies against the start of the cloth, some against another."""
    _, blocks, strip, found = packed
    refused = []
    for at, place in enumerate(found.places):
        nearer = replace(place, x_mm=place.x_mm - 1)
        moved = replace(found, places=(*found.places[:at], nearer, *found.places[at + 1 :]))
        refused += faults_of(moved, blocks, strip)
    assert any("leaves the cloth" in fault for fault in refused)
    assert any("overlap" in fault for fault in refused)


def test_turn_that_is_not_allowed_is_refused(packed):
    _, blocks, strip, found = packed
    turned = replace(found.places[0], rotation_deg=45.0)
    faults = faults_of(replace(found, places=(turned, *found.places[1:])), blocks, strip)
    assert any("is turned by 45 degrees" in fault for fault in faults)


def test_dropped_piece_is_refused(packed):
    _, blocks, strip, found = packed
    faults = faults_of(replace(found, places=found.places[1:]), blocks, strip)
    assert len(faults) == 1 and "asked are" in faults[0]


def test_piece_out_of_the_strip_is_refused(packed):
    _, blocks, strip, found = packed
    away = replace(found.places[0], y_mm=found.places[0].y_mm + strip.width_mm)
    faults = faults_of(replace(found, places=(away, *found.places[1:])), blocks, strip)
    assert len(faults) == 1 and "leaves the cloth" in faults[0]

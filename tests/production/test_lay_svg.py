"""A lay drawn for a page: every block where the plan puts it, with a label inside it."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from shapely import Polygon, box

from production.cutting.lay_svg import LETTER_WIDTH, MARGIN_MM, fitted_label, lay_svg
from production.planning.plan import Lay, Placement
from tests.production.planning_factories import l_shape, rectangle

SVG = "{http://www.w3.org/2000/svg}"
OUTLINES = {("FR", "S"): l_shape(600, 280)}


def make_placement(**values):
    defaults = {
        "side": "left",
        "x_mm": 300.0,
        "y_mm": 140.0,
        "rotation_deg": 0.0,
        "mirrored": False,
    }
    return Placement(block="FR", size="S", **{**defaults, **values})


def make_lay(*placements):
    return Lay("R-1-T1-L1", "face_up", 1, 1400, 2500.0, 0.8, 2000.0, 2600.0, placements)


def drawn(lay, unit="metric", one_way=True):
    return ET.fromstring(lay_svg(lay, OUTLINES, hex_color="#123456", one_way=one_way, unit=unit))


def test_every_placement_is_drawn_and_named():
    svg = drawn(make_lay(make_placement(), make_placement(x_mm=900.0, side="right", mirrored=True)))
    titles = [title.text for title in svg.iter(f"{SVG}title")]
    assert titles == ["FR size S, left", "FR size S, right"]
    assert svg.get("aria-label") == "Lay R-1-T1-L1: 2 blocks on 2.50 m by 1.40 m"


def test_only_turned_over_blocks_are_hatched():
    svg = drawn(make_lay(make_placement(), make_placement(mirrored=True)))
    hatched = [path for path in svg.iter(f"{SVG}path") if path.get("fill", "").startswith("url")]
    assert len(hatched) == 1


def test_the_near_edge_of_the_cloth_is_drawn_below():
    svg = drawn(make_lay(make_placement(y_mm=140.0)))
    heights = [
        float(point.split()[1])
        for point in svg.find(f"{SVG}g/{SVG}path").get("d").strip("MZ").split("L")
    ]
    # 1400 mm of cloth below a margin of 90 mm; the block lies on the near edge and is 280 mm wide.
    assert (max(heights), min(heights)) == (1490.0, 1210.0)


@pytest.mark.parametrize(("unit", "marks"), [("metric", "012"), ("imperial", "012")])
def test_the_ruler_counts_whole_metres_or_yards(unit, marks):
    svg = drawn(make_lay(), unit=unit, one_way=False)
    assert "".join(svg.itertext()) == marks


def test_the_nap_is_shown_where_it_matters():
    assert "nap" in "".join(drawn(make_lay()).itertext())
    assert "nap" not in "".join(drawn(make_lay(), one_way=False).itertext())


def test_a_label_lies_inside_a_bent_block():
    (x, y) = fitted_label("FR", "S L", l_shape(600, 280)).at
    # The corner that the L lacks begins at x = 200, y = 60.
    assert -300 < x < 300
    assert -140 < y < 140
    assert not (x > 200 and y > 60)


def test_a_label_stands_upright_in_a_narrow_block():
    assert fitted_label("FR", "S L", rectangle(40, 300)).upright
    assert not fitted_label("FR", "S L", rectangle(300, 40)).upright


def test_a_label_takes_two_lines_where_that_makes_it_larger():
    assert fitted_label("FR", "S", rectangle(100, 100)).lines == ("FR", "S")
    assert fitted_label("FR", "S", rectangle(300, 30)).lines == ("FR S",)


@pytest.mark.parametrize("turn", [False, True])
def test_both_lines_of_a_label_lie_inside_a_block_that_tapers(turn):
    ring = ((0.0, 0.0), (400.0, 0.0), (0.0, 220.0))
    if turn:
        ring = tuple((y, x) for x, y in ring)
    label = fitted_label("W-FU", "YXL R", ring)
    half = max(map(len, label.lines)) * LETTER_WIDTH * label.size_mm / 2
    high = label.size_mm * (len(label.lines) - 0.2) / 2
    if label.upright:
        half, high = high, half
    (x, y), edge = label.at, 1e-6
    letters = box(x - half + edge, y - high + edge, x + half - edge, y + high - edge)
    assert label.size_mm >= 20
    assert Polygon(ring).contains(letters)


def test_each_block_bears_the_number_of_its_placement():
    svg = drawn(make_lay(make_placement(), make_placement(x_mm=900.0)))
    assert [group.get("data-at") for group in svg.iter(f"{SVG}g") if group.get("data-at")] == [
        "0",
        "1",
    ]


def test_the_fold_of_a_folded_lay_is_named_at_its_far_edge():
    folded = replace(make_lay(make_placement()), mode="folded")
    fold = next(text for text in drawn(folded).iter(f"{SVG}text") if text.text == "fold")
    assert float(fold.get("y")) < MARGIN_MM
    assert "fold" not in "".join(drawn(make_lay(make_placement())).itertext())

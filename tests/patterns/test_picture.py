from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import pytest
import shapely

from patterns.geometry.blocks import Allowances, Anchor, Block, BlockName, StyleLine, cut_blocks
from patterns.geometry.drafting import BODIES, DraftedJacket, Ease, draft
from patterns.geometry.outline import Edge, PatternError
from patterns.geometry.picture import Fill, Part, Picture, Shape, View, jacket_pictures
from patterns.geometry.picture_svg import picture_svg

SVG = "{http://www.w3.org/2000/svg}"
SPRUCE = Fill("#1f5a48", "rising", "spruce")
MARIGOLD = Fill("#e0a526", "dots", "marigold")
OAT = Fill("#e9dfc8", "none", "oat")

#: Rounding in sums over some hundred points of a polyline; cloth is moved, never resized.
AREA_MM2 = 0.01


def line(code, cuts, start, end, left, right, bends=()):
    return StyleLine(
        code,
        code,
        cuts,
        Anchor(*start),
        Anchor(*end),
        BlockName(left, left),
        right and BlockName(right, right),
        bends,
    )


YOKE_AND_SIDES = (
    line("fy", "FR", ("armhole", 0.6), ("center_front", 0.14), "FR-L", "FR-Y"),
    line("fs", "FR-L", ("hem", 0.5), ("armhole", 0.2), "FR-C", "FR-S", ((0.3, 0.1), (0.7, 0.1))),
    line("by", "BK", ("center_back", 0.8), ("armhole", 0.4), "BK-C", "BK-Y"),
)
SPLIT_BACK = (line("cb", "BK", ("center_back", 0.0), ("center_back", 1.0), "BK-H", None),)
SLEEVE_BANDS = (
    line("s1", "SL", ("back_underarm", 0.25), ("front_underarm", 0.75), "SL-L", "SL-M"),
    line("s2", "SL-M", ("back_underarm", 0.45), ("front_underarm", 0.55), "SL-B", "SL-U"),
)


@cache
def drafted(size: str = "M") -> DraftedJacket:
    return draft(next(body for body in BODIES if body.code == size), Ease())


def blocks_of(style_lines=(), size="M", without=()):
    pieces = tuple(piece for piece in drafted(size).pieces if piece.code not in without)
    return cut_blocks(pieces, tuple(style_lines), Allowances())


def pictures_of(*args, **kwargs):
    return jacket_pictures(blocks_of(*args, **kwargs))


def area_mm2(shapes) -> float:
    return sum(shapely.Polygon(shape.points).area for shape in shapes)


def of_block(picture: Picture, *codes: str, parts=(Part.BLOCK, Part.INSIDE)) -> list[Shape]:
    return [shape for shape in picture.shapes if shape.block in codes and shape.part in parts]


def of_part(picture: Picture, part: Part) -> list[Shape]:
    return [shape for shape in picture.shapes if shape.part is part]


def draft_area_mm2(blocks: tuple[Block, ...], code: str) -> float:
    return next(block.draft.area_mm2 for block in blocks if block.code == code)


@pytest.mark.parametrize(
    ("view", "seen"),
    [
        (0, {"FR-C", "FR-S", "FR-Y", "SL-U", "SL-B", "SL-L", "CU", "CO"}),
        (1, {"BK-C", "BK-Y", "SL-U", "SL-B", "SL-L", "CU", "CO"}),
        (2, {"FR-C", "FR-S", "FR-Y", "SL-U", "SL-B", "SL-L", "CU", "CO", "PI"}),
    ],
)
def test_each_view_shows_the_right_side_of_its_blocks(view, seen):
    picture = pictures_of((*YOKE_AND_SIDES, *SLEEVE_BANDS))[view]
    assert {shape.block for shape in of_part(picture, Part.BLOCK)} == seen


def test_opened_jacket_shows_the_wrong_side_of_fronts_and_back():
    opened = pictures_of(YOKE_AND_SIDES)[2]
    inside = {shape.block for shape in of_part(opened, Part.INSIDE)}
    assert inside == {"FR-C", "FR-S", "FR-Y", "BK-C", "BK-Y"}


@pytest.mark.parametrize("size", ["YS", "M", "3XL"])
def test_shapes_stay_within_a_frame_that_all_three_views_share(size):
    pictures = pictures_of((*YOKE_AND_SIDES, *SLEEVE_BANDS), size)
    assert [picture.view for picture in pictures] == [View.FRONT, View.BACK, View.OPEN]
    assert len({(picture.width_mm, picture.height_mm) for picture in pictures}) == 1
    for picture in pictures:
        for x, y in (point for shape in picture.shapes for point in shape.points):
            assert 0 < x < picture.width_mm
            assert 0 < y < picture.height_mm


@pytest.mark.parametrize("code", ["FR-C", "FR-S", "FR-Y"])
def test_front_blocks_keep_their_area_in_the_front_view(code):
    blocks = blocks_of(YOKE_AND_SIDES)
    shapes = of_block(jacket_pictures(blocks)[0], code)
    assert len(shapes) == 2
    for shape in shapes:
        assert area_mm2([shape]) == pytest.approx(draft_area_mm2(blocks, code), abs=AREA_MM2)


def test_back_keeps_its_area_in_the_back_view():
    blocks = blocks_of(YOKE_AND_SIDES)
    back = of_block(jacket_pictures(blocks)[1], "BK-C")
    assert area_mm2(back) == pytest.approx(draft_area_mm2(blocks, "BK-C"), abs=AREA_MM2)


@pytest.mark.parametrize("code", ["SL-U", "SL-B", "SL-L"])
def test_front_and_back_view_share_each_sleeve_block_between_them(code):
    blocks = blocks_of(SLEEVE_BANDS)
    front, back, _ = jacket_pictures(blocks)
    shown = area_mm2(of_block(front, code)) + area_mm2(of_block(back, code))
    assert shown == pytest.approx(2 * draft_area_mm2(blocks, code), abs=AREA_MM2)


def test_cuffs_show_their_outer_layer_once_around():
    blocks = blocks_of()
    front, back, _ = jacket_pictures(blocks)
    shown = area_mm2(of_block(front, "CU")) + area_mm2(of_block(back, "CU"))
    assert shown == pytest.approx(draft_area_mm2(blocks, "CU"), abs=AREA_MM2)


def test_opened_fronts_are_turned_over_whole():
    blocks = blocks_of()
    shown = area_mm2(of_block(jacket_pictures(blocks)[2], "FR"))
    assert shown == pytest.approx(2 * draft_area_mm2(blocks, "FR"), abs=AREA_MM2)


def test_front_view_is_symmetric():
    front = pictures_of((*YOKE_AND_SIDES, *SLEEVE_BANDS))[0]
    for part, block in {(shape.part, shape.block) for shape in front.shapes}:
        points = [p for shape in of_block(front, block, parts=(part,)) for p in shape.points]
        mirrored = [(front.width_mm - x, y) for x, y in points]
        apart = shapely.MultiPoint(points).hausdorff_distance(shapely.MultiPoint(mirrored))
        assert apart < 1e-6, (part, block)


def test_placket_lies_on_the_wearers_left_front_edge():
    """Seen from in front, the wearer's left is at the viewer's right."""
    _, _, opened = pictures_of()
    placket = of_block(opened, "PI")
    assert [shape.part for shape in placket] == [Part.BLOCK]
    assert min(x for x, _ in placket[0].points) > opened.width_mm / 2


def test_placket_inside_keeps_its_size_and_lies_along_the_zipper():
    opened = pictures_of()[2]
    placket = shapely.Polygon(of_block(opened, "PI")[0].points)
    zipper = next(
        shape for shape in of_part(opened, Part.ZIPPER) if shape.points[0][0] > opened.width_mm / 2
    )
    piece = next(piece for piece in drafted().pieces if piece.code == "PI")
    assert placket.area == pytest.approx(piece.area_mm2, abs=AREA_MM2)
    assert placket.exterior.distance(shapely.Point(zipper.points[0])) < 1e-6
    assert placket.exterior.distance(shapely.Point(zipper.points[-1])) < 1e-6


def test_zipper_runs_from_the_hem_to_the_top_of_the_collar():
    front = pictures_of()[0]
    (zipper,) = of_part(front, Part.ZIPPER)
    assert shapely.LineString(zipper.points).length == pytest.approx(drafted().zipper_mm)
    assert {x for x, _ in zipper.points} == {front.width_mm / 2}


def test_collar_meets_at_center_front_as_high_as_the_zipper():
    front = pictures_of()[0]
    (zipper,) = of_part(front, Part.ZIPPER)
    tops = [
        min(y for x, y in shape.points if abs(x - front.width_mm / 2) < 1e-6)
        for shape in of_block(front, "CO")[1:]
    ]
    assert tops == pytest.approx([zipper.points[-1][1]] * 2)


def test_collar_folds_with_the_opened_front():
    """The turned collar and the one on the back neck share the fold at the shoulder."""
    back_part, *fronts = (shapely.Polygon(s.points) for s in of_block(pictures_of()[2], "CO"))
    stand_mm = drafted().zipper_mm - next(
        piece.edge("center_front").length_mm for piece in drafted().pieces if piece.code == "FR"
    )
    for front in fronts:
        shared = front.buffer(0.5).intersection(back_part.exterior).length
        assert shared == pytest.approx(stand_mm, abs=3.0)  # buffers of 0.5 mm round both ends


@pytest.mark.parametrize("missing", ["FR", "BK", "SL", "CU", "CO", "PL", "PI"])
def test_missing_piece_is_left_out(missing):
    pictures = pictures_of(without=(missing,))
    assert not any(of_block(picture, missing) for picture in pictures)
    assert sum(len(picture.shapes) for picture in pictures) > 0


@pytest.mark.parametrize(
    "awkward",
    [
        line("x", "CO", ("end", 0.28), ("neck", 0.91), "CO-L", "CO-R"),
        line("x", "CO", ("inner_neck", 0.3), ("neck", 0.6), "CO-L", "CO-R"),
        line("x", "CO", ("inner_end", 1.0), ("center_back", 0.5), "CO-L", "CO-R"),
        line("x", "CU", ("sleeve_edge", 0.9), ("end_a", 0.1), "CU-L", "CU-R"),
        line("x", "PI", ("bottom", 0.9), ("zipper_side", 0.2), "PI-L", "PI-R"),
        line("x", "SL", ("cap", 0.4), ("wrist", 0.3), "SL-L", "SL-R"),
        line("x", "FR", ("neckline", 0.94), ("shoulder", 0.02), "FR-L", "FR-R"),
    ],
    ids=lambda style_line: f"{style_line.cuts} {style_line.start.edge} {style_line.end.edge}",
)
def test_lines_across_folds_and_corners_leave_every_block_visible(awkward):
    pictures = pictures_of((awkward,))
    for code in (awkward.left.code, awkward.right.code):
        assert any(of_block(picture, code) for picture in pictures)


def test_no_blocks_make_empty_pictures():
    for picture in jacket_pictures(()):
        assert picture.shapes == ()
        assert picture.width_mm > 0
        assert picture.height_mm > 0


def test_piece_without_the_edge_it_hangs_on_is_refused_by_name():
    front = next(block for block in blocks_of() if block.code == "FR")
    edges = tuple(
        Edge("other", edge.points) if edge.name == "armhole" else edge for edge in front.draft.edges
    )
    broken = replace(front, draft=replace(front.draft, edges=edges))
    with pytest.raises(PatternError, match="FR has no edge 'armhole'"):
        jacket_pictures((broken,))


def test_style_line_is_topstitched_once_on_each_side_unless_plain():
    blocks = blocks_of(YOKE_AND_SIDES)
    hems = {"FR-C": 2, "FR-S": 2}
    stitches = Counter(s.block for s in of_part(jacket_pictures(blocks)[0], Part.STITCHES))
    plain = jacket_pictures(blocks, plain_lines={"fy", "fs", "by"})[0]
    assert Counter(shape.block for shape in of_part(plain, Part.STITCHES)) == hems
    assert sum(stitches.values()) == sum(hems.values()) + 2 * 2


def test_topstitching_lies_on_its_block_beside_the_style_line():
    picture = pictures_of(SPLIT_BACK)[1]
    cloth = shapely.union_all([shapely.Polygon(s.points) for s in of_block(picture, "BK-H")])
    upright = [
        shapely.LineString(shape.points)
        for shape in of_part(picture, Part.STITCHES)
        if shape.points[0][0] == pytest.approx(shape.points[-1][0])
    ]
    assert len(upright) == 1
    assert cloth.covers(upright[0].buffer(1.0, cap_style="flat"))
    assert abs(upright[0].coords[0][0] - picture.width_mm / 2) == pytest.approx(6.0)


def test_labels_lie_on_visible_cloth_of_their_own_block():
    for picture in pictures_of((*YOKE_AND_SIDES, *SLEEVE_BANDS)):
        closed = [s for s in picture.shapes if s.part in (Part.BLOCK, Part.INSIDE)]
        for index, shape in enumerate(closed):
            if shape.label_at is not None:
                spot = shapely.Point(shape.label_at)
                top = [s for s in closed if shapely.Polygon(s.points).covers(spot)][-1]
                assert top is closed[index]


def test_both_sides_of_a_pair_are_labelled_where_there_is_room():
    front, _, opened = pictures_of(YOKE_AND_SIDES, "YS")
    labelled = Counter(shape.block for shape in front.shapes if shape.label_at)
    assert labelled["FR-C"] == labelled["FR-Y"] == labelled["SL"] == 2
    assert of_block(opened, "PI")[0].label_at is not None


def test_sliver_gets_no_label():
    narrow = line("sl", "FR", ("hem", 0.92), ("armhole", 0.05), "FR-M", "FR-N")
    shapes = of_block(pictures_of((narrow,))[0], "FR-N")
    assert [shape.label_at for shape in shapes] == [None, None]


def svg_of(view=0, fills=None, thread="#f4ead2", title="Front", uid="p1", style_lines=()):
    if fills is None:
        fills = {"FR": SPRUCE, "BK": SPRUCE, "SL": MARIGOLD, "CO": OAT, "CU": OAT, "PI": MARIGOLD}
    return picture_svg(pictures_of(style_lines)[view], fills, "#22303a", thread, title, uid)


@pytest.mark.parametrize("view", [0, 1, 2])
def test_svg_is_sound_and_needs_no_style(view):
    root = ElementTree.fromstring(svg_of(view))
    assert root.attrib["role"] == "img"
    assert root.attrib["viewBox"].startswith("0 0 ")
    for element in root.iter():
        assert element.tag.removeprefix(SVG) not in ("style", "script")
        assert not {"style", "class"} & set(element.attrib)
        assert not any(name.startswith("on") for name in element.attrib)


@pytest.mark.parametrize("size", ["YS", "3XL"])
def test_svg_stays_small(size):
    blocks = blocks_of((*YOKE_AND_SIDES, *SLEEVE_BANDS), size)
    fills = {block.code: SPRUCE for block in blocks}
    for picture in jacket_pictures(blocks):
        assert len(picture_svg(picture, fills, "#22303a", None, "t", "u").encode()) < 40_000


def test_svg_tells_its_title_and_each_blocks_color_in_words():
    root = ElementTree.fromstring(svg_of(2, fills={"FR": SPRUCE, "PI": MARIGOLD}, title="Open"))
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None and title.text == "Open"
    assert desc is not None and desc.text is not None
    assert "FR: spruce" in desc.text
    assert "PI: marigold" in desc.text
    assert "SL: no color" in desc.text
    assert root.attrib["aria-labelledby"].split() == [title.get("id"), desc.get("id")]


def test_svg_escapes_all_text():
    blocks = tuple(
        replace(block, code="F<&>") if block.code == "FR" else block for block in blocks_of()
    )
    fills = {"F<&>": Fill("#1f5a48", "none", "</desc><script>\"'")}
    svg = picture_svg(
        jacket_pictures(blocks)[0], fills, "#22303a", None, "<b>\"Tern\" & 'Quay'</b>", "u"
    )
    root = ElementTree.fromstring(svg)
    assert root.findtext(f"{SVG}title") == "<b>\"Tern\" & 'Quay'</b>"
    assert "F<&>: </desc><script>\"'" in (root.findtext(f"{SVG}desc") or "")
    assert "F<&>" in [element.text for element in root.iter(f"{SVG}text")]
    assert not list(root.iter(f"{SVG}script"))


def test_svg_ids_are_unique_over_pictures_and_every_hatch_is_found():
    svgs = [svg_of(view, uid=f"jacket-{view}") for view in (0, 1, 2)]
    ids = [found for svg in svgs for found in re.findall(r' id="([^"]+)"', svg)]
    assert len(ids) == len(set(ids))
    for svg in svgs:
        assert set(re.findall(r"url\(#([^)]+)\)", svg)) <= set(re.findall(r' id="([^"]+)"', svg))
        assert "url(#" in svg


def test_block_without_a_fill_is_white():
    root = ElementTree.fromstring(svg_of(0, fills={"SL": OAT}))
    fills = Counter(path.get("fill") for path in root.iter(f"{SVG}path") if path.get("fill"))
    cloth = {color for color in fills if color != "none"}
    assert cloth == {"#ffffff", OAT.hex_color}


def test_hatch_is_light_on_dark_cloth_and_dark_on_light_cloth():
    def hatch_stroke(hex_color: str) -> str | None:
        root = ElementTree.fromstring(svg_of(0, fills={"FR": Fill(hex_color, "grid", "x")}))
        pattern = next(root.iter(f"{SVG}pattern"))
        return [path.get("stroke") for path in pattern][-1]

    assert hatch_stroke("#10241d") == "#ffffff"
    assert hatch_stroke("#f4ead2") == "#1f2933"


@pytest.mark.parametrize("hatch", ["none", "rising", "falling", "level", "upright", "dots", "grid"])
def test_each_hatch_but_none_makes_one_pattern_for_the_right_side(hatch):
    root = ElementTree.fromstring(svg_of(0, fills={"FR": Fill("#1f5a48", hatch, "x")}))
    assert len(list(root.iter(f"{SVG}pattern"))) == (hatch != "none")


def test_contrast_thread_is_shown_and_thread_like_the_cloth_does_not_vanish():
    fills = {"FR": Fill("#1f5a48", "none", "spruce")}

    def strokes(thread: str | None) -> set[str | None]:
        root = ElementTree.fromstring(svg_of(0, fills=fills, thread=thread))
        return {p.get("stroke") for p in root.iter(f"{SVG}path") if p.get("stroke-dasharray")}

    assert "#e0a526" in strokes("#e0a526")
    assert "#1f5a48" not in strokes("#1f5a48")
    assert strokes(None) == strokes("#1f5a48")


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"fills": {"FR": Fill('red" onload="x', "none", "spruce")}}, "screen color of spruce"),
        ({"fills": {"FR": Fill("#1f5a48", "waves", "spruce")}}, "hatch of spruce"),
        ({"thread": "white"}, "screen color of thread"),
        ({"uid": "a b"}, "id starts with a letter"),
    ],
)
def test_what_cannot_be_drawn_safely_is_refused(changed, message):
    with pytest.raises(ValueError, match=message):
        svg_of(**changed)

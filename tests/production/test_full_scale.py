"""Lays at full size: what is drawn has the size of the cloth, and says whose blocks lie there."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from dataclasses import replace

import ezdxf
import pypdfium2
import pytest
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import ContentStream
from shapely import LinearRing, Polygon

from production.documents import full_scale, lay_dxf, lay_full_svg
from production.documents.full_drawing import words_of
from production.errors import DocumentError
from production.planning.cutting.full_lay import FullLay, arrow_lines, full_lay
from production.planning.cutting.rows import polygon_area_mm2
from production.planning.explode import shapes_by_key
from production.planning.plan import Lay, Placement
from production.planning.snapshot import Point
from tests.production.document_factories import blocks
from tests.production.planning_factories import make_fabric

SHAPES = shapes_by_key(blocks("M", 0.0))
#: ISO 32000 counts 72 units to the inch of 25.4 mm.
MM_PER_UNIT = 25.4 / 72
#: Pixels to the mm of paper at which pages are looked at.
PER_MM = 4.0
SVG = "{http://www.w3.org/2000/svg}"


def make_full(length_mm: float = 1400.0, width_mm: int = 1400, nap: str = "one_way") -> FullLay:
    """A left and a right front body and a placket, 20 mm of cloth at both ends."""
    placements = (
        Placement("FB", "M", "left", 220, 150, 0.0, False),
        Placement("FB", "M", "right", 700, 450, 0.0, True),
        Placement("PL", "M", "single", 400, 900, 0.0, False),
    )
    lay = Lay("R-1-T1-L1", "face_up", 2, width_mm, length_mm, 0.4, 500.0, 1500.0, placements)
    return full_lay(lay, SHAPES, make_fabric(nap=nap), "Marigold")


def long_page(full: FullLay) -> bytes:
    target = io.BytesIO()
    full_scale.write_long_page(target, full)
    return target.getvalue()


def tiles(full: FullLay, paper: str) -> bytes:
    target = io.BytesIO()
    full_scale.write_tiles(target, full, paper)
    return target.getvalue()


def ink(page, crop_mm):
    """The part of a page inside (left, bottom, right, top) in mm of paper, dark on light."""
    width, height = (side * MM_PER_UNIT for side in page.get_size())
    left, bottom, right, top = crop_mm
    crop = [edge / MM_PER_UNIT for edge in (left, bottom, width - right, height - top)]
    picture = page.render(scale=PER_MM * MM_PER_UNIT, crop=tuple(crop)).to_pil().convert("L")
    return picture.point(lambda value: 255 if value < 140 else 0)


def dark_rows(picture, share=0.6):
    """The rows of pixels that are dark for this share of the width: level lines."""
    bars = picture.resize((1, picture.height), Image.Resampling.BOX)
    return [row for row in range(bars.height) if bars.getpixel((0, row)) > 255 * share]


def assert_same_points(some: Iterable[Point], others: Iterable[Point]) -> None:
    for one, other in zip(some, others, strict=True):
        assert one == pytest.approx(other)


def test_the_long_page_has_the_size_of_the_spread():
    page = PdfReader(io.BytesIO(long_page(make_full()))).pages[0]
    assert float(page.mediabox.width) * MM_PER_UNIT == pytest.approx(1440 + 40, abs=0.01)
    assert float(page.mediabox.height) * MM_PER_UNIT == pytest.approx(1400 + 40 + 130, abs=0.01)
    assert "/UserUnit" not in page


def test_a_page_beyond_five_metres_gets_a_larger_unit():
    page = PdfReader(io.BytesIO(long_page(make_full(length_mm=5960)))).pages[0]
    unit = float(page["/UserUnit"])
    assert unit == 2
    assert float(page.mediabox.width) <= 14_400
    assert float(page.mediabox.width) * unit * MM_PER_UNIT == pytest.approx(6040, abs=0.01)


def test_the_test_square_measures_100_mm_as_drawn():
    page = pypdfium2.PdfDocument(long_page(make_full()))[0]
    # Its lower left corner stands 15 mm above the cloth, where the blocks begin.
    left, bottom = 20 + 20, 20 + 1400 + 15
    upright = ink(page, (left + 40, bottom - 10, left + 60, bottom + 110))
    rows = dark_rows(upright)
    assert (rows[-1] - rows[0]) / PER_MM == pytest.approx(100, abs=0.5)
    level = ink(page, (left - 10, bottom + 70, left + 110, bottom + 90))
    columns = dark_rows(level.transpose(Image.Transpose.ROTATE_90))
    assert (columns[-1] - columns[0]) / PER_MM == pytest.approx(100, abs=0.5)


def test_the_cloth_is_as_wide_on_paper_as_on_the_table():
    page = pypdfium2.PdfDocument(long_page(make_full()))[0]
    rows = dark_rows(ink(page, (25, 10, 30, 1430)))
    assert (rows[-1] - rows[0]) / PER_MM == pytest.approx(1400, abs=0.5)


def test_the_long_page_names_each_block():
    text = PdfReader(io.BytesIO(long_page(make_full()))).pages[0].extract_text()
    for words in ("FB M left", "FB M right", "PL M", "Lay R-1-T1-L1, Marigold", "2 plies, face up"):
        assert words in text


@pytest.mark.parametrize(
    ("paper", "size_mm"), [("a4", (297, 210)), ("a3", (420, 297)), ("letter", (279.4, 215.9))]
)
def test_tiles_cover_the_lay_and_overlap(paper, size_mm):
    full = make_full()
    content = tiles(full, paper)
    cut = full_scale.tiling(full, paper)
    pages = PdfReader(io.BytesIO(content)).pages
    assert len(pages) == len(cut.tiles) + 1
    for page in pages:
        assert float(page.mediabox.width) * MM_PER_UNIT == pytest.approx(size_mm[0], abs=0.1)
        assert float(page.mediabox.height) * MM_PER_UNIT == pytest.approx(size_mm[1], abs=0.1)
    every = {(tile.row, tile.column): tile.window for tile in (*cut.tiles, *cut.left_out)}
    assert len(every) == cut.rows * cut.columns
    assert every[1, 1][:2] == (-20, 0)
    assert every[cut.rows, cut.columns][2] >= 1420
    assert every[cut.rows, cut.columns][3] >= 1400
    for (row, column), window in every.items():
        if column > 1:
            assert every[row, column - 1][2] - window[0] == pytest.approx(10)
        if row > 1:
            assert every[row - 1, column][3] - window[1] == pytest.approx(10)


def test_no_block_lies_on_a_tile_that_is_left_out():
    full = make_full()
    cut = full_scale.tiling(full, "a4")
    assert cut.left_out
    for tile in cut.left_out:
        left, low, right, high = tile.window
        sheet = Polygon([(left, low), (right, low), (right, high), (left, high)])
        assert not any(sheet.intersects(Polygon(block.cut)) for block in full.blocks)


def test_the_first_sheet_of_tiles_holds_a_square_of_100_mm():
    page = pypdfium2.PdfDocument(tiles(make_full(), "a4"))[0]
    # On A4 its right edge stands at the right margin of 10 mm, its top 24 points below the upper.
    top = 210 - 10 - 24 * MM_PER_UNIT
    rows = dark_rows(ink(page, (220, top - 110, 240, top + 5)))
    assert (rows[-1] - rows[0]) / PER_MM == pytest.approx(100, abs=0.5)


def test_a_straight_edge_goes_on_from_tile_to_tile():
    """The near edge of the cloth lies 10 mm above the lower edge of each sheet of row 1."""
    full = make_full()
    document = pypdfium2.PdfDocument(tiles(full, "a4"))
    for number, tile in enumerate(full_scale.tiling(full, "a4").tiles, start=1):
        if tile.row == 1 and tile.window[2] < 1400:
            rows = dark_rows(ink(document[number], (60, 5, 120, 15)))
            assert rows[-1] / PER_MM == pytest.approx(5, abs=0.5)  # blocks lie above it


def test_each_sheet_says_where_it_lies():
    full = make_full()
    pages = PdfReader(io.BytesIO(tiles(full, "a3"))).pages
    cut = full_scale.tiling(full, "a3")
    for number, (page, tile) in enumerate(zip(pages[1:], cut.tiles, strict=True), start=2):
        words = f"row {tile.row}, column {tile.column}, page {number} of {len(pages)}"
        assert words in page.extract_text()


def test_a_sheet_keeps_its_name_when_its_lower_and_left_edges_are_cut_off():
    heights: list[float] = []

    def look(text, _, matrix, *__):
        if "row 1, column 1" in text:
            heights.append(matrix[5])

    page = PdfReader(io.BytesIO(tiles(make_full(), "a4"))).pages[1]
    page.extract_text(visitor_text=look)
    [height] = heights
    assert height * MM_PER_UNIT > 210 - full_scale.MARGIN_MM


def test_dashed_lines_stand_only_where_another_sheet_follows():
    cut = full_scale.tiling(make_full(), "a4")
    every = {(tile.row, tile.column): tile for tile in (*cut.tiles, *cut.left_out)}
    assert cut.goes_on_from(every[1, 1]) == (True, True)
    assert cut.goes_on_from(every[cut.rows, 1]) == (True, False)
    assert cut.goes_on_from(every[1, cut.columns]) == (False, True)


def drawn_rings(content: bytes) -> list[LinearRing]:
    """The closed lines of a page in mm of paper, its unit counted in."""
    page = PdfReader(io.BytesIO(content)).pages[0]
    to_mm = float(page.get("/UserUnit", 1)) * MM_PER_UNIT
    frame, kept, lines, rings = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), [], [], []
    for values, operator in ContentStream(page.get_contents(), page.pdf).operations:
        match operator:
            case b"q":
                kept.append(frame)
            case b"Q":
                frame = kept.pop()
            case b"cm":
                # Scales and moves only: a page at full size is not turned.
                a, _, _, d, x, y = (float(value) for value in values)
                frame = (
                    a * frame[0],
                    0.0,
                    0.0,
                    d * frame[3],
                    x * frame[0] + frame[4],
                    y * frame[3] + frame[5],
                )
            case b"m" | b"l":
                x, y = (float(value) for value in values)
                at = ((x * frame[0] + frame[4]) * to_mm, (y * frame[3] + frame[5]) * to_mm)
                lines.append([at]) if operator == b"m" else lines[-1].append(at)
            case b"h":
                rings.append(LinearRing(lines[-1]))
            case b"S" | b"n":
                lines = []
    return rings


@pytest.mark.parametrize("length_mm", [1400, 5960])
def test_cut_lines_on_the_long_page_measure_what_the_blocks_do(length_mm):
    full = make_full(length_mm=length_mm)
    rings = drawn_rings(long_page(full))
    for block in full.blocks:
        cut = LinearRing([(x + 20 + 20, y + 20) for x, y in block.cut])
        nearest = min(rings, key=lambda ring: ring.hausdorff_distance(cut))
        assert nearest.hausdorff_distance(cut) < 0.05
        assert nearest.length == pytest.approx(cut.length, abs=0.1)


def test_a_page_that_counts_in_larger_units_says_what_to_do():
    told = [
        PdfReader(io.BytesIO(long_page(make_full(length_mm=length_mm)))).pages[0].extract_text()
        for length_mm in (1400, 5960)
    ]
    assert "enlarge" not in told[0]
    assert "shows the square at 50 mm" in told[1] and "enlarge to 200 %" in told[1]


def test_svg_and_dxf_hold_a_square_of_100_mm_beside_the_cloth():
    root = ET.fromstring(lay_full_svg.full_svg(make_full()))
    [path] = root.findall(f"{SVG}g[@id='check']/{SVG}path")
    points = [tuple(map(float, each.split())) for each in path.get("d").strip("MZ").split("L")]
    square = Polygon(points)
    assert square.bounds[2] - square.bounds[0] == square.bounds[3] - square.bounds[1] == 100
    # The cloth ends where the page has 20 mm left below 1400 mm of it.
    assert square.bounds[3] < float(root.get("viewBox").split()[3]) - 20 - 1400
    target = io.BytesIO()
    lay_dxf.write(target, make_full())
    drawing = ezdxf.read(io.StringIO(target.getvalue().decode()))
    [line] = drawing.modelspace().query('LWPOLYLINE[layer=="CHECK"]')
    xs, ys = zip(*line.get_points("xy"), strict=True)
    assert max(xs) - min(xs) == max(ys) - min(ys) == 100
    assert min(ys) > 1400


def test_a_folded_lay_says_where_its_fold_lies():
    full = make_full()
    folded = replace(full, lay=replace(full.lay, mode="folded"))
    assert "fold along the far edge" in folded.title
    assert "fold" not in full.title


def test_unknown_paper_is_refused_by_name():
    with pytest.raises(DocumentError, match="no paper 'a7'"):
        tiles(make_full(), "a7")


def test_a_pile_that_nobody_glues_is_refused():
    full = make_full(length_mm=60_000)
    spread = tuple(
        replace(full.blocks[0], cut=tuple((x + 200 * at, y + 140 * (at % 9)) for x, y in ring))
        for at, ring in enumerate([full.blocks[0].cut] * 300)
    )
    with pytest.raises(DocumentError, match="larger paper or as one long page"):
        tiles(replace(full, blocks=spread), "a4")


def test_dxf_is_read_back_with_the_areas_of_the_blocks():
    target = io.BytesIO()
    full = make_full()
    lay_dxf.write(target, full)
    drawing = ezdxf.read(io.StringIO(target.getvalue().decode()))
    assert drawing.dxfversion == "AC1024"  # release 2010
    assert drawing.units == ezdxf.units.MM
    assert not drawing.audit().errors
    space = drawing.modelspace()
    rings = space.query('LWPOLYLINE[layer=="CUT"]')
    assert all(ring.closed for ring in rings)
    drawn = [Polygon(ring.get_points("xy")).area for ring in rings]
    planned = [
        polygon_area_mm2(SHAPES[place.block, place.size].cut_outline_mm)
        for place in full.lay.placements
    ]
    assert drawn == pytest.approx(planned, rel=1e-9)
    assert len(space.query('LWPOLYLINE[layer=="STITCH"]')) == 3
    assert len(space.query('LINE[layer=="NOTCH"]')) == 6  # two strokes on each block
    assert len(space.query('LWPOLYLINE[layer=="CLOTH"]')) == 1
    words = " ".join(text.dxf.text for text in space.query('TEXT[layer=="TEXT"]'))
    assert "FB M left" in words and "FB M right" in words


def test_dxf_lies_where_the_lay_lies():
    target = io.BytesIO()
    full = make_full()
    lay_dxf.write(target, full)
    space = ezdxf.read(io.StringIO(target.getvalue().decode())).modelspace()
    for ring, block in zip(space.query('LWPOLYLINE[layer=="CUT"]'), full.blocks, strict=True):
        assert_same_points(ring.get_points("xy"), block.cut)
    cloth = space.query('LWPOLYLINE[layer=="CLOTH"]')[0].get_points("xy")
    assert [tuple(point) for point in cloth] == [(-20, 0), (1420, 0), (1420, 1400), (-20, 1400)]


def test_svg_counts_millimetres():
    root = ET.fromstring(lay_full_svg.full_svg(make_full()))
    width, height = root.get("width"), root.get("height")
    assert width == "1480.000mm"
    assert root.get("viewBox") == f"0 0 {width.removesuffix('mm')} {height.removesuffix('mm')}"
    rings = root.findall(f"{SVG}g[@id='cut']/{SVG}path")
    areas = []
    for ring in rings:
        points = [tuple(map(float, each.split())) for each in ring.get("d").strip("MZ").split("L")]
        areas.append(Polygon(points).area)
    outline = SHAPES["FB", "M"].cut_outline_mm
    assert areas[0] == pytest.approx(polygon_area_mm2(outline), rel=1e-5)
    assert len(areas) == 3
    texts = " ".join(root.itertext())
    assert "FB M right" in texts and "grain and nap run this way" in texts


def test_a_right_block_is_drawn_turned_over():
    left, right, _ = make_full().blocks
    mirrored = [(x, -y) for x, y in SHAPES["FB", "M"].cut_outline_mm]
    assert_same_points([(x - 700, y - 450) for x, y in right.cut], mirrored)
    assert_same_points([(x - 220, y - 150) for x, y in left.cut], SHAPES["FB", "M"].cut_outline_mm)


def test_grain_arrows_have_a_head_at_each_end_where_the_nap_runs_both_ways():
    assert len(arrow_lines((0, 0), (100, 0), 10, both=True)) == 3
    assert len(arrow_lines((0, 0), (100, 0), 10, both=False)) == 2
    one, two = (
        len(ET.fromstring(lay_full_svg.full_svg(make_full(nap=nap))).find(f"{SVG}g[@id='grain']"))
        for nap in ("one_way", "two_way")
    )
    assert two - one == 4  # three blocks and the arrow above the cloth


def test_words_keep_clear_of_the_grain_arrow():
    for block in make_full().blocks[:2]:
        label = words_of(block)
        arrow_y = block.grain[0][1]
        assert abs(label.at[1] - arrow_y) > label.size_mm / 2

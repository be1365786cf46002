from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import zxingcpp
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas
from shapely import STRtree, box

from patterns.geometry.picture import Fill
from production.documents import bundle_tags, cut_tickets, paper
from production.documents.drawings import HATCH_WORDS, swatch
from production.documents.lay_diagrams import lay_diagram
from production.errors import DocumentError
from production.planning.explode import shapes_by_key
from production.planning.lengths import cloth_length, table_length
from production.planning.plan import Plan
from production.planning.planner import plan_run
from production.planning.snapshot import RunSnapshot
from tests.production.document_factories import make_jackets, make_printable, printable_run

LONG = "Maximiliana-Alexandra von und zu Hohenfels-Wartenstein-Löwenberg"


#: A letter, its box on the page and its size, in points.
Letter = tuple[str, tuple[float, float, float, float], float]


def tag_url(code: str) -> str:
    return f"https://muster.example/jackets/{code}/"


def tickets_pdf(snapshot: RunSnapshot, plan: Plan, with_qr: bool = True) -> bytes:
    target = BytesIO()
    cut_tickets.write(target, snapshot, plan, tag_url if with_qr else None)
    return target.getvalue()


def tags_pdf(snapshot: RunSnapshot, plan: Plan) -> bytes:
    target = BytesIO()
    bundle_tags.write(target, snapshot, plan, tag_url)
    return target.getvalue()


def page_texts(content: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(content)).pages]


def ticket_text(content: bytes, ticket: str) -> str:
    return "\n".join(text for text in page_texts(content) if f"ticket {ticket}, page" in text)


def qr_codes(content: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(content)
    images = [page.render(scale=200 / 72).to_pil() for page in document]
    return [found.text for image in images for found in zxingcpp.read_barcodes(image)]


def letters_of(page: pypdfium2.PdfPage) -> list[Letter]:
    """Each visible letter of a page."""
    text = page.get_textpage()
    found = []
    for at in range(text.count_chars()):
        char = text.get_text_range(at, 1)
        if char.strip():
            size = pdfium.FPDFText_GetFontSize(text.raw, at)
            found.append((char, text.get_charbox(at), size))
    return found


def assert_letters_apart(content: bytes, edge: float = 10) -> None:
    """No letter is below 7 points, off the page or within `edge` points of its edge, or written
    over another one."""
    for number, page in enumerate(pypdfium2.PdfDocument(content), 1):
        width, height = page.get_size()
        letters = letters_of(page)
        boxes = [box(*bounds) for _, bounds, _ in letters]
        tree = STRtree(boxes)
        for (char, (left, low, right, top), size), one in zip(letters, boxes, strict=True):
            assert size >= 6.99, f"page {number}: '{char}' is set in {size} points"
            assert edge < left < right < width - edge, f"page {number}: '{char}' leaves the page"
            assert edge < low < top < height - edge, f"page {number}: '{char}' leaves the page"
            over = [at for at in tree.query(one) if boxes[at].intersection(one).area > 1.5]
            clash = [letters[at][0] for at in over if boxes[at] is not one]
            assert not clash, f"page {number}: '{char}' at {left:.0f}, {low:.0f} over {clash}"


def test_each_color_has_a_ticket_on_pages_of_its_own():
    snapshot, plan = printable_run()
    texts = page_texts(tickets_pdf(snapshot, plan))
    names = {color.code: color.name for color in snapshot.fabric_colors}
    assert len(plan.cut_tickets) == 3
    for text in texts:
        on_page = [t for t in plan.cut_tickets if f"ticket {t.ticket}, page" in text]
        assert len(on_page) == 1
        assert names[on_page[0].fabric_color] in text


def test_pages_are_numbered_within_the_ticket_and_the_document():
    texts = page_texts(tickets_pdf(*printable_run()))
    within = [
        match.groups()
        for text in texts
        for match in re.finditer(r"ticket (\S+), page (\d+) of (\d+)", text)
    ]
    pages = Counter(ticket for ticket, _, _ in within)
    seen: Counter[str] = Counter()
    for ticket, at, of in within:
        seen[ticket] += 1
        assert (int(at), int(of)) == (seen[ticket], pages[ticket])
    for number, text in enumerate(texts, 1):
        assert re.search(rf"^page {number} of {len(texts)}$", text, re.MULTILINE)


@pytest.mark.parametrize("index", range(3))
def test_table_counts_what_the_plan_counts(index):
    snapshot, plan = printable_run()
    ticket = plan.cut_tickets[index]
    text = ticket_text(tickets_pdf(snapshot, plan), ticket.ticket)
    table = " ".join(text.split("Cut these")[1].split("Pieces counted")[0].split())
    names = {shape.block: shape.name for shape in snapshot.shapes}
    sizes = [s.code for s in snapshot.sizes if s.code in {line.size for line in ticket.lines}]
    assert f"Hand {' '.join(sizes)} total" in table
    whole = 0
    for block in {line.block for line in ticket.lines}:
        for hand in ("left", "right", "single"):
            counts = [getattr(ln, hand) for ln in ticket.lines if ln.block == block]
            printed = re.search(rf"{block} {names[block]} {hand} ([\d ]+)", table)
            if not any(counts):
                assert printed is None
                continue
            assert printed is not None
            numbers = [int(word) for word in printed[1].split()]
            assert numbers == [*(count for count in counts if count), sum(counts)]
            whole += sum(counts)
    assert f"{whole} pieces in all" in text


def test_ticket_says_all_that_a_cutter_needs():
    snapshot, plan = printable_run()
    marigold = next(t for t in plan.cut_tickets if t.fabric_color == "marigold")
    assert marigold.from_stock_mm > 0
    text = " ".join(ticket_text(tickets_pdf(snapshot, plan), marigold.ticket).split())
    for words in (
        marigold.ticket,
        "Run R-0007, due Sunday 14 March 2027",
        "Tern Quay Rowing Club",
        "Heron Bend Canoe Club",
        "Marigold",
        "Drawn here as: dots",
        "Midweight fleece",
        "100 % polyester",
        "Usable width 1.40 m",
        "One-way nap",
        "Right side up",
        "close the blade after every cut and cut away from the hand",
        f"from stock {cloth_length(marigold.from_stock_mm, 'metric')}",
        "Where the color sits",
        "Boathouse, Home: 8 jackets",
        "Boathouse, Away: 4 jackets",
        "Cut by",
        "Checked by",
        f"printed from plan {paper.plan_id(plan)}",
    ):
        assert words in text


def test_ticket_names_only_the_clubs_that_want_its_color():
    home = tuple(replace(j, team_order="TQ-1", colorway="Home") for j in make_jackets(3)[:2])
    away = replace(
        make_jackets(3)[2],
        team_order="HB-2",
        blocks=tuple((block, "marigold") for block, _ in make_jackets(3)[2].blocks),
    )
    snapshot = make_printable(jackets=(*home, away))
    plan = plan_run(snapshot).plan
    content = tickets_pdf(snapshot, plan)
    spruce = next(t for t in plan.cut_tickets if t.fabric_color == "spruce")
    assert "Tern Quay" in ticket_text(content, spruce.ticket)
    assert "Heron Bend" not in ticket_text(content, spruce.ticket)


def test_a_ticket_says_how_much_is_over_cut() -> None:
    snapshot, plan = printable_run()
    first = plan.cut_tickets[0]
    lay = first.lays[0]
    lays = (replace(lay, plies=lay.plies + 1), *first.lays[1:])
    more = replace(plan, cut_tickets=(replace(first, lays=lays), *plan.cut_tickets[1:]))
    words = f"and {len(lay.placements)} pieces over-cut for spare parts"
    assert words not in ticket_text(tickets_pdf(snapshot, plan), first.ticket)
    assert words in ticket_text(tickets_pdf(snapshot, more), first.ticket)


def test_each_lay_says_how_to_spread_it():
    snapshot, plan = printable_run(200)
    content = tickets_pdf(snapshot, plan)
    for ticket in plan.cut_tickets:
        text = " ".join(ticket_text(content, ticket.ticket).split())
        for lay in ticket.lays:
            spread = table_length(lay.length_mm + 2 * 20, "metric")
            plies = paper.counted(lay.plies, "ply", "plies")
            assert f"{lay.lay} {plies} Spread {spread} long" in text
            assert f"{len(lay.placements) * lay.plies} in all" in text


def test_every_placement_of_a_lay_is_named_in_its_drawing():
    snapshot, plan = printable_run(200)
    shapes = shapes_by_key(snapshot.shapes)
    for lay in (lay for ticket in plan.cut_tickets for lay in ticket.lays):
        diagram = lay_diagram(lay, 20, shapes, 700, 400, most_strips=8)
        assert diagram is not None
        named = Counter(
            label.stands_for or " ".join(label.lines)
            for strip in diagram.strips
            for label in strip.labels
        )
        placed = Counter(
            f"{p.block} {p.size} {p.side}".removesuffix(" single") for p in lay.placements
        )
        assert named >= placed
        assert set(named) == set(placed)


def test_lay_too_long_for_the_paper_is_drawn_in_strips():
    snapshot, plan = printable_run(200)
    lay = max((ly for t in plan.cut_tickets for ly in t.lays), key=lambda ly: ly.length_mm)
    shapes = shapes_by_key(snapshot.shapes)
    assert 4500 < lay.length_mm < 6000  # 500 points at 1:25 show 4.41 m
    one = lay_diagram(lay, 20, shapes, 500, 400, most_strips=1)
    two = lay_diagram(lay, 20, shapes, 500, 400, most_strips=2)
    assert one is not None and two is not None
    assert (len(one.strips), len(two.strips)) == (1, 2)
    assert two.scale == 25 < one.scale
    assert two.width <= 500 and two.height <= 400
    assert two.strips[-1].end_mm == pytest.approx(lay.length_mm + 40)


def test_no_letter_is_small_or_written_over_another():
    snapshot, plan = printable_run(24)
    assert_letters_apart(tickets_pdf(snapshot, plan))
    assert_letters_apart(tags_pdf(snapshot, plan))


def test_each_tag_opens_its_jacket():
    snapshot, plan = printable_run(24)
    expected = [tag_url(jacket.code) for jacket in plan.jackets]
    assert sorted(qr_codes(tags_pdf(snapshot, plan))) == expected


def test_qr_code_of_a_ticket_opens_the_ticket_and_can_be_left_out():
    snapshot, plan = printable_run()
    with_qr, without = tickets_pdf(snapshot, plan), tickets_pdf(snapshot, plan, with_qr=False)
    codes = qr_codes(with_qr)
    assert len(codes) == len(page_texts(with_qr))  # also on the pages with the lays
    assert list(dict.fromkeys(codes)) == [tag_url(ticket.ticket) for ticket in plan.cut_tickets]
    assert qr_codes(without) == []


def test_tag_says_what_is_in_the_bundle():
    text = " ".join(page_texts(tags_pdf(*printable_run()))[0].split())
    for words in (
        "R-0007-001",
        "Tern Quay Rowing Club",
        "Boathouse, Home",
        "name on jacket: Cox",
        "Note: Longer sleeves",
        "Spruce: FB BK SL",
        "Marigold: FY",
        "Oat: CO PL",
        "9 pieces, zipper 65 cm Black",  # three pairs, two on the fold, one single
    ):
        assert words in text


def test_names_in_other_alphabets_are_printed():
    text = " ".join(" ".join(page_texts(tags_pdf(*printable_run()))).split())
    for name in ("Żółta Ćma", "Анна Вишня", "Νίκη Παππά", "Őze Szűcs"):
        assert name in text


def test_long_words_are_shortened_and_stay_on_their_tag():
    jackets = tuple(
        replace(
            jacket,
            member=f"{LONG} {LONG}",
            name_on_jacket=LONG,
            note=f"{LONG}: " + "please sew the sleeves longer " * 8,
            code=f"RUN-2027-SPRING-{jacket.code[-3:]}",
            colorway=f"{LONG} in the old colors of the club",
        )
        for jacket in make_jackets(9)
    )
    snapshot = make_printable(jackets=jackets)
    content = tags_pdf(snapshot, plan_run(snapshot).plan)
    assert_letters_apart(content)
    assert "…" in page_texts(content)[0]
    assert "RUN-2027-SPRING-001\n" in page_texts(content)[0]
    width = bundle_tags.PAPERS["a4"].width
    for page in pypdfium2.PdfDocument(content):
        for char, (left, _, right, _), _ in letters_of(page):
            assert (left < width) == (right < width), char


def test_long_words_on_tickets_stay_apart_and_codes_whole():
    snapshot = make_printable(24, run="RUN-2027-SPRING-LONG")
    snapshot = replace(
        snapshot,
        orders=tuple(replace(order, club=LONG, title=LONG) for order in snapshot.orders),
        fabrics=(replace(snapshot.fabrics[0], name=f"{LONG} fleece", fiber=LONG, nap="two_way"),),
        fabric_colors=tuple(
            replace(color, name="Deep midnight blue with a tint of green")
            for color in snapshot.fabric_colors
        ),
        shapes=tuple(replace(shape, name=LONG) for shape in snapshot.shapes),
        blockings=tuple(replace(blocking, name=LONG) for blocking in snapshot.blockings),
    )
    plan = plan_run(snapshot).plan
    content = tickets_pdf(snapshot, plan)
    assert_letters_apart(content)
    for text in page_texts(content):
        assert sum(f"{ticket.ticket}\n" in text for ticket in plan.cut_tickets) == 1
    assert "Two-way nap" in page_texts(content)[0]


def test_tag_of_many_colors_still_names_every_block():
    colors = make_printable().fabric_colors
    many = tuple(
        replace(colors[0], code=f"c{at}", name=f"Color {at}", hatch=hatch)
        for at, hatch in enumerate(("dots", "grid", "level", "rising", "falling", "upright"))
    )
    jacket = make_jackets(1)[0]
    blocks = tuple((block, f"c{at}") for at, (block, _) in enumerate(jacket.blocks))
    snapshot = make_printable(jackets=(replace(jacket, blocks=blocks),), fabric_colors=many)
    text = " ".join(page_texts(tags_pdf(snapshot, plan_run(snapshot).plan))[0].split())
    for at, (block, _) in enumerate(jacket.blocks):
        assert f"Color {at}: {block}" in text


def test_two_hundred_jackets_fill_twenty_five_sheets():
    snapshot, plan = printable_run(200)
    texts = page_texts(tags_pdf(snapshot, plan))
    assert len(texts) == 25
    codes = re.findall(r"R-0007-\d{3}\b", " ".join(texts))
    assert codes == [jacket.code for jacket in plan.jackets]


def test_same_plan_gives_the_same_bytes():
    snapshot, plan = printable_run()
    assert tickets_pdf(snapshot, plan) == tickets_pdf(snapshot, plan)
    assert tags_pdf(snapshot, plan) == tags_pdf(snapshot, plan)


def test_another_plan_has_another_mark():
    _, plan = printable_run()
    assert paper.plan_id(plan) != paper.plan_id(replace(plan, run="R-0008"))


def test_hatches_tell_colors_apart_in_black_and_white():
    pictures = []
    for hatch in HATCH_WORDS:
        content = BytesIO()
        canvas = Canvas(content, pagesize=(80, 60))
        swatch(canvas, Fill("#777777", hatch, "gray"), 10, 10, 60, 40)
        canvas.save()
        page = pypdfium2.PdfDocument(content.getvalue())[0]
        pictures.append(page.render(scale=2).to_pil().convert("L").tobytes())
    for at, one in enumerate(pictures):
        for other in pictures[at + 1 :]:
            differing = sum(abs(a - b) > 60 for a, b in zip(one, other, strict=True))
            assert differing > 0.03 * len(one)


def test_run_without_pictures_is_printed_without_them():
    snapshot, plan = printable_run()
    bare = replace(snapshot, blockings=())
    text = " ".join(page_texts(tickets_pdf(bare, plan)))
    assert "Where the color sits" not in text
    assert "boat, Home" in " ".join(page_texts(tags_pdf(bare, plan)))


def test_imperial_workroom_reads_yards_and_inches():
    snapshot, plan = printable_run(12, "imperial")
    oat = next(t for t in plan.cut_tickets if t.fabric_color == "oat")
    text = " ".join(ticket_text(tickets_pdf(snapshot, plan), oat.ticket).split())
    assert "Usable width 55 in" in text  # 1400 / 25.4 = 55.118, down to the eighth
    assert f"Fabric needed {cloth_length(oat.fabric_needed_mm, 'imperial')}" in text
    assert re.search(r"to buy [\d/ ]+ yd", text)
    assert " m " not in text
    assert "zipper 25 5/8 in Black" in page_texts(tags_pdf(snapshot, plan))[0]  # 650 / 25.4 = 25.59


@pytest.mark.parametrize(
    ("length_mm", "unit", "up", "words"),
    [
        (3421, "metric", True, "3.43 m"),
        (3420.0000000001, "metric", True, "3.42 m"),
        (3429, "metric", False, "3.42 m"),
        (914.4, "imperial", True, "36 in"),  # a yard is 36 inches of 25.4 mm
        (1000, "imperial", True, "39 3/8 in"),  # 39.370 in
        (1000, "imperial", False, "39 1/4 in"),
        (3, "imperial", True, "1/8 in"),
        (0, "imperial", True, "0 in"),
    ],
)
def test_lengths_are_rounded_to_the_safe_side(length_mm, unit, up, words):
    assert table_length(length_mm, unit, up=up) == words


def test_headings_stay_with_what_follows_and_tables_repeat_their_heads():
    def band(height: float, **values) -> paper.Band:
        return paper.Band(height, lambda canvas, left, top: None, **values)

    first, heading = band(70), band(20, with_next=True)
    row, last = band(30), band(80, repeats=heading)
    assert paper.paged([first, heading, row, last], 100, 110) == [
        [first],
        [heading, row],
        [heading, last],
    ]


def test_document_goes_to_a_path_and_leaves_nothing_beside_it(tmp_path):
    snapshot, plan = printable_run()
    cut_tickets.write(tmp_path / "tickets.pdf", snapshot, plan)
    bundle_tags.write(str(tmp_path / "tags.pdf"), snapshot, plan, tag_url)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["tags.pdf", "tickets.pdf"]
    assert (tmp_path / "tickets.pdf").read_bytes() == tickets_pdf(snapshot, plan, with_qr=False)


def test_write_that_fails_half_way_leaves_the_old_document(tmp_path, monkeypatch):
    snapshot, plan = printable_run()
    target = tmp_path / "tags.pdf"
    target.write_bytes(b"old")
    write_bytes = Path.write_bytes

    def disk_full(self: Path, data: bytes) -> int:
        write_bytes(self, data[: len(data) // 2])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", disk_full)
    with pytest.raises(OSError, match="No space left"):
        bundle_tags.write(target, snapshot, plan, tag_url)
    assert [path.name for path in tmp_path.iterdir()] == ["tags.pdf"]
    assert target.read_bytes() == b"old"


def test_plan_of_another_run_is_refused_and_nothing_written(tmp_path):
    snapshot, plan = printable_run()
    other = replace(snapshot, fabric_colors=snapshot.fabric_colors[:1])
    with pytest.raises(DocumentError, match="fabric color 'marigold'"):
        cut_tickets.write(tmp_path / "tickets.pdf", other, plan)
    with pytest.raises(DocumentError, match="fabric color"):
        bundle_tags.write(tmp_path / "tags.pdf", other, plan, tag_url)
    with pytest.raises(DocumentError, match="jacket 'R-0007-001'"):
        bundle_tags.write(tmp_path / "tags.pdf", replace(snapshot, jackets=()), plan, tag_url)
    assert list(tmp_path.iterdir()) == []


def test_empty_plan_is_refused():
    snapshot, plan = printable_run()
    with pytest.raises(DocumentError, match="no cut tickets"):
        tickets_pdf(snapshot, replace(plan, cut_tickets=()))
    with pytest.raises(DocumentError, match="no jackets"):
        tags_pdf(snapshot, replace(plan, jackets=()))


def test_missing_font_is_told_in_words_and_tags_are_still_printed(monkeypatch):
    assert paper.font_warning() == ""
    monkeypatch.setattr(paper, "FONT_FOLDERS", ())
    assert "DejaVu Sans was not found" in paper.font_warning()
    assert "Ada" not in paper.font_warning(["Ada Thorn"])
    assert "В" in paper.font_warning(["Вишня"])
    assert "R-0007-001" in page_texts(tags_pdf(*printable_run()))[0]


def test_letters_that_no_font_holds_are_told():
    assert paper.font_warning(["Анна", "Νίκη", "Őze"]) == ""
    assert paper.font_warning(["李 Lee"]).endswith(": 李")


# --- Tags on other paper -----------------------------------------------------------------------

EDGES = {"a4": 10.0, "letter": 10.0, "label": 8.0}  # points; a label printer leaves less blank


@pytest.mark.parametrize(
    ("paper_name", "size_mm", "pages"),
    [("a4", (210, 297), 2), ("letter", (215.9, 279.4), 2), ("label", (100, 62), 9)],
)
def test_tags_fit_every_paper_and_every_code_on_it_is_read(paper_name, size_mm, pages):
    snapshot, plan = printable_run(9)
    target = BytesIO()
    bundle_tags.write(target, snapshot, plan, tag_url, paper_name)
    content = target.getvalue()
    assert_letters_apart(content, EDGES[paper_name])
    document = pypdfium2.PdfDocument(content)
    assert len(document) == pages
    assert document[0].get_size() == pytest.approx([mm * 72 / 25.4 for mm in size_mm], abs=0.1)
    assert sorted(qr_codes(content)) == sorted(tag_url(jacket.code) for jacket in plan.jackets)
    text = " ".join(" ".join(page_texts(content)).split())
    for color, blocks in (("Spruce", "FB BK SL"), ("Marigold", "FY"), ("Oat", "CO PL")):
        assert f"{color}: {blocks}" in text


@pytest.mark.parametrize("paper_name", ["letter", "label"])
def test_long_words_stay_on_other_paper_and_within_its_margins(paper_name):
    jackets = tuple(
        replace(jacket, member=f"{LONG} {LONG}", name_on_jacket=LONG, note=LONG * 3, colorway=LONG)
        for jacket in make_jackets(3)
    )
    snapshot = make_printable(jackets=jackets)
    target = BytesIO()
    bundle_tags.write(target, snapshot, plan_run(snapshot).plan, tag_url, paper_name)
    assert_letters_apart(target.getvalue(), EDGES[paper_name])
    on = bundle_tags.PAPERS[paper_name]
    for page in pypdfium2.PdfDocument(target.getvalue()):
        for char, (left, low, right, high), _ in letters_of(page):
            assert on.inset - 1 < left % on.width < right % on.width < on.width - on.inset + 1, char
            assert on.pad - 3 < low % on.height < high % on.height < on.height - on.pad + 1, char


def test_a_label_of_many_colors_still_names_every_block():
    colors = make_printable().fabric_colors
    many = tuple(replace(colors[0], code=f"c{at}", name=f"Color {at}") for at in range(6))
    jacket = make_jackets(1)[0]
    blocks = tuple((block, f"c{at}") for at, (block, _) in enumerate(jacket.blocks))
    snapshot = make_printable(jackets=(replace(jacket, blocks=blocks),), fabric_colors=many)
    target = BytesIO()
    bundle_tags.write(target, snapshot, plan_run(snapshot).plan, tag_url, "label")
    text = " ".join(page_texts(target.getvalue())[0].split())
    for at, (block, _) in enumerate(jacket.blocks):
        assert f"Color {at}: {block}" in text


def test_an_unknown_paper_is_named():
    snapshot, plan = printable_run()
    with pytest.raises(DocumentError, match="a4, letter, label, not on 'silk'"):
        bundle_tags.write(BytesIO(), snapshot, plan, tag_url, "silk")

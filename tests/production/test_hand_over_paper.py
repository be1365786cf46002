"""Packing lists, labels and care cards: what stands on them, on how many pages, and once more the
same."""

from __future__ import annotations

import datetime
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PageObject, PdfReader

from patterns.models import Fabric, Workroom
from patterns.services import workroom
from production.documents import care_card, packing_list, parcel_labels
from production.documents.care_card import CareCard
from production.documents.packing_list import Follows, Packed, PackingList
from production.documents.parcel_labels import BagLabel, ParcelLabels, shared_out
from production.errors import DocumentError
from production.handing_over.hand_over_paper import write_for_run
from production.models import Jacket, Run
from production.planning.labels.care import ClothCare, care_of
from production.planning.standing import STAGES
from production.tracking import record
from tests.production.run_factories import make_run, make_team_order, person

LONG = "Maximiliana-Alexandra von und zu Hohenfels-Wartenstein-Löwenberg-Ødegård"
STROKES = [[[0.1, 0.5], [0.4, 0.25]], [[0.5, 0.5]]]
LISTED = PackingList(
    order="TO-1",
    title="Spring regatta jackets",
    club="Tern Quay Rowing Club",
    workroom="Our workroom",
    address="Slip Lane 4, Tern Quay",
    number=2,
    day=datetime.date(2027, 3, 12),
    packed=tuple(
        Packed(f"Member {n:02d}", "M", "Dawn", "WREN" if n % 2 else "", f"TO-1-{n:02d}")
        for n in range(1, 41)
    ),
    follows=(Follows("Zofia Łęcka", "S", "waits for sewing; about 20 Mar 2027"),),
    before=3,
    ordered=44,
)
LABELS = ParcelLabels(
    order="TO-1",
    title="Spring regatta jackets",
    club="Tern Quay Rowing Club",
    sender="Our workroom, Slip Lane 4",
    number=2,
    ordered=12,
    parcels=2,
    bags=tuple(
        BagLabel(
            f"Member {n}",
            "M" if n % 2 else "YS",
            "Adult M",
            "Dawn",
            "WREN",
            f"TO-1-{n:02d}",
            f"http://localhost:8000/j/TO-1-{n:02d}/",
            1 if n < 6 else 2,
        )
        for n in range(1, 10)
    ),
)
POLYESTER = ClothCare("Fleece", "100 % polyester", 30, False, False)
CARD = CareCard("Our workroom, Slip Lane 4", "Terneland", "run R-0001", care_of([POLYESTER]), 10)


def pages_of(write, *args) -> list[PageObject]:
    target, again = BytesIO(), BytesIO()
    write(target, *args)
    write(again, *args)
    assert target.getvalue() == again.getvalue()
    return list(PdfReader(target).pages)


def text_of(pages: list[PageObject]) -> str:
    """All in one line, with plain spaces."""
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_forty_members_are_packed_on_two_pages_each_once():
    pages = pages_of(packing_list.write, LISTED)
    assert len(pages) == 2
    words = text_of(pages)
    for one in LISTED.packed:
        assert words.count(one.code) == 1
    assert words.count("Name on jacket") == 2 and "page 2 of 2" in words
    assert "40 of 44 jackets in this delivery; 3 handed over before; 1 follows later" in words
    assert "Follows later: 1 jacket" in words and "Zofia Łęcka" in words
    assert "Signature" in pages[-1].extract_text() and "Received complete, as ticked" in words


def test_who_signed_on_the_screen_stands_on_the_list_of_that_delivery():
    signed = replace(
        LISTED,
        received=True,
        received_by="Mira Holm",
        signed="on the screen",
        strokes=STROKES,
        note="left at the boathouse",
    )
    words = text_of(pages_of(packing_list.write, signed))
    assert (
        "Handed over on Friday 12 March 2027" in words
        and "Received and signed on the screen" in words
    )
    assert "Mira Holm" in words and "Note: left at the boathouse" in words


def test_long_names_stay_on_the_page():
    row = Packed(LONG, "2XL", LONG, LONG, "TO-1-01")
    listed = replace(LISTED, club=LONG, workroom=LONG, address=LONG, packed=(row,), note=LONG * 2)
    for page in pages_of(packing_list.write, listed):
        assert_inside(page)
    bag = replace(LABELS.bags[0], member=LONG, colorway=LONG, name_on_jacket=LONG, size_name=LONG)
    labels = replace(LABELS, club=LONG, title=LONG, sender=LONG, bags=(bag,))
    for paper in ("a4", "letter", "label"):
        for page in pages_of(parcel_labels.write, labels, paper):
            assert_inside(page)


def test_where_each_that_follows_is_and_its_day_stand_there_in_full():
    words = (
        "waits for finishing; about 12 Dec 2026",
        "goes back to be mended; about 30 Sep 2026",
        "is handed over alone",
    )
    follows = tuple(Follows("Mira Holm", "2XL", each) for each in words)
    listed = replace(LISTED, packed=LISTED.packed[:1], follows=follows)
    told = " ".join(text_of(pages_of(packing_list.write, listed)).split())
    assert "…" not in told
    for each in words:
        assert all(word in told for word in each.split("; "))


def assert_inside(page: PageObject) -> None:
    spots: list[tuple[float, float]] = []

    def note(text: str, cm: object, tm: list[float], *_: object) -> None:
        if text.strip():
            spots.append((tm[4], tm[5]))

    page.extract_text(visitor_text=note)
    assert spots
    wide, high = float(page.mediabox.width), float(page.mediabox.height)
    assert all(0 < x < wide and 0 < y < high for x, y in spots)


def test_nothing_to_pack_is_told():
    with pytest.raises(DocumentError, match="No jacket of order TO-1 waits"):
        packing_list.write(BytesIO(), replace(LISTED, packed=()))
    with pytest.raises(DocumentError, match="nothing to label"):
        parcel_labels.write(BytesIO(), replace(LABELS, bags=()))
    with pytest.raises(DocumentError, match="no jacket to make a care card for"):
        care_card.write(BytesIO(), [], "Care cards")


@pytest.mark.parametrize(("paper", "sheets"), [("a4", 2), ("letter", 2), ("label", 11)])
def test_a_label_for_each_bag_and_each_parcel(paper, sheets):
    pages = pages_of(parcel_labels.write, LABELS, paper)
    assert len(pages) == sheets
    words = text_of(pages)
    assert "Parcel 1 of 2" in words and "Parcel 2 of 2" in words
    assert "Delivery 2: 5 jackets of 12 ordered" in words
    assert "3 × M, 2 × YS" in words
    assert words.count("Delivery 2, parcel 2 of 2") == 4
    assert words.count("Member 7") == 1


@pytest.mark.parametrize(
    ("jackets", "parcels", "places"),
    [
        (5, 2, [1, 1, 1, 2, 2]),
        (4, 1, [1, 1, 1, 1]),
        (2, 5, [1, 2]),
        (0, 3, []),
        (3, 0, [1, 1, 1]),
    ],
)
def test_parcels_are_filled_evenly_and_none_stays_empty(jackets, parcels, places):
    assert shared_out(jackets, parcels) == places


def test_codes_on_labels_can_be_read():
    import pypdfium2
    import zxingcpp

    target = BytesIO()
    parcel_labels.write(target, LABELS)
    image = pypdfium2.PdfDocument(target.getvalue())[0].render(scale=2).to_pil()
    read = {found.text for found in zxingcpp.read_barcodes(image)}
    assert read == {bag.address for bag in LABELS.bags[:6]}


def test_a_care_card_for_each_jacket_in_the_words_of_its_fabrics():
    wool = CareCard("Our workroom", "", "", care_of([POLYESTER, replace(WOOL)]), 1)
    pages = pages_of(care_card.write, [CARD, wool], "Care cards TO-1")
    assert len(pages) == 2
    words = text_of(pages)
    assert words.count("Care of this jacket") == 11
    assert words.count("Wash at 30 °C or less") == 11 and words.count("Do not iron:") == 11
    assert words.count("Do not bleach") == 11 and words.count("it melts") == 11
    assert "Rib: 80 % wool, 20 % polyester" in words
    assert words.count("Made in Terneland, run R-0001") == 10


WOOL = ClothCare("Rib", "80 % wool, 20 % polyester", 40, True, True)


@pytest.fixture
def run(db):
    run = make_run(order=make_team_order(jackets=3, state="in_production"))
    for stage in STAGES[:-1]:
        for code in ("TO-1-01", "TO-1-02"):
            record(code, "done", stage, None)
    return run


def pdf_of(answer) -> str:
    assert answer["Content-Type"] == "application/pdf"
    return text_of(list(PdfReader(BytesIO(b"".join(answer.streaming_content))).pages))


def test_papers_of_the_jackets_that_wait(run):
    helper = person("helper")
    packing = pdf_of(helper.get("/orders/TO-1/packing-list.pdf"))
    assert "delivery 1" in packing and "Member 01" in packing and "Member 02" in packing
    assert "Follows later: 1 jacket" in packing and "waits for cutting" in packing
    labels = pdf_of(helper.get("/orders/TO-1/parcel-labels.pdf?parcels=2"))
    assert "Parcel 2 of 2" in labels and "1 jacket of 3 ordered" in labels
    care = pdf_of(helper.get("/orders/TO-1/care-cards.pdf"))
    assert care.count("Care of this jacket") == 3


def test_labels_go_by_the_workrooms_paper_and_care_by_its_fabrics(run):
    workroom()
    Workroom.objects.update(tag_paper="label")
    Fabric.objects.update(wash_celsius=40, may_tumble_dry=True)
    helper = person("helper")
    care = pdf_of(helper.get("/orders/TO-1/care-cards.pdf"))
    assert "Wash at 40 °C or less" in care and "Tumble dry at low heat" in care


def test_papers_of_a_delivery_stay_and_a_mistake_is_left_out(run):
    helper = person("helper")
    jackets = list(Jacket.objects.filter(code__in=("TO-1-01", "TO-1-02")))
    order = jackets[0].jacket_order.team_order
    from production.handing_over.deliveries import hand_over

    hand_over(
        order,
        jackets,
        received_by="Mira Holm",
        signed="screen",
        signature=STROKES,
        note="",
        by=None,
        form_key=None,
    )
    record("TO-1-01", "undo", "hand_over", None)
    packing = pdf_of(helper.get("/orders/TO-1/packing-list.pdf?delivery=1"))
    packed, follows = packing.split("Follows later")
    assert "TO-1-02" in packed and "TO-1-01" not in packed
    assert "Member 01" in follows and "is ready" in follows and "Member 03" in follows
    assert "Mira Holm" in packing
    none = helper.get("/orders/TO-1/packing-list.pdf?delivery=7")
    assert none.status_code == 404


def test_nothing_to_pack_leads_back_to_the_page_with_a_word(run):
    for code in ("TO-1-01", "TO-1-02"):
        record(code, "done", "hand_over", None)
    answer = person("helper").get("/orders/TO-1/packing-list.pdf", follow=True)
    assert answer.redirect_chain == [("/orders/TO-1/hand-over/", 302)]
    assert "No jacket of order TO-1 waits to be handed over" in answer.content.decode()


def test_a_run_writes_its_papers_for_each_order_that_has_some(run, tmp_path: Path):
    run = Run.objects.get(pk=run.pk)
    base = "http://workroom:8000"
    names = [
        file.name
        for kind in ("packing", "labels", "care")
        for file in write_for_run(run, tmp_path, base, kind)
    ]
    assert names == ["packing-list-TO-1.pdf", "parcel-labels-TO-1.pdf", "care-cards-TO-1.pdf"]
    for code in ("TO-1-01", "TO-1-02"):
        record(code, "done", "hand_over", None)
    assert write_for_run(run, tmp_path, base, "packing") == []
    assert len(write_for_run(run, tmp_path, base, "care")) == 1

"""The operation sheet as a page and on paper, of a run's jackets and of changed ones."""

from __future__ import annotations

import io
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from django.core.management import CommandError, call_command
from pypdf import PdfReader

from orders.models import JacketOrder
from production.changing.changes import change_after_freeze
from production.models import Jacket, Run
from production.sewing.sewing_state import find_jacket, sheet_of, sheets_of_run
from tests.production.change_factories import facts, jacket, make_frozen_run
from tests.production.operation_factories import make_operations
from tests.production.run_factories import make_person, make_run, person

pytestmark = pytest.mark.django_db


def text_of(content: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


def pdf_of(client, path: str) -> str:
    return text_of(b"".join(client.get(path).streaming_content))


def test_the_page_tells_the_steps_of_this_very_jacket():
    make_run(jackets=1)
    JacketOrder.objects.update(name_on_jacket="ADA", note="long sleeves")
    page = person("helper").get("/j/TO-1-01/sewing/").content.decode()
    for words in ("Member 01", "ADA", "long sleeves", "Side seam", "1000 mm", "allowance 10 mm"):
        assert words in page
    assert page.index("work seam") < page.index("work topstitch") < page.index("work cuff")
    assert "Zipper 60 cm black" in page and "Change the foot to edge" in page


def test_an_unknown_code_and_a_stranger():
    assert person("helper").get("/j/NO-1/sewing/").status_code == 404
    client = person("maker")
    client.logout()
    assert client.get("/j/NO-1/sewing/").status_code == 302


def test_the_paper_of_one_jacket_is_read_back():
    make_run(jackets=2)
    text = pdf_of(person("helper"), "/j/TO-1-02/sewing.pdf")
    for words in ("TO-1-02", "Member 02", "Size M", "zipper 65 cm black, shorten by 10 mm"):
        assert words in text
    assert "TO-1-01" not in text
    assert "hem elastic: 1 length of 740 mm" in text and "page 1 of 1" in text


def test_jackets_alike_share_a_sheet_and_cancelled_ones_have_none():
    run = make_run(jackets=6)
    Jacket.objects.filter(code="TO-1-05").update(cancelled_at=run.created_at)
    sheets = sheets_of_run(run)
    assert [[one.code for one in sheet.jackets] for sheet in sheets] == [
        ["TO-1-01", "TO-1-03"],
        ["TO-1-02", "TO-1-04", "TO-1-06"],
    ]
    text = pdf_of(person("maker"), f"/runs/{run.code}/sewing-sheets.pdf")
    assert "TO-1-02 and 2 other jackets" in text and "Member 06" in text
    assert "TO-1-05" not in text


def test_each_jacket_of_a_shared_sheet_has_its_code_to_scan():
    run = make_run(jackets=4)
    content = b"".join(
        person("helper").get(f"/runs/{run.code}/sewing-sheets.pdf").streaming_content
    )
    scanned = [
        [code.text for code in zxingcpp.read_barcodes(page.render(scale=2).to_pil())]
        for page in pypdfium2.PdfDocument(content)
    ]
    assert [sorted(codes) for codes in scanned] == [
        ["http://testserver/j/TO-1-01/", "http://testserver/j/TO-1-03/"],
        ["http://testserver/j/TO-1-02/", "http://testserver/j/TO-1-04/"],
    ]


def test_a_change_after_the_freeze_shows_in_its_colors():
    run = make_frozen_run(jackets=2)
    make_operations()  # A supplement is planned with the operations of today.
    wanted = facts(jacket(1).jacket_order, own={"CO": "spruce"})
    change_after_freeze(jacket(1), wanted, by=make_person("mo", "maker"))
    changed, same = (sheet_of(find_jacket(f"TO-1-0{number}")).sheet for number in (1, 2))
    assert [color.code for color, _ in changed.colors] == ["spruce"]
    assert [thread.code for thread in changed.threads] == ["thread-spruce"]
    assert {color.code for color, _ in same.colors} == {"spruce", "oat"}
    by_code = {one.jackets[0].code: one.sheet for one in sheets_of_run(run)}
    assert by_code["TO-1-01"].colors == changed.colors


def test_the_number_of_queries_does_not_grow_with_the_jackets(django_assert_num_queries):
    run = make_run(jackets=6)
    run = Run.objects.defer("snapshot", "plan").get(pk=run.pk)
    with django_assert_num_queries(4):
        sheets_of_run(run)


def test_print_run_writes_them_when_asked(tmp_path: Path):
    run = make_run(jackets=2)
    call_command("print_run", run.code, out=tmp_path, only="sewing", stdout=io.StringIO())
    (path,) = tmp_path.iterdir()
    assert path.name == f"sewing-sheets-{run.code}.pdf"
    assert "Operation sheet" in text_of(path.read_bytes())
    Jacket.objects.update(cancelled_at=run.created_at)
    with pytest.raises(CommandError, match="no jackets to sew"):
        call_command("print_run", run.code, out=tmp_path, only="sewing", stdout=io.StringIO())

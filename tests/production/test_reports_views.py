"""The report pages and the recut's paper: who may what, what a tap does, what is told."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from pypdf import PdfReader

from production.changing.changes import Cancel, change_after_freeze
from production.models import Lay, LayPly, Recut, SpoiledPiece
from production.reporting.missing import Missing, report_missing
from production.reporting.recuts import make_recut
from production.services import load_plan, store_lays
from tests.production.change_factories import jacket
from tests.production.report_factories import cut_all, make_cut_run
from tests.production.run_factories import make_person
from tests.production.test_documents import assert_letters_apart, qr_codes

pytestmark = pytest.mark.django_db

LAY = "R-0001-T2-L1"


@pytest.fixture
def run():
    return make_cut_run(cut=(1,))


@pytest.fixture
def helper(client):
    client.force_login(make_person("ana", "helper"))
    return client


@pytest.fixture
def maker(client):
    client.force_login(make_person("mo", "maker"))
    return client


def page(name: str, *args: object) -> str:
    return reverse(f"production:{name}", args=list(args))


def lay_page(lay: str = LAY) -> str:
    return page("lay_report", "R-0001", lay)


def said(response) -> list[str]:
    return [str(message) for message in response.context["messages"]]


def waits(side: str = "left") -> SpoiledPiece:
    return report_missing(Missing("TO-1-01", "FR", side, "a <b>hole"), None)


def test_a_stranger_is_asked_to_log_in(client, run):
    for address in (lay_page(), page("ticket_report", "R-0001", "R-0001-T1")):
        assert client.get(address).status_code == 302
    assert client.post(lay_page(), {"all": "1"}).status_code == 302
    assert not LayPly.objects.exists()


def test_a_helper_reports_but_makes_no_recut(helper, run):
    waits()
    for address in (
        lay_page(),
        page("ticket_report", "R-0001", "R-0001-T1"),
        page("missing", "R-0001"),
        page("jacket_missing", "TO-1-01"),
        page("lay_missing", "R-0001", LAY) + "?piece=FR|S|left",
    ):
        response = helper.get(address)
        assert response.status_code == 200, address
        assert b"EUR" not in response.content
    assert helper.post(page("make_recut", "R-0001")).status_code == 403
    assert not Recut.objects.exists()


@pytest.mark.parametrize(
    ("name", "args"),
    [
        ("lay_report", ["R-0001", "R-0001-T9-L1"]),
        ("lay_report", ["R-0002", LAY]),
        ("ticket_report", ["R-0001", "R-0001-T9"]),
        ("recut", ["R-0001", 1]),
        ("recut_pdf", ["R-0001", 1]),
        ("jacket_missing", ["NO-1"]),
        ("missing", ["R-9"]),
    ],
)
def test_what_is_not_there_is_not_found(helper, run, name, args):
    assert helper.get(page(name, *args)).status_code == 404


def test_a_page_that_is_read_stores_nothing(helper, run):
    helper.get(lay_page())
    assert not LayPly.objects.exists()


def test_one_tap_reports_a_ply_and_one_takes_it_back(helper, run):
    response = helper.post(lay_page(), {"ply": "1", "lot": "B-SPRUCE"}, follow=True)
    assert said(response) == [f"{LAY}: ply 1 cut."]
    assert "by ana" in response.content.decode()
    response = helper.post(lay_page(), {"ply": "1", "lot": "B-SPRUCE"}, follow=True)
    assert "was already reported as cut by ana" in said(response)[0]
    response = helper.post(lay_page(), {"undo": "1"}, follow=True)
    assert said(response) == [f"{LAY}: ply 1 is not cut after all."]
    assert not LayPly.objects.filter(cut_at__isnull=False).exists()


@pytest.mark.parametrize(
    ("tap", "words"),
    [
        ({}, "Say which ply was cut."),
        ({"ply": "x"}, "Ply: Enter a whole number. Nothing was changed."),
        ({"ply": "99"}, "has no ply 99"),
        ({"undo": "99"}, "has no ply 99"),
        ({"ply": "1"}, "say which bolt of spruce"),
        ({"ply": "1", "dye_lot": "x" * 31}, "Dye lot of a bolt"),
    ],
)
def test_a_tap_that_cannot_be_is_answered_in_words(helper, run, tap, words):
    response = helper.post(lay_page(), tap, follow=True)
    assert response.status_code == 200
    assert words in said(response)[0]
    assert not LayPly.objects.filter(cut_at__isnull=False).exists()


def test_a_page_older_than_the_lays_reports_nothing(helper, run):
    """Another way to cut was chosen meanwhile: its first lay has the same code."""
    old = Lay.objects.get(code=LAY)
    assert f'name="seen" value="{old.pk}"' in helper.get(lay_page()).content.decode()
    planned = next(each for each in load_plan(run).cut_tickets if each.ticket == old.ticket.code)
    store_lays(old.ticket, planned.lays)
    tap = {"ply": "1", "lot": "B-SPRUCE", "seen": str(old.pk)}
    [words] = said(helper.post(lay_page(), tap, follow=True))
    assert "other lays were chosen for R-0001-T2 since this page was opened" in words
    assert not LayPly.objects.filter(cut_at__isnull=False).exists()


def test_a_piece_is_reported_from_its_lay(helper, run):
    address = page("lay_missing", "R-0001", LAY) + "?piece=FR|S|left"
    assert "TO-1-01 Member 01" in helper.get(address).content.decode()
    sent = {"piece": "FR|S|left", "jacket": "TO-1-01", "ply": "", "reason": "a <b>hole"}
    response = helper.post(address, sent, follow=True)
    assert said(response) == ["TO-1-01: block FR left waits for a recut ticket."]
    shown = response.content.decode()
    assert "Waits for:" in shown and "a &lt;b&gt;hole" in shown
    assert "block FR left short or spoiled" in shown
    assert "TO-1-01 Member 01" not in helper.get(address).content.decode()


def test_a_piece_that_the_lay_does_not_cut_is_not_found(helper, run):
    for piece in ("", "XX|S|left", "CO|S|single"):
        address = page("lay_missing", "R-0001", LAY) + f"?piece={piece}"
        assert helper.get(address).status_code == 404


def test_a_jacket_of_another_size_does_not_get_the_piece(helper, run):
    sent = {"piece": "FR|S|left", "jacket": "TO-1-02", "reason": "hole"}
    response = helper.post(page("lay_missing", "R-0001", LAY), sent)
    assert "Select a valid choice" in response.content.decode()
    assert not SpoiledPiece.objects.exists()


def test_a_piece_is_reported_from_its_jacket(helper, run):
    address = page("jacket_missing", "TO-1-01")
    response = helper.post(address, {"piece": "CO|single", "reason": ""})
    assert "This field is required" in response.content.decode()
    helper.post(address, {"piece": "CO|single", "reason": "cut short"})
    piece = SpoiledPiece.objects.get()
    assert (piece.block, piece.side, piece.reason, piece.by.username) == (
        "CO",
        "single",
        "cut short",
        "ana",
    )
    assert "CO|single" not in helper.get(address).content.decode()


def test_the_maker_makes_the_recut_and_everybody_sees_who_waits(maker, run):
    waits()
    response = maker.post(page("make_recut", "R-0001"), follow=True)
    assert said(response) == ["Recut 1 is made. Print its tickets and cut them."]
    for address in (run.get_absolute_url(), page("jacket", "TO-1-01")):
        shown = maker.get(address).content.decode()
        assert "block FR left" in shown and "R-0001-C1-T1" in shown, address
    ticket = maker.get(page("cut_ticket", "R-0001", "R-0001-C1-T1")).content.decode()
    assert "Recut 1, adds to ticket R-0001-T2" in ticket
    first = maker.get(page("cut_ticket", "R-0001", "R-0001-T2")).content.decode()
    assert "First ticket of this color" in first
    response = maker.post(page("make_recut", "R-0001"), follow=True)
    assert "No piece of run R-0001 waits for a recut" in said(response)[0]


def test_a_mistaken_report_is_taken_back_from_its_jacket_and_stays_in_its_story(helper, run):
    piece = waits()
    shown = helper.get(page("jacket", "TO-1-01")).content.decode()
    assert "A mistake: block FR left is good" in shown
    back = page("take_back_missing", "TO-1-01", piece.pk)
    response = helper.post(back, follow=True)
    assert said(response) == ["TO-1-01: block FR left is not short or spoiled after all."]
    shown = response.content.decode()
    assert "Waits for:" not in shown
    assert "a &lt;b&gt;hole; reported by mistake" in shown
    assert "block FR left is not short or spoiled after all <" in shown
    assert "reported by mistake" in helper.get(page("missing", "R-0001")).content.decode()
    assert "was already taken back by ana" in said(helper.post(back, follow=True))[0]
    assert helper.post(page("take_back_missing", "TO-1-02", piece.pk)).status_code == 404


def test_a_piece_on_a_recut_offers_no_way_back(maker, run):
    waits()
    maker.post(page("make_recut", "R-0001"))
    assert "A mistake:" not in maker.get(page("jacket", "TO-1-01")).content.decode()


def test_spare_parts_tell_which_ticket_they_were_cut_beyond(helper, run):
    Lay.objects.filter(code=LAY).update(plies=2)
    helper.post(lay_page(), {"all": "1", "lot": "B-SPRUCE"})
    shown = helper.get(reverse("changes:spare_parts", args=["R-0001"])).content.decode()
    link = f'<a class="code" href="{page("ticket_report", "R-0001", "R-0001-T2")}">R-0001-T2</a>'
    assert f"cut beyond ticket {link}" in shown
    report_missing(Missing("TO-1-01", "FR", "left", "hole"), None)
    story = helper.get(page("jacket", "TO-1-01")).content.decode()
    assert "a spare part cut beyond ticket R-0001-T2 took its place" in story


def test_the_recut_lay_offers_the_jacket_that_waits(maker, run):
    waits()
    maker.post(page("make_recut", "R-0001"))
    address = page("lay_missing", "R-0001", "R-0001-C1-T1-L1") + "?piece=FR|S|left"
    shown = maker.get(address).content.decode()
    assert "TO-1-01 Member 01" in shown and "TO-1-03" not in shown


def test_jackets_are_marked_as_cut_in_one_tap(helper, run):
    cut_all(run)
    shown = helper.get(page("ticket_report", "R-0001", "R-0001-T1")).content.decode()
    assert "Mark these 2 jackets as cut" in shown
    response = helper.post(page("mark_cut", "R-0001"), {"ticket": "R-0001-T1"}, follow=True)
    assert said(response) == ["Cutting is done for 2 jackets: TO-1-02, TO-1-03."]
    response = helper.post(page("mark_cut", "R-0001"), follow=True)
    assert said(response) == ["No jacket is ready to be marked. Nothing was changed."]


def test_the_history_of_a_jacket_tells_of_its_lays(helper, run):
    helper.post(lay_page(), {"ply": "1", "lot": "B-SPRUCE"})
    shown = helper.get(page("jacket", "TO-1-01")).content.decode()
    assert f"plies of lay {LAY} cut" in shown


def test_the_lay_says_how_many_pieces_to_check_and_where_the_number_is_from(helper, run):
    shown = helper.get(lay_page()).content.decode()
    assert "Check " in shown and "ISO 2859-1:1999" in shown and "common practice" in shown


# The paper


def pdf_of(client, *args: object) -> bytes:
    response = client.get(page("recut_pdf", *args))
    assert response["Content-Type"] == "application/pdf"
    return b"".join(response.streaming_content)


def test_the_recut_ticket_says_what_it_adds_to_who_waits_and_opens_its_report(maker, run):
    waits()
    maker.post(page("make_recut", "R-0001"))
    content = pdf_of(maker, "R-0001", 1)
    words = " ".join(
        "\n".join(p.extract_text() for p in PdfReader(io.BytesIO(content)).pages).split()
    )
    assert "Recut 1 to run R-0001, adds to ticket R-0001-T2" in words
    assert "TO-1-01 FR block FR left size S R-0001-T2 a <b>hole" in words
    assert "Member 01" not in words
    report = page("ticket_report", "R-0001", "R-0001-C1-T1")
    assert set(qr_codes(content)) == {f"http://testserver{report}"}
    assert_letters_apart(content)


def test_every_kind_of_ticket_says_which_it_is(maker, run):
    response = maker.get(page("cut_tickets_pdf", "R-0001"))
    first = b"".join(response.streaming_content)
    assert (
        "Cut ticket, the first of this color"
        in PdfReader(io.BytesIO(first)).pages[0].extract_text()
    )
    assert qr_codes(first)[0].endswith(page("ticket_report", "R-0001", "R-0001-T1"))
    waits()
    maker.post(page("make_recut", "R-0001"))
    recut = pdf_of(maker, "R-0001", 1)
    assert "Cut ticket, a recut" in PdfReader(io.BytesIO(recut)).pages[0].extract_text()


def test_print_run_writes_the_recuts(run, tmp_path: Path, capsys):
    with pytest.raises(CommandError, match="has no recuts"):
        call_command("print_run", "R-0001", out=tmp_path, only="recuts")
    waits()
    make_recut(run, None)
    call_command("print_run", "R-0001", out=tmp_path, only="recuts")
    assert [path.name for path in tmp_path.iterdir()] == ["recut-R-0001-C1.pdf"]


def test_reasons_are_cleared_with_the_members_data(run):
    from production.members.privacy import erase_order

    report_missing(Missing("TO-1-01", "FR", "left", "torn by Member 01"), None)
    order = run.run_orders.get().team_order
    order.jacket_orders.filter(member="Member 01").update(member="Ada Thorn")
    SpoiledPiece.objects.update(reason="torn by Ada Thorn")
    erase_order(order, None)
    assert "Ada" not in SpoiledPiece.objects.get().reason


def test_whoever_reports_is_told_what_is_not_to_be_cut_any_more(helper, run):
    """The printed ticket does not know of it, and its code opens these pages."""
    for address in (lay_page(), page("ticket_report", "R-0001", "R-0001-T2")):
        assert "Do not cut" not in helper.get(address).content.decode()
    change_after_freeze(jacket(2), Cancel(), None)
    for address in (lay_page(), page("ticket_report", "R-0001", "R-0001-T2")):
        told = helper.get(address).content.decode()
        assert "Do not cut" in told
        assert "FR M: 1 left + 1 right" in told


def test_a_ticket_that_is_printed_again_says_what_was_withdrawn(maker, run):
    change_after_freeze(jacket(2), Cancel(), None)
    paper = maker.get(page("cut_tickets_pdf", "R-0001")).getvalue()
    texts = [sheet.extract_text() for sheet in PdfReader(io.BytesIO(paper)).pages]
    assert any("Do not cut" in text and "(supplement 1)" in text for text in texts)

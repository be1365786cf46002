"""The pages and the paper of changes after the freeze."""

from __future__ import annotations

import io
import re
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from pypdf import PdfReader

from orders.models import TeamOrder
from orders.money_queries import account_of
from production.changing.changes import Cancel, change_after_freeze
from production.models import Jacket, Supplement
from production.tracking import record
from tests.production.change_factories import facts, jacket, make_frozen_run
from tests.production.run_factories import make_person
from tests.production.test_documents import assert_letters_apart

pytestmark = pytest.mark.django_db


@pytest.fixture
def run():
    return make_frozen_run(cut=(1,))


@pytest.fixture
def maker(client, monkeypatch):
    from patterns import pictures

    # The tiny pattern of the factories has no outlines to draw.
    monkeypatch.setattr(pictures, "colorway_svgs", lambda *args, **kwargs: [])
    client.force_login(make_person("mo", "maker"))
    return client


@pytest.fixture
def helper(client):
    client.force_login(make_person("ana", "helper"))
    return client


def change_page(code: str = "TO-1-01") -> str:
    return reverse("changes:change", args=["R-0001", code])


def answers(code: str = "TO-1-01", **more: str) -> dict[str, str]:
    line = Jacket.objects.get(code=code).jacket_order
    size = line.colorway.blocking.pattern.sizes.get(code=more.pop("size", "M"))
    return {"colorway": str(line.colorway_id), "size": str(size.pk), **more}


def digest(page: str) -> str:
    found = re.search(r'name="agreed" value="(\w+)"', page)
    assert found
    return found[1]


def text(content: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


def body(response) -> bytes:
    return b"".join(response.streaming_content)


def to_size_m() -> Supplement:
    return change_after_freeze(jacket(1), facts(jacket(1).jacket_order, size="M"), None)


def test_a_helper_changes_nothing_but_reads_supplements_without_money(helper, run):
    made = to_size_m()
    for page in (change_page(), reverse("changes:choose", args=[run.code])):
        assert helper.get(page).status_code == 403
    page = helper.get(reverse("changes:supplement", args=[run.code, made.number]))
    assert page.status_code == 200
    assert b"What it costs" not in page.content
    assert helper.get(reverse("changes:spare_parts", args=[run.code])).status_code == 200


def test_the_page_to_choose_leads_to_each_jacket_and_order(maker, run):
    page = maker.get(reverse("changes:choose", args=[run.code])).content.decode()
    assert change_page("TO-1-02") in page
    assert reverse("changes:cancel", args=[run.code, "TO-1-03"]) in page
    assert reverse("changes:add", args=[run.code, "TO-1"]) in page
    found = maker.get(reverse("changes:of_order", args=["TO-1"]))
    assert found.url == reverse("changes:choose", args=[run.code])
    assert reverse("changes:of_order", args=["TO-1"]) in maker.get("/orders/TO-1/").content.decode()


def test_a_change_is_shown_first_and_made_when_agreed_to(maker, run):
    page = maker.post(change_page(), answers(preview="1")).content.decode()
    for words in ("3 blocks", "To the spare parts", "The deadline", "What it costs", "m of cloth"):
        assert words in page
    assert not Supplement.objects.exists()
    made = maker.post(change_page(), answers(agreed=digest(page)), follow=True)
    assert made.redirect_chain[-1][0] == reverse("changes:supplement", args=[run.code, 1])
    assert jacket(1).size == "M"


def test_a_stale_preview_is_shown_anew(maker, run):
    seen = digest(maker.post(change_page(), answers(preview="1")).content.decode())
    record("TO-1-01", "start", "sew", None)
    again = maker.post(change_page(), answers(agreed=seen)).content.decode()
    assert "Something has moved since this was shown" in again
    assert digest(again) != seen
    assert not Supplement.objects.exists()


def test_the_way_back_to_the_form_keeps_what_was_chosen(maker, run):
    asked = answers(show="1")
    page = maker.post(change_page(), asked).content.decode()
    assert f'value="{asked["size"]}" selected' in page


def test_a_change_to_the_same_is_told_on_the_form(maker, run):
    page = maker.post(change_page(), answers(size="S", preview="1")).content.decode()
    assert "is frozen as it stands here already" in page


def test_a_late_member_is_added(maker, run):
    page = reverse("changes:add", args=[run.code, "TO-1"])
    asked = {**answers(size="S"), "member": "Late One"}
    shown = maker.post(page, {**asked, "preview": "1"}).content.decode()
    assert "Late One" in shown
    maker.post(page, {**asked, "agreed": digest(shown)})
    assert jacket(4).jacket_order.member == "Late One"
    rows = maker.get(reverse("production:run", args=[run.code])).content.decode()
    assert "TO-1-04" in rows


def test_a_jacket_is_cancelled_and_its_page_offers_no_step(maker, run):
    page = reverse("changes:cancel", args=[run.code, "TO-1-01"])
    asked = {"reason": "left the club"}
    seen = digest(maker.post(page, {**asked, "preview": "1"}).content.decode())
    maker.post(page, {**asked, "agreed": seen})
    shown = maker.get(reverse("production:jacket", args=["TO-1-01"])).content.decode()
    assert "It is cancelled" in shown
    assert 'name="action"' not in shown
    listed = maker.get(reverse("production:run_jackets", args=[run.code])).content.decode()
    assert "cancelled" in listed
    refused = maker.post(page, {**asked, "preview": "1"}).content.decode()
    assert "already" in refused


def test_the_spare_parts_lead_to_jackets_that_can_take_them(maker, run):
    change_after_freeze(jacket(1), Cancel(), None)
    takes = reverse("changes:take_spares", args=[run.code, "TO-1-03"])
    shown = maker.get(reverse("changes:spare_parts", args=[run.code])).content.decode()
    assert takes in shown
    assert "can take 3 blocks" in shown
    assert "stays as it is" in maker.get(takes).content.decode()
    page = maker.post(takes, {"preview": "1"}).content.decode()
    assert "From the spare parts" in page
    assert "Do not cut" in page
    made = maker.post(takes, {"agreed": digest(page)})
    assert made.url == reverse("changes:supplement", args=[run.code, 2])
    refused = maker.post(takes, {"preview": "1"}).content.decode()
    assert "No spare part can stand" in refused


def test_a_helper_is_offered_no_spare_parts_to_take(helper, run):
    change_after_freeze(jacket(1), Cancel(), None)
    page = helper.get(reverse("changes:spare_parts", args=[run.code]))
    assert b"can take 3" not in page.content
    assert helper.get(reverse("changes:take_spares", args=[run.code, "TO-1-03"])).status_code == 403


def test_the_money_page_marks_cancelled_jackets(maker, run):
    change_after_freeze(jacket(1), Cancel(), None)
    page = maker.get(reverse("money:money", args=["TO-1"])).content.decode()
    assert page.count('<span class="tag">cancelled</span>') == 1
    file = maker.get(reverse("money:money", args=["TO-1"]), {"_export": "csv"}).content.decode()
    assert "Member 01 (cancelled)" in file
    assert "Member 02," in file


def test_an_order_whose_jackets_are_all_cancelled_keeps_what_it_costs(run):
    for number in (1, 2, 3):
        change_after_freeze(jacket(number), Cancel(), None)
    order = TeamOrder.objects.get(code="TO-1")
    order.price = Decimal(80)
    assert order.state == TeamOrder.State.CANCELLED
    assert account_of(order).words == "240.00 EUR open"


def test_the_run_page_lists_supplements_and_their_check(maker, run):
    before = maker.get(reverse("production:run", args=[run.code])).content.decode()
    assert "with supplements and recuts every piece" not in before
    to_size_m()
    page = maker.get(reverse("production:run", args=[run.code])).content.decode()
    assert "with supplements and recuts every piece" in page
    assert reverse("changes:supplement", args=[run.code, 1]) in page
    assert reverse("production:cut_ticket", args=[run.code, "R-0001-S1-T1"]) in page


def test_the_tickets_of_a_supplement_and_what_they_strike_out(maker, run):
    change_after_freeze(jacket(2), facts(jacket(2).jacket_order, size="S"), None)
    own = maker.get(reverse("production:cut_ticket", args=[run.code, "R-0001-S1-T2"]))
    assert b"is cut in addition" in own.content
    struck = maker.get(reverse("production:cut_ticket", args=[run.code, "R-0001-T2"]))
    assert "<s>FR M: 1 left + 1 right</s>" in struck.content.decode()


def test_the_paper_says_what_is_added_and_what_is_not_cut(maker, run):
    change_after_freeze(jacket(2), facts(jacket(2).jacket_order, size="S"), None)
    content = body(maker.get(reverse("changes:supplement_pdf", args=[run.code, 1])))
    paper = text(content)
    assert "Supplement 1 to run R-0001, adds to ticket R-0001-T2" in paper
    assert "Reason: TO-1-02: size M to S" in paper
    assert "Do not cut" in paper
    assert "ticket R-0001-S1-T1, page 1" in paper
    assert_letters_apart(content)


def test_a_cancellation_has_a_sheet_and_no_tag(maker, run):
    change_after_freeze(jacket(1), Cancel("left the club"), None)
    paper = text(body(maker.get(reverse("changes:supplement_pdf", args=[run.code, 1]))))
    assert "Put with the spare parts" in paper
    assert "Nothing is cut in addition" in paper
    assert maker.get(reverse("changes:supplement_tags_pdf", args=[run.code, 1])).status_code == 404


def test_the_tag_of_a_changed_jacket_has_all_its_blocks(maker, run):
    change_after_freeze(jacket(1), facts(jacket(1).jacket_order, own={"CO": "spruce"}), None)
    tag = text(body(maker.get(reverse("changes:supplement_tags_pdf", args=[run.code, 1]))))
    assert "TO-1-01" in tag
    assert "4 pieces" in tag
    assert "TO-1-02" not in tag


def test_print_run_writes_supplements_too(run, tmp_path: Path):
    to_size_m()
    change_after_freeze(jacket(2), Cancel(), None)
    call_command("print_run", run.code, "--out", str(tmp_path), stdout=io.StringIO())
    assert {file.name for file in tmp_path.iterdir()} == {
        "cut-tickets-R-0001.pdf",
        "bundle-tags-R-0001.pdf",
        "supplement-R-0001-S1.pdf",
        "bundle-tags-R-0001-S1.pdf",
        "supplement-R-0001-S2.pdf",
    }
    only = tmp_path / "only"
    call_command(
        *("print_run", run.code, "--out", str(only), "--only", "supplements"), stdout=io.StringIO()
    )
    assert len(list(only.iterdir())) == 3
    with pytest.raises(CommandError, match="supplements"):
        call_command("print_run", run.code, "--out", str(only), "--only", "supplement")


def test_print_run_says_that_there_is_no_supplement(run, tmp_path: Path):
    with pytest.raises(CommandError, match="has no supplements"):
        call_command("print_run", run.code, "--out", str(tmp_path), "--only", "supplements")


def test_make_plan_prints_the_plan_of_the_run_unchanged(run):
    def printed() -> str:
        out = io.StringIO()
        call_command(*("make_plan", "TO-1", "--format", "json"), stdout=out, stderr=io.StringIO())
        return out.getvalue()

    before = printed()
    to_size_m()
    assert printed() == before

"""What must be true before cutting is done: every block on the table, by a ticket or by a tick."""

from __future__ import annotations

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from production.errors import MovedOnError, StepRefusedError, UnknownJacketError
from production.models import BlockTick, Jacket, Run, SpoiledPiece, StageEvent
from production.reporting.missing import Missing, report_missing, take_back_missing
from production.reporting.recuts import make_recut
from production.stages.table import How, on_table, ready_jackets
from production.stages.ticks import take_back, tick
from production.tracking import record
from tests.production.change_factories import facts, jacket
from tests.production.report_factories import cut_all, cut_whole, make_cut_run
from tests.production.run_factories import make_person, person

pytestmark = pytest.mark.django_db

CODE = "TO-1-01"


@pytest.fixture
def run():
    """Three jackets of blocks FR and BK (spruce, T2) and CO (oat, T1), nothing reported as cut."""
    return make_cut_run(3)


@pytest.fixture
def ana(run):
    return make_person("ana")


def table(code: str = CODE) -> dict[str, How]:
    found = Jacket.objects.get(code=code)
    return on_table([found])[found.pk]


def stage(code: str = CODE) -> str:
    return Jacket.objects.get(code=code).stage


def cut_done(by, *, vouch: bool, code: str = CODE) -> StageEvent:
    return record(code, "done", "cut", by, vouch=vouch)


def ticket(run: Run, code: str):
    return run.cut_tickets.get(code=f"R-0001-{code}")


def test_cutting_is_refused_with_the_names_of_what_is_not_there(run, ana):
    cut_whole(ticket(run, "T1"))
    with pytest.raises(StepRefusedError) as refused:
        cut_done(ana, vouch=False)
    assert "block FR (FR), block BK (BK)" in str(refused.value)
    assert "block CO" not in str(refused.value), "its ticket is cut"
    assert stage() == "cut" and not BlockTick.objects.exists()


def test_a_block_lies_there_once_every_lay_that_cuts_it_is_wholly_cut(run, ana):
    assert table() == {}
    cut_whole(ticket(run, "T2"))
    assert table() == {"FR": How.TICKET, "BK": How.TICKET}
    cut_whole(ticket(run, "T1"))
    assert len(ready_jackets(run)) == 3
    cut_done(ana, vouch=False)
    assert stage() == "sew" and not BlockTick.objects.exists()


def test_who_vouches_ticks_what_is_not_on_record_as_theirs(run, ana):
    cut_whole(ticket(run, "T1"))
    at = timezone.now() - datetime.timedelta(hours=1)
    record(CODE, "done", "cut", ana, at=at, vouch=True)
    ticks = BlockTick.objects.all()
    assert {(each.block, each.by, each.at) for each in ticks} == {
        ("FR", ana, at),
        ("BK", ana, at),
    }
    assert table() == {"FR": How.TICKED, "BK": How.TICKED, "CO": How.TICKET}


def test_ticks_make_a_table_and_one_is_taken_back(run, ana):
    assert tick(CODE, ["FR", "BK"], ana) == ["block FR", "block BK"]
    assert tick(CODE, ["FR"], make_person("bo")) == [], "it lies there already"
    assert take_back(CODE, "FR", ana) == "block FR"
    with pytest.raises(MovedOnError, match="block FR is not ticked"):
        take_back(CODE, "FR", ana)
    tick(CODE, ["CO"], ana)
    with pytest.raises(StepRefusedError, match=r"by the tickets: block FR \(FR\)\."):
        cut_done(ana, vouch=False)
    tick(CODE, ["FR"], ana)
    assert [each.code for each in ready_jackets(run)] == [CODE]
    cut_done(ana, vouch=False)
    assert BlockTick.objects.filter(jacket__code=CODE).count() == 4, "what was seen stays"


@pytest.mark.parametrize(
    ("code", "blocks", "error", "words"),
    [
        ("X-1", ["FR"], UnknownJacketError, "No jacket"),
        (CODE, ["ZZ"], StepRefusedError, "no block 'ZZ'; it has CO, FR, BK"),
        ("TO-1-02", ["FR"], MovedOnError, "cutting is done already"),
    ],
)
def test_a_tick_that_cannot_be_is_refused(run, ana, code, blocks, error, words):
    record("TO-1-02", "done", "cut", None)
    before = BlockTick.objects.count()
    with pytest.raises(error, match=words):
        tick(code, blocks, ana)
    assert BlockTick.objects.count() == before


def test_a_spoiled_block_refuses_even_who_vouches(run, ana):
    cut_all(run)
    piece = report_missing(Missing(CODE, "FR", "left", "a hole"), ana)
    assert "FR" not in table()
    for vouch in (False, True):
        with pytest.raises(StepRefusedError, match=r"waits for block FR \(FR\): reported as short"):
            cut_done(ana, vouch=vouch)
    with pytest.raises(StepRefusedError, match="block FR was reported as short or spoiled"):
        tick(CODE, ["FR"], ana)
    assert not BlockTick.objects.exists() and stage() == "cut"
    take_back_missing(piece, ana)
    cut_done(ana, vouch=False)


def test_a_tick_does_not_outweigh_a_piece_that_is_spoiled_later(run, ana):
    tick(CODE, ["FR", "BK", "CO"], ana)
    report_missing(Missing(CODE, "FR", "left", "a hole"), ana)
    assert table() == {"BK": How.TICKED, "CO": How.TICKED}
    with pytest.raises(StepRefusedError, match="waits for block FR"):
        cut_done(ana, vouch=True)


def test_a_piece_cut_once_more_is_on_the_table(run, ana):
    cut_all(run)
    report_missing(Missing(CODE, "FR", "left", "a hole"), ana)
    recut = make_recut(run, None)
    assert recut
    with pytest.raises(StepRefusedError, match="waits for block FR"):
        cut_done(ana, vouch=True)
    cut_whole(recut.cut_tickets.get())
    assert SpoiledPiece.objects.get().is_replaced
    cut_done(ana, vouch=False)


def test_a_change_of_color_asks_anew(run, ana):
    from production.changing.changes import change_after_freeze

    tick(CODE, ["FR", "BK", "CO"], ana)
    changed = jacket(1)
    change_after_freeze(changed, facts(changed.jacket_order, own={"CO": "spruce"}), None)
    assert table() == {"FR": How.TICKED, "BK": How.TICKED}
    with pytest.raises(StepRefusedError, match=r"by the tickets: block CO \(CO\)\."):
        cut_done(ana, vouch=False)
    tick(CODE, ["CO"], ana)
    cut_done(ana, vouch=False)


def test_undoing_the_cutting_keeps_what_was_seen(run, ana):
    event = cut_done(ana, vouch=True)
    record(CODE, "undo", "cut", ana, undoes=event.pk)
    assert stage() == "cut" and len(table()) == 3
    cut_done(ana, vouch=False)


def page(client, code: str = CODE) -> str:
    shown: bytes = client.get(reverse("production:jacket", args=[code])).content
    return shown.decode()


def test_the_page_lists_the_blocks_and_a_helper_ticks_them(run):
    helper = person("helper")
    cut_whole(ticket(run, "T1"))
    shown = page(helper)
    assert "All 3 blocks are here. Cutting is done" in shown
    assert shown.count('name="block"') == 2 and shown.count("cut by its ticket") == 1
    answer = helper.post(
        reverse("production:tick_blocks", args=[CODE]), {"block": ["FR", "BK"]}, follow=True
    )
    shown = answer.content.decode()
    assert "seen on the table: block FR, block BK" in shown
    assert 'name="vouch"' not in shown and 'name="block"' not in shown
    assert "All 3 blocks are on record" in shown
    answer = helper.post(
        reverse("production:tick_blocks", args=[CODE]), {"take_back": "FR"}, follow=True
    )
    assert "not on the table after all: block FR" in answer.content.decode()


def test_the_page_of_a_spoiled_block_has_no_button_for_done(run, ana):
    report_missing(Missing(CODE, "FR", "left", "a hole"), ana)
    shown = page(person("helper"))
    assert "Cutting cannot be done until that is replaced" in shown
    assert "Cutting is done" not in shown


def test_a_tap_from_a_page_vouches_only_by_the_button_that_says_so(run):
    helper = person("helper")
    address = reverse("production:record", args=[CODE])
    answer = helper.post(address, {"action": "done", "stage": "cut"}, follow=True)
    assert (
        "not on the table by the tickets: block CO (CO), block FR (FR)" in answer.content.decode()
    )
    assert stage() == "cut"
    helper.post(address, {"action": "done", "stage": "cut", "vouch": "1"})
    assert stage() == "sew"


def test_a_stranger_ticks_nothing(run, client):
    for name in ("tick_blocks", "looked_over", "faults"):
        answer = client.post(reverse(f"production:{name}", args=[CODE]), {"block": "FR"})
        assert answer.status_code == 302 and "/j/" not in answer.url.partition("?")[0]
    assert not BlockTick.objects.exists()


def test_an_unknown_jacket_is_not_found(run):
    helper = person("helper")
    for name in ("tick_blocks", "looked_over", "faults"):
        assert helper.post(reverse(f"production:{name}", args=["X-1"])).status_code == 404

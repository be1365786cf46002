"""The commands that a scanner or a printer calls."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.db.models import Model
from django.urls import reverse
from django.utils import timezone

from orders.models import Club, Colorway, ColorwayBlock, JacketOrder, TeamOrder
from patterns.models import Blocking, Fabric, FabricColor, Operation, Zipper
from patterns.services import install_shipped
from production.models import Jacket, Run, StageEvent
from tests.production.run_factories import make_person, make_run

pytestmark = pytest.mark.django_db

CODE = "TO-1-01"


@pytest.fixture
def run():
    return make_run(jackets=2)


def test_a_stage_is_recorded_and_told_in_words(run, capsys):
    call_command("record_stage", CODE, "cut")
    assert Jacket.objects.get(code=CODE).stage == "sew"
    told = capsys.readouterr().out
    assert told.startswith(f"{CODE}: cutting done, recorded at ")
    assert told.strip().endswith("It waits for sewing.")


def test_the_line_end_that_a_scanner_adds_is_no_part_of_the_code(run):
    call_command("record_stage", f"{CODE}\n", "cut")
    assert Jacket.objects.get(code=CODE).stage == "sew"


def test_json_holds_nothing_but_the_event(run, capsys):
    call_command("record_stage", CODE, "cut", "--format", "json")
    assert json.loads(capsys.readouterr().out) == {
        "jacket": CODE,
        "stage": "cut",
        "event": "done",
    }


def test_back_sends_the_jacket_to_be_mended(run, capsys):
    call_command("record_stage", CODE, "cut")
    call_command("record_stage", CODE, "cut", "--back", "a hole", "--format", "json")
    assert json.loads(capsys.readouterr().out.splitlines()[-1])["event"] == "sent_back"
    jacket = Jacket.objects.get(code=CODE)
    assert (jacket.stage, jacket.mend_reason) == ("cut", "a hole")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["X-1", "cut"], "No jacket has the code 'X-1'"),
        ([CODE, "iron"], "'iron' is no stage; stages are cut, sew, finish, hand_over"),
        ([CODE, "finish"], "It waits for cutting; that comes before finishing"),
        ([CODE, "cut", "--back", ""], "what is to be mended"),
        ([CODE, "sew", "--back", "a hole"], "not on to sewing"),
        ([CODE, "cut", "--back", "x" * 201], "has 201 letters; keep it to 200"),
        ([CODE, "cut", "--back", "a\x1bhole"], "control signs"),
        ([CODE, "handed_over"], "'handed_over' is no stage"),
    ],
)
def test_bad_input_is_one_clear_line_and_changes_nothing(run, arguments, words):
    with pytest.raises(CommandError, match=words) as refused:
        call_command("record_stage", *arguments)
    assert "\n" not in str(refused.value)
    assert not StageEvent.objects.exists()


def test_a_stage_done_twice_is_refused_and_says_where_the_jacket_stands(run):
    call_command("record_stage", CODE, "cut")
    with pytest.raises(CommandError, match=r"already moved on .* It waits for sewing"):
        call_command("record_stage", CODE, "cut")
    assert StageEvent.objects.count() == 1


def test_paper_is_written_into_the_folder(run, tmp_path, capsys):
    call_command("print_run", run.code, "--out", str(tmp_path / "new"), "--format", "json")
    files = json.loads(capsys.readouterr().out)["files"]
    assert [file.rsplit("/", 1)[1] for file in files] == [
        "cut-tickets-R-0001.pdf",
        "bundle-tags-R-0001.pdf",
    ]
    assert all(Path(file).read_bytes().startswith(b"%PDF-") for file in files)


def test_letters_that_paper_cannot_show_are_told(run, tmp_path, capsys):
    run.snapshot["jackets"][0]["name_on_jacket"] = "李"
    run.save()
    call_command("print_run", run.code, "--out", str(tmp_path))
    told = capsys.readouterr()
    assert "These letters cannot be printed: 李" in told.err
    assert len(told.out.splitlines()) == 2


def test_only_some_paper(run, tmp_path):
    call_command("print_run", run.code, "--out", str(tmp_path), "--only", "tags")
    assert [file.name for file in tmp_path.iterdir()] == ["bundle-tags-R-0001.pdf"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["R-9"], "There is no run 'R-9'. Runs: R-0001"),
        (
            ["R-0001", "--only", "tags,stickers"],
            "--only takes tickets, tags, .*, sewing, packing, labels, care; not 'stickers'",
        ),
        (["R-0001", "--base-url", "workroom"], "give an address such as"),
    ],
)
def test_a_bad_print_writes_nothing(run, tmp_path, arguments, words):
    with pytest.raises(CommandError, match=words):
        call_command("print_run", *arguments, "--out", str(tmp_path / "new"))
    assert not (tmp_path / "new").exists()


def test_a_folder_that_cannot_be_made_is_named(run, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(CommandError, match=r"Cannot write into .*: Not a directory\. Choose"):
        call_command("print_run", run.code, "--out", str(tmp_path / "file" / "folder"))


def test_a_plan_that_cannot_be_printed_says_why_and_writes_nothing(run, tmp_path, client):
    run.plan["cut_tickets"] = []
    run.save()
    with pytest.raises(CommandError, match="R-0001 has no cut tickets"):
        call_command("print_run", run.code, "--out", str(tmp_path))
    assert not list(tmp_path.iterdir())
    client.force_login(make_person())
    page = client.get(reverse("production:cut_tickets_pdf", args=[run.code]), follow=True)
    assert page.redirect_chain and b"has no cut tickets" in page.content


def test_a_time_that_is_none_is_refused():
    for seconds in ("-1", "0", "nan"):
        with pytest.raises(CommandError, match=f"--seconds is {float(seconds)}; give a time"):
            call_command("make_plan", "TO-1", "--seconds", seconds)


def test_an_unknown_order_is_named_with_those_that_are_there(run):
    with pytest.raises(CommandError, match=r"no team order 'TO-9'\. Team orders: TO-1"):
        call_command("make_plan", "TO-9")


#: What is spoiled, and the words for it.
SPOILED: tuple[tuple[type[Model], dict[str, Any], dict[str, Any], str], ...] = (
    (
        Fabric,
        {},
        {"usable_width_mm": 300},
        "mm wide, but Quay fleece 280 has 300 mm of usable width",
    ),
    (Zipper, {"color_code": "spruce"}, {"color_code": "teal"}, "none is sold in that color"),
    (
        Operation,
        {"code": "seam"},
        {"stitch_type": "999"},
        "neither a thread formula nor a ratio for stitch type 999",
    ),
    (Operation, {"code": "seam"}, {"stitch_length_mm": None}, "301 but no stitch length"),
    (Operation, {"code": "seam"}, {"rows": 0}, "sews 0 rows"),
)


def test_a_plan_that_cannot_be_made_says_why_and_freezes_nothing():
    order = make_order_of_one()
    for model, which, spoiled, words in SPOILED:
        with transaction.atomic():
            assert model.objects.filter(**which).update(**spoiled)
            with pytest.raises(CommandError, match=rf"{words}.*Nothing was frozen\.$") as refused:
                call_command("make_plan", order.code)
            assert "\n" not in str(refused.value)
            order.refresh_from_db()
            assert order.is_editable
            assert not Run.objects.exists()
            transaction.set_rollback(True)
    call_command("make_plan", order.code)
    assert Run.objects.count() == 1


def make_order_of_one() -> TeamOrder:
    """A team order of one shipped jacket in size M, all in spruce."""
    pattern = install_shipped()
    blocking = Blocking.objects.get(code="breakwater")
    spruce = FabricColor.objects.get(code="spruce")
    order = TeamOrder.objects.create(
        code="ONE",
        club=Club.objects.create(name="Test club"),
        title="Jackets",
        deadline=timezone.localdate() + datetime.timedelta(days=60),
    )
    order.palette.add(spruce)
    colorway = Colorway.objects.create(
        team_order=order, name="plain", blocking=blocking, zipper_color="spruce"
    )
    for block in blocking.blocks.all():
        ColorwayBlock.objects.create(colorway=colorway, block=block, fabric_color=spruce)
    size = pattern.sizes.get(code="M")
    JacketOrder.objects.create(team_order=order, member="Ada", size=size, colorway=colorway)
    return order

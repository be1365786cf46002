"""The commands that a scanner or a printer calls."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from production.models import Jacket, StageEvent
from tests.production.run_factories import make_run

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


def test_only_some_paper(run, tmp_path):
    call_command("print_run", run.code, "--out", str(tmp_path), "--only", "tags")
    assert [file.name for file in tmp_path.iterdir()] == ["bundle-tags-R-0001.pdf"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["R-9"], "There is no run 'R-9'. Runs: R-0001"),
        (["R-0001", "--only", "tags,labels"], "--only takes tickets, tags, supplements; not 'labels'"),
        (["R-0001", "--base-url", "workroom"], "give an address such as"),
    ],
)
def test_a_bad_print_writes_nothing(run, tmp_path, arguments, words):
    with pytest.raises(CommandError, match=words):
        call_command("print_run", *arguments, "--out", str(tmp_path / "new"))
    assert not (tmp_path / "new").exists()


def test_a_folder_that_cannot_be_made_is_named(run, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(CommandError, match="Cannot write into"):
        call_command("print_run", run.code, "--out", str(tmp_path / "file" / "folder"))

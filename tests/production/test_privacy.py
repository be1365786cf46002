"""Members' data erased and handed out: after it, no name is anywhere in the database."""

from __future__ import annotations

import datetime
import json
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import call_command
from django.utils import timezone
from pypdf import PdfReader

from orders.links import give_out
from orders.models import AccessLink, Amendment, Expected, JacketOrder, Payment, TeamOrder
from orders.money_queries import account_of
from orders.money_services import PaymentFacts, note_payment
from orders.services import amend
from production.changing.changes import Cancel, change_after_freeze
from production.members.privacy import erase_deleted, erase_member, erase_order, expired, kept_until
from production.members.privacy_export import export_member
from production.models import Run, Supplement
from production.planning.standing import END, STAGES
from production.services import load_plan, load_snapshot
from production.tracking import record
from tests.production.change_factories import facts, jacket, late_member, make_frozen_run
from tests.production.run_factories import make_run, make_team_order

ROOT = Path(__file__).resolve().parent.parent.parent
NAMES = ("Wren Calder", "Zofia Łęcka", "Ana", "Pelle Uhr", "Gone Early")


def everything_stored() -> str:
    """Every column of every table, names in JSON written out."""
    rows: list[str] = []
    for model in apps.get_models(include_auto_created=True):
        names = [field.attname for field in model._meta.concrete_fields]
        for row in model._default_manager.values_list(*names):
            rows.append(json.dumps(row, default=str, ensure_ascii=False))
    return "\n".join(rows)


def found(*words: str) -> list[str]:
    stored = everything_stored().casefold()
    return [word for word in words if word.casefold() in stored]


@pytest.fixture
def order(db: None) -> TeamOrder:
    """An order in production with a name in every place that can hold one."""
    order = make_team_order(
        state=TeamOrder.State.IN_PRODUCTION,
        price=Decimal("80.00"),
        note="Zofia Łęcka fetches them",
        coordinator_email="mother@example.org",
    )
    wren, zofia = order.jacket_orders.order_by("pk")
    rename(wren, "Wren Calder", name_on_jacket="WRENNY", note="her left arm is short")
    rename(zofia, "Zofia Łęcka")
    amend(order, None, "added Ana, S, home", "Ana")
    amend(
        order, None, "member Ana to Wren Calder; note none to her left arm is short", "Wren Calder"
    )
    amend(order, None, "added Zofia Łęcka, M, home", "Zofia Łęcka")
    amend(order, None, "removed Gone Early, M, home", "Gone Early")
    Expected.objects.create(team_order=order, name="Pelle Uhr")
    for kind, line in (("coordinator", None), ("members", None), ("member", wren)):
        give_out(order, kind, line)
    note_payment(
        order,
        PaymentFacts("payment", Decimal(30), timezone.localdate(), wren, "from Wren's aunt"),
        by=None,
    )
    run = make_run(order=order)
    rewrite(run, wren)
    snapshot = {**run.snapshot, "jackets": run.snapshot["jackets"][:1]}
    plan = {"cut": {**run.plan, "jackets": run.plan["jackets"][:1]}}
    Supplement.objects.create(
        run=run, team_order=order, number=1, words="a cuff for Wren", snapshot=snapshot, plan=plan
    )
    record("TO-1-01", "done", "cut", None)
    record("TO-1-01", "send_back", "cut", None, reason="WRENNY is too short")
    return order


def rename(line: JacketOrder, member: str, **values: str) -> None:
    JacketOrder.objects.filter(pk=line.pk).update(member=member, **values)
    line.refresh_from_db()


def rewrite(run: Run, wren: JacketOrder) -> None:
    """The factory freezes no names on jackets."""
    run.snapshot["jackets"][0].update(name_on_jacket="WRENNY", note="her left arm is short")
    run.save()


def erased(order: TeamOrder) -> TeamOrder:
    erase_order(order, None)
    return TeamOrder.objects.get(pk=order.pk)


def test_before_erasing_every_name_is_found(order: TeamOrder) -> None:
    assert found(*NAMES, "WRENNY", "left arm", "aunt", "mother@") == [
        *NAMES,
        "WRENNY",
        "left arm",
        "aunt",
        "mother@",
    ]


def test_after_erasing_no_name_and_no_own_word_is_left(order: TeamOrder) -> None:
    after = erased(order)
    assert found(*NAMES, "WRENNY", "Wren", "Zofia", "left arm", "aunt", "mother@") == []
    assert after.erased_at is not None
    assert after.note == "Member 2 fetches them"


def test_sizes_colors_counts_and_sums_stay(order: TeamOrder) -> None:
    before = account_of(order)
    sizes = list(order.jacket_orders.values_list("size__code", "colorway__name"))
    erased(order)
    assert list(order.jacket_orders.values_list("member", flat=True)) == ["Member 1", "Member 2"]
    assert list(order.jacket_orders.values_list("size__code", "colorway__name")) == sizes
    assert account_of(order) == before
    assert Payment.objects.get().note == ""


def test_the_story_keeps_who_did_what_under_one_number(order: TeamOrder) -> None:
    erased(order)
    told = list(order.amendments.order_by("pk").values_list("member", "words"))
    year = timezone.localdate().year
    assert told == [
        ("Member 1", "added Member 1, S, home"),
        ("Member 1", "member changed; note changed"),
        ("Member 2", "added Member 2, M, home"),
        ("Member 3", "removed Member 3, M, home"),
        ("Member 1", f"payment of 30.00 EUR noted, receipt {year}-0001"),
        ("", "members' data erased, 2 in all"),
    ]


def test_members_links_and_the_roster_go_and_the_coordinators_link_stays(order: TeamOrder) -> None:
    erased(order)
    assert [link.kind for link in AccessLink.objects.all()] == ["coordinator"]
    assert not Expected.objects.exists()


def test_a_run_printed_again_names_members_by_number(order: TeamOrder) -> None:
    from production.documents import bundle_tags

    erased(order)
    run = Run.objects.get()
    page = BytesIO()
    bundle_tags.write(
        page, load_snapshot(run), load_plan(run), lambda code: f"http://muster/{code}"
    )
    printed = PdfReader(page).pages[0].extract_text()
    assert "Member 1" in printed
    assert "Member 2" in printed
    assert "Wren" not in printed
    assert "name on jacket" not in printed


def test_the_cut_of_a_plan_is_the_same_after_erasing(order: TeamOrder) -> None:
    before = load_plan(Run.objects.get())
    erased(order)
    after = load_plan(Run.objects.get())
    assert after.cut_tickets == before.cut_tickets
    assert [jacket.blocks for jacket in after.jackets] == [
        jacket.blocks for jacket in before.jackets
    ]


def test_erasing_twice_changes_nothing(order: TeamOrder) -> None:
    erased(order)
    before = everything_stored()
    erased(order)
    assert everything_stored() == before


def test_members_called_by_numbers_already_do_not_get_in_each_others_way(db: None) -> None:
    order = make_team_order()
    first, second = order.jacket_orders.order_by("pk")
    rename(first, "Member 2")
    rename(second, "Member 1")
    amend(order, None, "added Member 2, S, home", "Member 2")
    erased(order)
    assert [line.member for line in order.jacket_orders.order_by("pk")] == ["Member 1", "Member 2"]
    assert order.amendments.get(member="Member 1").words == "added Member 1, S, home"


def test_another_order_of_the_same_run_and_name_is_left_alone(order: TeamOrder) -> None:
    other = make_team_order("TO-2")
    rename(other.jacket_orders.all()[0], "Wren Calder")
    run = Run.objects.get()
    beside = {**run.snapshot["jackets"][0], "code": "TO-2-01", "team_order": "TO-2"}
    run.snapshot["jackets"].append(beside)
    run.save()
    erased(order)
    kept = Run.objects.get().snapshot["jackets"][-1]
    assert (kept["member"], kept["name_on_jacket"]) == ("Wren Calder", "WRENNY")
    assert other.jacket_orders.filter(member="Wren Calder").exists()


def test_one_member_is_erased_and_the_others_stay(order: TeamOrder) -> None:
    wren = order.jacket_orders.get(member="Wren Calder")
    assert erase_member(wren, None) == "Member 1"
    gone = ("Wren Calder", "Ana,", "WRENNY", "Wren", "left arm", "aunt")
    assert found(*gone, "Zofia Łęcka", "Pelle Uhr", "mother@") == [
        "Zofia Łęcka",
        "Pelle Uhr",
        "mother@",
    ]
    assert not wren.links.exists()
    assert Run.objects.get().snapshot["jackets"][1]["member"] == "Zofia Łęcka"
    told = order.amendments.latest("pk")
    assert (told.member, told.words) == ("Member 1", "member's data erased on request")
    before = everything_stored()
    erase_member(wren, None)
    assert everything_stored() == before


def test_erasing_one_leaves_the_own_words_of_the_others(order: TeamOrder) -> None:
    amend(order, None, "note none to long legs, like Wren Calder", "Zofia Łęcka")
    record("TO-1-02", "send_back", "cut", None, reason="note the cuff, it goes to the left")
    erase_member(order.jacket_orders.get(member="Wren Calder"), None)
    assert order.amendments.filter(words="note none to long legs, like Member 1").exists()
    assert found("note the cuff, it goes to the left") != []


def test_why_a_jacket_was_cancelled_is_erased_with_its_member(db: None) -> None:
    run = make_frozen_run()
    for number, why in ((1, "broke an arm, says Quill"), (2, "moves to her aunt")):
        change_after_freeze(jacket(number), Cancel(why), None)
    order = TeamOrder.objects.get()
    erase_member(jacket(1).jacket_order, None)
    assert found("broke an arm", "Quill", "moves to her aunt") == ["moves to her aunt"]
    words = "after the freeze: Member 1 cancelled, supplement 1"
    assert order.amendments.filter(member="Member 1", words=words).exists()
    assert run.supplements.get(number=1).words == "TO-1-01: cancelled"
    erase_order(order, None)
    assert found("moves to her aunt") == []


def test_a_change_asked_for_before_erasing_brings_no_name_back(db: None) -> None:
    make_frozen_run()
    line = jacket(1).jacket_order
    asked = replace(facts(line, size="M"), note="left arm")
    erase_member(line, None)
    change_after_freeze(jacket(1), asked, None)
    assert found("Member 01", "left arm") == []
    assert jacket(1).size == "M"


def test_a_late_member_of_an_erased_order_is_erased_too(db: None) -> None:
    make_frozen_run()
    order = erased(TeamOrder.objects.get())
    change_after_freeze(order, late_member(order, "Late Lomax"), None)
    for code in order.jacket_orders.values_list("jacket__code", flat=True):
        for stage in STAGES:
            record(code, "done", stage, None)
    order.refresh_from_db()
    due = kept_until(order)
    assert due is not None
    assert expired(due - datetime.timedelta(days=1)) == []
    assert expired(due) == [order]
    erase_order(order, None)
    assert found("Lomax") == []
    assert expired(due) == []
    told = order.amendments.filter(words__startswith="members' data erased")
    assert [row.words for row in told.order_by("pk")] == [
        "members' data erased, 3 in all",
        "members' data erased, 4 in all",
    ]


def test_a_member_whose_name_begins_anothers_is_erased_alone(db: None) -> None:
    order = make_team_order()
    first, second = order.jacket_orders.order_by("pk")
    rename(first, "Ada")
    rename(second, "Ada Moss")
    amend(order, None, "added Ada, S, home", "Ada")
    amend(order, None, "added Ada Moss, M, home", "Ada Moss")
    erase_member(first, None)
    words = list(order.amendments.order_by("pk").values_list("words", flat=True))
    assert words[:2] == ["added Member 1, S, home", "added Ada Moss, M, home"]


def test_a_number_that_someone_is_called_is_not_given_again(db: None) -> None:
    order = make_team_order()
    first, second = order.jacket_orders.order_by("pk")
    rename(second, "member 1")
    assert erase_member(first, None) == "Member 3"
    assert erased(order).jacket_orders.filter(member="Member 1").get() == first


def test_what_is_known_of_a_member_is_handed_out(order: TeamOrder) -> None:
    wren = order.jacket_orders.get(member="Wren Calder")
    known = json.loads(json.dumps(export_member(wren), ensure_ascii=False))
    assert (known["member"], known["former_names"]) == ("Wren Calder", ["Ana"])
    assert (known["name_on_jacket"], known["note"]) == ("WRENNY", "her left arm is short")
    money = known["money"]
    assert (money["price"], money["paid"], money["open"]) == ("80.00", "30.00", "50.00")
    assert [payment["note"] for payment in money["payments"]] == ["from Wren's aunt"]
    assert len(known["changes"]) == 3
    assert known["jacket"]["frozen_as"]["name_on_jacket"] == "WRENNY"
    assert known["jacket"]["to_mend"] == "WRENNY is too short"
    assert len(known["secret_links"]) == 1
    text = json.dumps(known)
    assert "Zofia" not in text
    assert AccessLink.objects.get(jacket_order=wren).nonce not in text


def hand_over(order: TeamOrder, at: datetime.datetime) -> None:
    for code in order.jacket_orders.values_list("jacket__code", flat=True):
        while (stage := JacketOrder.objects.get(jacket__code=code).jacket.stage) != END:
            assert stage in STAGES
            record(code, "done", stage, None, at=at)


def test_the_days_count_from_the_hand_over_and_begin_anew_after_an_undo(order: TeamOrder) -> None:
    at = datetime.datetime(2026, 11, 20, 9, tzinfo=datetime.UTC)
    assert kept_until(order) is None
    hand_over(order, at)
    order.refresh_from_db()
    assert order.handed_over_on == datetime.date(2026, 11, 20)
    assert kept_until(order) == datetime.date(2027, 2, 18)
    record("TO-1-01", "undo", "hand_over", None)
    order.refresh_from_db()
    assert kept_until(order) is None


@pytest.fixture
def ended(order: TeamOrder) -> TeamOrder:
    order.state = TeamOrder.State.HANDED_OVER
    order.handed_over_on = timezone.localdate() - datetime.timedelta(days=90)
    order.save()
    return order


def test_an_order_is_due_on_its_last_day_and_not_before(ended: TeamOrder) -> None:
    today = timezone.localdate()
    assert expired(today - datetime.timedelta(days=1)) == []
    assert expired(today) == [ended]
    erase_order(ended, None)
    assert expired(today) == []


def test_a_cancelled_order_is_due_after_its_last_change(order: TeamOrder) -> None:
    order.state = TeamOrder.State.CANCELLED
    order.save()
    last = timezone.now() - datetime.timedelta(days=90)
    order.amendments.update(at=last)
    assert kept_until(order) == timezone.localdate()
    assert expired(timezone.localdate()) == [order]


def command(*arguments: str) -> str:
    said = StringIO()
    call_command("erase_expired", *arguments, stdout=said)
    return said.getvalue()


def test_the_command_says_what_is_due_and_erases_it_once(ended: TeamOrder) -> None:
    assert command("--dry-run") == "TO-1: members' data would be erased\n"
    assert found("Wren Calder")
    told = json.loads(command("--format", "json"))
    assert told == {"dry_run": False, "orders": ["TO-1"], "deleted_orders": []}
    assert not found("Wren Calder")
    assert command() == "No member's data is due to be erased.\n"


def test_the_story_of_a_long_deleted_order_loses_its_names(db: None) -> None:
    Amendment.objects.create(deleted_order="OLD-1", member="Wren Calder", words="added Wren Calder")
    Amendment.objects.create(deleted_order="OLD-1", words="deleted jackets of Club with 1 jacket")
    assert "No member's data" in command()
    Amendment.objects.update(at=timezone.now() - datetime.timedelta(days=90))
    assert command() == "OLD-1 (deleted): members' names erased\n"
    assert not found("Wren")
    assert Amendment.objects.filter(words="added Member 1", member="Member 1").exists()
    before = everything_stored()
    erase_deleted("OLD-1")
    assert everything_stored() == before
    assert "No member's data" in command()


PROGRAM = """
import datetime, json, pathlib, sys
import django
django.setup()
from django.core.management import call_command
from django.utils import timezone
call_command("migrate", verbosity=0)
from orders.models import TeamOrder
from orders.services import amend
from tests.production.run_factories import make_run, make_team_order

def content():
    files = pathlib.Path(sys.argv[1]).glob("muster.sqlite3*")
    return b"".join(path.read_bytes() for path in files)

order = make_team_order(jackets=60)
for line in order.jacket_orders.all():
    line.member = f"Wren Calder the {line.pk}th"
    line.save()
    amend(order, None, f"added {line.member}, S, home", line.member)
order.state, order.handed_over_on = "handed_over", timezone.localdate() - datetime.timedelta(90)
order.save()
make_run(order=order)
assert b"Wren Calder" in content()
call_command("erase_expired")
assert b"Member 60" in content()
assert b"Wren Calder" not in content()
"""


def test_the_database_file_itself_holds_no_erased_name(tmp_path: Path) -> None:
    """Read as bytes while the site still runs: a row that is only forgotten would still be there,
    in a free page or in the write-ahead log."""
    environment = {
        "DJANGO_SETTINGS_MODULE": "orders.site.settings",
        "JACKET_MUSTER_DATA": str(tmp_path),
        "PATH": "/usr/bin:/bin",
    }
    arguments = [sys.executable, "-c", PROGRAM, str(tmp_path)]
    subprocess.run(arguments, cwd=ROOT, env=environment, check=True)

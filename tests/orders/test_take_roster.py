"""The command take_roster: counts, one clear line, and nothing stored when a row is bad."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from orders.models import JacketOrder, TeamOrder
from tests.factories import make_colorway, make_team_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def order() -> TeamOrder:
    order = make_team_order("TQ-99A")
    make_colorway(order)
    return order


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "crew.csv"
    path.write_text("member,size,colorway\nWren,M,Harbor\nPip,L,Harbor\n")
    return path


def take(*arguments: object) -> str:
    out = StringIO()
    call_command("take_roster", *map(str, arguments), stdout=out)
    return out.getvalue()


def test_a_roster_is_taken_and_counted(order: TeamOrder, file: Path) -> None:
    assert take("TQ-99A", file) == "TQ-99A: 2 jackets added.\n"
    assert order.jacket_orders.count() == 2


def test_a_dry_run_says_so_and_stores_nothing(order: TeamOrder, file: Path) -> None:
    assert "2 jackets would be added (dry run, nothing stored)" in take("TQ-99A", file, "--dry-run")
    assert not JacketOrder.objects.exists()


def test_bad_rows_follow_one_clear_line(order: TeamOrder, file: Path) -> None:
    file.write_text("member,size,colorway\nWren,M,Harbor\nPip,Q,Harbor\n")
    with pytest.raises(CommandError) as caught:
        take("TQ-99A", file)
    first, second = str(caught.value).splitlines()
    assert first == "1 of 2 rows cannot be taken; nothing was stored."
    assert second == 'Row 3, size: found "Q"; accepted: S, M, L, 8.'
    assert not JacketOrder.objects.exists()


def test_an_unknown_order_lists_the_known_ones(order: TeamOrder, file: Path) -> None:
    with pytest.raises(CommandError, match=r"no team order NOPE\. Team orders: TQ-99A\."):
        take("NOPE", file)


def test_a_missing_file_is_named(order: TeamOrder, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match=r"none\.csv cannot be read: No such file"):
        take("TQ-99A", tmp_path / "none.csv")


def test_a_frozen_order_takes_no_roster(order: TeamOrder, file: Path) -> None:
    TeamOrder.objects.update(state=TeamOrder.State.IN_PRODUCTION)
    with pytest.raises(CommandError, match="needs a supplement"):
        take("TQ-99A", file)


def test_the_same_file_twice_changes_nothing_and_says_so(order: TeamOrder, file: Path) -> None:
    take("TQ-99A", file)
    assert take("TQ-99A", file) == "TQ-99A: 2 unchanged.\n"
    assert order.jacket_orders.count() == 2


def test_a_row_that_differs_is_refused_with_old_and_new(order: TeamOrder, file: Path) -> None:
    take("TQ-99A", file)
    file.write_text("member,size,colorway\nWren,L,Harbor\nOdile,M,Harbor\n")
    with pytest.raises(CommandError) as caught:
        take("TQ-99A", file)
    first, second = str(caught.value).splitlines()
    assert first.startswith("1 of 2 rows differ")
    assert second == "Row 2, size: would change size M to L."
    assert order.jacket_orders.count() == 2


def test_a_row_that_differs_is_changed_where_asked_for(order: TeamOrder, file: Path) -> None:
    take("TQ-99A", file)
    file.write_text("member,size,colorway\nWren,L,Harbor\nPip,L,Harbor\n")
    assert take("TQ-99A", file, "--change") == "TQ-99A: 1 jacket changed, 1 unchanged.\n"
    assert order.jacket_orders.get(member="Wren").size.code == "L"


def test_names_alone_are_expected(order: TeamOrder, file: Path) -> None:
    file.write_text("member\nWren\nPip\n")
    assert take("TQ-99A", file) == "TQ-99A: 2 names expected.\n"
    assert order.expected.count() == 2 and not order.jacket_orders.exists()

"""Rosters as files: what goes out comes back in as it was; the sheet to fill in has its lists."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from openpyxl import load_workbook

from orders.lines import one_line
from orders.models import Amendment, BlockChoice, JacketOrder, TeamOrder
from orders.roster import Accepted, Kind, judge
from orders.roster_file import read_pasted, read_table
from orders.roster_out import as_csv, as_rows, as_xlsx, template_xlsx
from orders.roster_queries import accepted_by
from orders.roster_store import take_roster
from patterns.models import Block, Fabric, FabricColor
from tests.factories import (
    make_blocking,
    make_colorway,
    make_fabric_color,
    make_jacket_order,
    make_team_order,
)

pytestmark = pytest.mark.django_db
WRITERS = [("r.csv", as_csv), ("r.xlsx", as_xlsx)]


def color(code: str, name: str) -> FabricColor:
    """A color of another fabric, whose name may be there already."""
    made = make_fabric_color(code)
    fields = {field.name: getattr(made.fabric, field.name) for field in Fabric._meta.fields}
    made.fabric = Fabric.objects.create(**fields | {"id": None, "code": f"F-{code}"})
    made.name = name
    made.save()
    return made


@pytest.fixture
def order() -> TeamOrder:
    """Jackets with all that makes a round trip hard."""
    order = make_team_order("TQ-99A", palette=("spruce", "oat"))
    order.palette.add(color("oat-2", "oat"))
    harbor = make_colorway(order, "Harbor")
    dawn = make_colorway(order, "=Dawn; or, dusk", blocking=make_blocking("One", blocks=("WH",)))
    make_jacket_order(order, "=SUM(A1)", size="8", colorway=harbor, own={"YK": "oat"}, note="+1")
    make_jacket_order(order, "'-Ada", colorway=dawn, name_on_jacket='"A, D; A"')
    make_jacket_order(order, "Zoe\u0308  Roe", colorway=harbor, name_on_jacket="007")
    make_jacket_order(order, "山田 太郎", colorway=harbor, own={"BD": "oat", "YK": "oat-2"})
    return order


@pytest.mark.parametrize(("name", "write"), WRITERS)
def test_what_goes_out_comes_in_and_changes_nothing(
    order: TeamOrder, name: str, write: Any
) -> None:
    content = write(as_rows(accepted_by(order)))
    table = read_table(BytesIO(content), name)
    before = list(JacketOrder.objects.values()), list(BlockChoice.objects.values())
    taken = take_roster(order, table, name, by=None)
    assert taken.words() == "4 unchanged"
    assert (list(JacketOrder.objects.values()), list(BlockChoice.objects.values())) == before
    assert not Amendment.objects.exists()


@pytest.mark.parametrize(("name", "write"), WRITERS)
def test_what_goes_out_makes_the_same_jackets_in_another_order(
    order: TeamOrder, name: str, write: Any
) -> None:
    content = write(as_rows(accepted_by(order)))
    other = make_team_order("TQ-99B", palette=("spruce", "oat"))
    other.palette.add(make_fabric_color("oat-2"))
    for colorway in order.colorways.all():
        make_colorway(other, colorway.name, blocking=colorway.blocking)
    take_roster(other, read_table(BytesIO(content), name), name, by=None)
    assert as_rows(accepted_by(other)) == [
        [one_line(cell) for cell in row] for row in as_rows(accepted_by(order))
    ]


def test_no_cell_that_goes_out_is_a_formula(order: TeamOrder) -> None:
    rows = as_rows(accepted_by(order))
    assert not [cell for row in rows for cell in row if cell.startswith(("=", "+", "-", "@"))]
    sheet = load_workbook(BytesIO(as_xlsx(rows))).worksheets[0]
    assert {cell.data_type for row in sheet.iter_rows() for cell in row if cell.value} == {"s"}


def test_a_block_has_a_column_when_a_jacket_has_its_own_color_there(order: TeamOrder) -> None:
    header = as_rows(accepted_by(order))[0]
    assert header == [
        *("member", "size", "colorway", "name_on_jacket", "note", "block:YK", "block:BD")
    ]


def template(accepted: Accepted, *names: str) -> Any:
    return load_workbook(BytesIO(template_xlsx(accepted, names, "=TQ-99A")))


def test_the_sheet_to_fill_in_has_lists_for_200_rows(order: TeamOrder) -> None:
    book = template(accepted_by(order))
    assert book.sheetnames == ["Roster", "Lists", "How to fill it in"]
    lists = {str(one.sqref): one.formula1 for one in book["Roster"].data_validations.dataValidation}
    assert lists == {
        "B2:B201": "Lists!$A$1:$A$4",
        "C2:C201": "Lists!$B$1:$B$2",
        **{f"{column}2:{column}201": "Lists!$C$1:$C$3" for column in "FGH"},
    }
    cells = [[cell.value for cell in row] for row in book["Lists"].iter_rows(max_row=4)]
    # Two colors are called oat, so both go by their codes.
    assert cells == [
        ["S", "'=Dawn; or, dusk", "oat"],
        ["M", "Harbor", "oat-2"],
        ["L", None, "spruce"],
        ["8", None, None],
    ]


def test_for_the_club_the_sheet_has_the_free_blocks_alone(order: TeamOrder) -> None:
    order.free_blocks.set(order.colorways.get(name="Harbor").blocking.blocks.filter(code="YK"))
    sheet = template(accepted_by(order, from_club=True))["Roster"]
    assert [cell.value for cell in sheet[1]][5:] == ["block:YK"]


def test_the_club_s_sheet_reads_back_where_two_blockings_share_a_free_block(
    order: TeamOrder,
) -> None:
    make_colorway(order, "Noon", blocking=make_blocking("Two", blocks=("YK", "TP")))
    order.free_blocks.set(Block.objects.filter(code="YK"))
    accepted = accepted_by(order, from_club=True)
    content = template_xlsx(accepted, ["Pip"], "title")
    verdicts = judge(read_table(BytesIO(content), "t.xlsx"), accepted)
    assert [(one.kind, one.row.member) for one in verdicts] == [(Kind.EXPECTED, "Pip")]


def test_the_sheet_comes_with_the_names_that_are_missing_and_reads_back(order: TeamOrder) -> None:
    content = template_xlsx(accepted_by(order), ["=Pip", "Odile"], "title")
    book = load_workbook(BytesIO(content))
    sheet = book.worksheets[0]
    sheet["B2"], sheet["C2"], sheet["G2"] = "8", "Harbor", "oat-2"
    out = BytesIO()
    book.save(out)
    out.seek(0)
    verdicts = judge(read_table(out, "t.xlsx"), accepted_by(order))
    assert [(one.kind, one.row.member) for one in verdicts] == [
        (Kind.NEW, "=Pip"),
        (Kind.EXPECTED, "Odile"),
    ]
    assert verdicts[0].row.choices == (("YK", "oat-2"),)


def test_an_order_without_colorways_has_a_sheet_too() -> None:
    order = make_team_order()
    sheet = template(accepted_by(order))["Roster"]
    assert [cell.value for cell in sheet[1]][:3] == ["member", "size", "colorway"]


def test_a_color_named_like_another_s_code_goes_by_its_own_code() -> None:
    order = make_team_order(palette=("spruce",))
    order.palette.add(color("moss", "Spruce"))
    make_jacket_order(order, "Wren", own={"YK": "moss"})
    rows = as_rows(accepted_by(order))
    assert rows[1][-1] == "moss"
    table = read_pasted("\n".join("\t".join(row) for row in rows))
    assert judge(table, accepted_by(order))[0].kind is Kind.UNCHANGED

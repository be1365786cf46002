"""The maker's roster pages: columns named, rows judged and shown, then stored as shown."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from orders.models import JacketOrder, TeamOrder
from tests.factories import make_jacket_order, make_team_order

PAGE = "/orders/TQ-1/roster/"


@pytest.fixture
def order(maker: Client) -> TeamOrder:
    order = make_team_order("TQ-1")
    make_jacket_order(order, "Wren", size="M")
    return order


def words(response: Any) -> str:
    return str(response.content.decode())


def paste(maker: Client, text: str) -> Any:
    return maker.post(PAGE, {"pasted": text})


def store(maker: Client, checked: Any, **more: str) -> Any:
    names = {"rows": "rows", "name": "name", "shown": "fingerprint"}
    sent = {name: checked.context[key] for name, key in names.items()}
    return maker.post(PAGE, sent | more, follow=True)


def sizes() -> dict[str, str]:
    return dict(JacketOrder.objects.values_list("member", "size__code"))


def test_a_row_that_differs_shows_old_and_new_before_anything_is_stored(
    maker: Client, order: TeamOrder
) -> None:
    checked = paste(maker, "member,size,colorway\nWren,L,Harbor\nPip,S,Harbor\n")
    shown = words(checked)
    assert "size: M → L" in shown and "1 differs, 1 new" in shown
    assert "Also change 1 jacket<" in shown
    assert sizes() == {"Wren": "M"}


def test_a_jacket_is_changed_only_where_that_is_checked(maker: Client, order: TeamOrder) -> None:
    checked = paste(maker, "member,size,colorway\nWren,L,Harbor\nPip,S,Harbor\n")
    store(maker, checked)
    assert sizes() == {"Wren": "M", "Pip": "S"}
    checked = paste(maker, "member,size,colorway\nWren,L,Harbor\nPip,S,Harbor\n")
    told = words(store(maker, checked, change="1"))
    assert "1 jacket changed, 1 unchanged" in told
    assert sizes() == {"Wren": "L", "Pip": "S"}


def test_a_roster_that_changes_nothing_offers_nothing_to_store(
    maker: Client, order: TeamOrder
) -> None:
    shown = words(paste(maker, "member,size,colorway\nWren,M,Harbor\n"))
    assert "Nothing to do:" in shown and 'name="rows"' not in shown


def test_an_order_changed_since_the_check_is_not_written_over(
    maker: Client, order: TeamOrder
) -> None:
    checked = paste(maker, "member,size,colorway\nWren,L,Harbor\n")
    size = order.colorways.get().blocking.pattern.sizes.get(code="S")
    JacketOrder.objects.update(size=size)
    answer = store(maker, checked, change="1")
    assert "changed since these rows were checked" in words(answer) and sizes() == {"Wren": "S"}
    assert "size: S → L" in words(answer), "judged anew, so that the rows need not be chosen again"
    store(maker, answer, change="1")
    assert sizes() == {"Wren": "L"}


def test_bad_pasted_rows_stay_to_be_mended(maker: Client, order: TeamOrder) -> None:
    shown = words(paste(maker, "member,size,colorway\nPip,Q,Harbor\n"))
    assert "1 of 1 rows cannot be taken" in shown and "\nPip,Q,Harbor" in shown


def test_columns_are_guessed_and_shown_with_examples(maker: Client, order: TeamOrder) -> None:
    checked = paste(maker, "Player;Fit;Colour;Shoe\nPip;S;Harbor;41\nOdile;M;Harbor;42\n")
    columns = checked.context["columns"]
    assert columns.columns() == ["member", "size", "colorway", ""]
    assert "such as 41, 42" in words(checked)
    assert checked.context["new"] == 2
    store(maker, checked)
    assert sizes() == {"Wren": "M", "Pip": "S", "Odile": "M"}


def test_columns_are_named_by_hand(maker: Client, order: TeamOrder) -> None:
    asked = paste(maker, "Wer,Wie gross,Welche\nPip,S,Harbor\n")
    assert "column member is missing" in words(asked)
    sent = {"table": asked.context["table"], "name": "x"}
    named = {"column_0": "member", "column_1": "size", "column_2": "colorway"}
    checked = maker.post(PAGE, sent | named)
    assert checked.context["new"] == 1
    assert 'value="size" selected' in words(checked)
    twice = maker.post(PAGE, sent | named | {"column_2": "size"})
    assert "column size is there 2 times" in words(twice)
    nonsense = maker.post(PAGE, sent | named | {"column_2": "=x"})
    assert nonsense.status_code == 200 and "rows" not in nonsense.context


def test_cells_without_a_row_of_names_can_be_taken(maker: Client, order: TeamOrder) -> None:
    asked = paste(maker, "Pip\tS\tHarbor\nOdile\tM\tHarbor\n")
    sent = {"table": asked.context["table"], "name": "x", "first_row_counts": "on"}
    named = {"column_0": "member", "column_1": "size", "column_2": "colorway"}
    checked = maker.post(PAGE, sent | named)
    store(maker, checked)
    assert sizes() == {"Wren": "M", "Pip": "S", "Odile": "M"}


@pytest.mark.parametrize("table", ["{", "[]", '{"header":["a"],"rows":[{"number":1,"cells":[]}]}'])
def test_a_table_that_was_tampered_with_is_told(
    maker: Client, order: TeamOrder, table: str
) -> None:
    told = words(maker.post(PAGE, {"table": table, "name": "x"}, follow=True))
    assert "lost on the way" in told


def test_a_file_and_pasted_cells_at_once_are_refused(maker: Client, order: TeamOrder) -> None:
    file = SimpleUploadedFile("r.csv", b"member\nPip\n")
    shown = maker.post(PAGE, {"file": file, "pasted": "member\nOdile"})
    assert shown.context["form"].errors["pasted"] == ["Choose a file or paste cells, not both."]


def test_bad_pasted_text_is_told_by_its_field_and_stays(maker: Client, order: TeamOrder) -> None:
    shown = paste(maker, "member,size,colorway\nPip,S,Harbor,more\n")
    assert "has more cells" in shown.context["form"].errors["pasted"][0]
    assert "Pip,S,Harbor,more" in words(shown)


@pytest.mark.parametrize("file", ["jackets.csv", "jackets.xlsx", "template.xlsx"])
def test_roster_files_are_the_maker_s(maker: Client, helper: Client, file: str) -> None:
    make_jacket_order(make_team_order("TQ-1"), "Wren")
    address = reverse("orders:roster_file", args=["TQ-1", file])
    saved = maker.get(address)
    assert saved.status_code == 200 and f"TQ-1-{file}" in saved["Content-Disposition"]
    assert address in words(maker.get(PAGE))
    assert helper.get(address).status_code == 403
    assert maker.get(reverse("orders:roster_file", args=["TQ-1", "x.xlsx"])).status_code == 404


def test_a_frozen_order_still_gives_its_roster_out(maker: Client, order: TeamOrder) -> None:
    TeamOrder.objects.update(state=TeamOrder.State.IN_PRODUCTION)
    saved = maker.get(reverse("orders:roster_file", args=["TQ-1", "jackets.csv"]))
    assert "Wren,M,Harbor" in saved.content.decode("utf-8-sig")

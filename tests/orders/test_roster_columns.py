"""Columns under other names: guessed by synonym and near match, mended by a person."""

from __future__ import annotations

import pytest

from orders.errors import RosterError
from orders.roster_columns import columns_of, guessed, renamed
from orders.roster_file import Row, Table


def columns(*header: str) -> list[str]:
    return [guess.column for guess in guessed(header, ["CO", "YK"])]


@pytest.mark.parametrize(
    ("title", "column"),
    [
        ("Name", "member"),
        ("Player", "member"),
        ("ROWER", "member"),
        ("Full_Name", "member"),
        ("Jacket size", "size"),
        ("jacket-size:", "size"),
        ("Colour", "colorway"),
        ("colour_way", "colorway"),
        ("Colorwy", "colorway"),
        ("Name on back", "name_on_jacket"),
        ("Remarks", "note"),
        ("First name", "first name"),
        ("Surname", "last name"),
        ("CO", "block:CO"),
        ("block YK", "block:YK"),
        ("Shoe", ""),
        ("", ""),
    ],
)
def test_a_column_is_guessed(title: str, column: str) -> None:
    assert columns(title) == [column]


def test_nothing_is_guessed_twice_and_the_roster_s_own_names_come_first() -> None:
    assert columns("Name", "member", "Player") == ["", "member", ""]
    assert columns("Player", "Name") == ["member", ""]


def test_only_the_roster_s_own_names_are_sure() -> None:
    assert [guess.sure for guess in guessed(["Member", "size ", "Block: yk", "Name"], ["YK"])] == [
        *(True, True, True, False)
    ]


TABLE = Table(("Given", "Family", "Fit", "Shoe"), (Row(2, ("Wren", "Calder", "M", "41")),))


def test_chosen_columns_are_renamed_joined_or_left_out() -> None:
    named = renamed(TABLE, ["first name", "last name", "size", ""])
    assert named == Table(("member", "size"), (Row(2, ("Wren Calder", "M")),))


def test_the_first_row_may_be_a_member() -> None:
    table = Table(("Wren", "M"), (Row(2, ("Pip", "S")),))
    named = renamed(table, ["member", "size"], first_row_counts=True)
    assert [(row.number, row.cells) for row in named.rows] == [
        (1, ("Wren", "M")),
        (2, ("Pip", "S")),
    ]


def test_rows_that_are_blank_without_the_columns_left_out_are_no_rows() -> None:
    table = Table(("Name", "Shoe"), (Row(2, ("Wren", "41")), Row(3, ("", "42"))))
    assert [row.number for row in renamed(table, ["member", ""]).rows] == [2]


def test_a_column_chosen_twice_is_told() -> None:
    with pytest.raises(RosterError, match="column member is there 2 times"):
        columns_of(renamed(TABLE, ["member", "member", "", ""]).header, [])


def test_a_size_without_a_colorway_is_told() -> None:
    with pytest.raises(RosterError, match="column colorway is missing"):
        columns_of(("member", "size"), [])

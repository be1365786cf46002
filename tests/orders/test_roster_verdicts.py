"""What each row of a roster would do: add, change, expect or nothing; and in whose hands."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from typing import Any

import pytest

from orders.errors import RosterError
from orders.roster import (
    Accepted,
    AcceptedColorway,
    Kind,
    RosterRow,
    Verdict,
    fingerprint,
    judge,
)
from orders.roster_file import read_pasted, read_table
from orders.roster_guard import guarded, unguarded

EDDA = RosterRow(0, "Edda Lund", "M", "Harbor", "EDDA", "long arms", (("YK", "oat-1"),))
ZOE = RosterRow(0, "Zoe\u0308  Roe", "S", "Dawn")
KNOWN: dict[str, Any] = {
    "colorways": (
        AcceptedColorway(
            "Harbor", ("S", "M", "98"), ("YK", "BD"), (("YK", "spruce-1"), ("BD", "spruce-1"))
        ),
        AcceptedColorway("Dawn", ("S", "M", "98"), ("FR", "BD"), (("FR", "oat-1"),)),
    ),
    "colors": (("spruce-1", "spruce"), ("oat-1", "oat")),
    "jackets": (EDDA, ZOE),
    "expected": ("Pip Marsh",),
}
HEADER = "member,size,colorway,name_on_jacket,note,block:YK,block:FR\n"


def verdict(row: str, header: str = HEADER, **overrides: Any) -> Verdict:
    table = read_table(BytesIO(f"{header}{row}\n".encode()), "r.csv")
    return judge(table, Accepted(**KNOWN | overrides))[0]


def problem(row: str, header: str = HEADER, **overrides: Any) -> str:
    found = verdict(row, header, **overrides)
    assert found.kind is Kind.BAD
    return str(found.problems[0])


def changes(row: str, header: str = HEADER) -> list[str]:
    return list(map(str, verdict(row, header).changes))


def test_a_row_of_its_own_is_new() -> None:
    found = verdict("Wren,M,Harbor,,,,")
    assert (found.kind, found.stored) == (Kind.NEW, None)


def test_a_row_just_as_stored_is_unchanged() -> None:
    assert verdict("Edda Lund,m,harbor,EDDA,long arms,OAT,").kind is Kind.UNCHANGED


def test_a_row_that_differs_shows_old_and_new() -> None:
    found = verdict("Edda Lund,S,Harbor,,short arms,,")
    assert (found.kind, found.stored) == (Kind.DIFFERS, EDDA)
    assert list(map(str, found.changes)) == [
        "size M to S",
        "name on jacket EDDA to none",
        "note long arms to short arms",
        "YK oat to as colorway",
    ]


def test_a_column_that_the_file_has_not_changes_nothing() -> None:
    assert changes("Edda Lund,S,Harbor", "member,size,colorway\n") == ["size M to S"]
    assert verdict("Edda Lund,M,Harbor", "member,size,colorway\n").kind is Kind.UNCHANGED


def test_a_color_of_the_colorway_itself_is_no_choice_of_ones_own() -> None:
    assert verdict("Wren,M,Harbor,,,spruce,").row.choices == ()


def test_another_color_of_the_same_name_is_a_change() -> None:
    twins = (*KNOWN["colors"], ("oat-2", "oat"))
    found = verdict("Edda Lund,M,Harbor,EDDA,long arms,oat-2,", colors=twins)
    assert list(map(str, found.changes)) == ["YK oat-1 to oat-2"]


def test_own_colors_of_blocks_that_another_colorway_lacks_fall_away() -> None:
    row = verdict("Edda Lund,M,Dawn", "member,size,colorway\n").row
    assert row.choices == ()


def test_a_member_is_known_in_any_case_and_the_case_is_a_change() -> None:
    assert changes("EDDA LUND,M,Harbor,EDDA,long arms,oat,") == ["member Edda Lund to EDDA LUND"]


def test_accents_and_blanks_written_otherwise_are_no_change() -> None:
    found = verdict("Zoë Roe,S,Dawn,,,,")
    assert (found.kind, found.row.member) == (Kind.UNCHANGED, ZOE.member)


def test_two_spellings_of_one_stored_member_are_one_member_twice() -> None:
    table = read_pasted("member,size,colorway\nZoë Roe,S,Dawn\nZOË  ROE,M,Dawn\n")
    second = judge(table, Accepted(**KNOWN))[1]
    assert "is in row 2 already; a member has one row" in str(second.problems[0])


@pytest.mark.parametrize("header", ["member\n", HEADER])
def test_a_name_alone_is_expected(header: str) -> None:
    row = "Wren" + "," * header.count(",")
    assert verdict(row, header).kind is Kind.EXPECTED


@pytest.mark.parametrize("name", ["PIP  MARSH", "Edda Lund"])
def test_a_name_that_is_expected_or_has_chosen_changes_nothing(name: str) -> None:
    assert verdict(name, "member\n").kind is Kind.UNCHANGED


def test_a_name_with_a_note_has_a_size_missing() -> None:
    assert "size: is empty" in str(verdict("Wren,,,,tall,,").problems[-1])


def test_names_need_no_colorway_yet() -> None:
    assert verdict("Wren", "member\n", colorways=()).kind is Kind.EXPECTED


def test_columns_without_rows_are_no_roster() -> None:
    with pytest.raises(RosterError, match="no row with a member"):
        read_table(BytesIO(b"member\n\n"), "r.csv")


@pytest.mark.parametrize("size", ['"98,0"', "98.0", "98,00", "98"])
def test_a_size_of_digits_may_come_with_zeros(size: str) -> None:
    assert verdict(f"Wren,{size},Harbor,,,,").row.size == "98"


@pytest.mark.parametrize("size", ['"98,5"', "9.8", "98.", "98.0.0"])
def test_other_numbers_are_no_size(size: str) -> None:
    assert "accepted: S, M, 98" in problem(f"Wren,{size},Harbor,,,,")


@pytest.mark.parametrize("name", ["山田 太郎", "Ольга Нет", "إدا لوند", "Ngũgĩ", "D’Arcy"])
def test_names_of_any_script_are_taken(name: str) -> None:
    assert verdict(f"{name},M,Harbor,,,,").row.member == name


@pytest.mark.parametrize("text", ["=1+1", "@x", "-", "+1", "'=1", "''-1", "plain", "O'Neil", "'s"])
def test_guarded_text_comes_back_as_it_was(text: str) -> None:
    cell = guarded(text)
    assert not cell.startswith(("=", "+", "-", "@"))
    assert unguarded(cell) == text


def test_a_guarded_cell_is_the_text_behind_its_apostrophe() -> None:
    assert verdict("Wren,M,Harbor,'=W=,,,").row.name_on_jacket == "=W="
    assert "reads as a formula" in problem("Wren,M,Harbor,=W=,,,")


def test_the_club_keeps_to_what_members_may_choose() -> None:
    bound: dict[str, Any] = {"names_allowed": False, "colorways": with_free("FR")}
    assert "name_on_jacket: names are not put" in problem("Wren,M,Harbor,WREN,,,", **bound)
    assert "block:YK: the color of this block is not for members" in problem(
        "Wren,M,Harbor,,,oat,", **bound
    )
    assert verdict("Wren,M,Dawn,,,,spruce", **bound).kind is Kind.NEW


def test_a_block_is_free_in_its_own_colorway_only() -> None:
    harbor, dawn = with_free()
    bound: dict[str, Any] = {"colorways": (replace(harbor, free=("BD",)), dawn)}
    header = "member,size,colorway,block:BD\n"
    assert verdict("Wren,M,Harbor,oat", header, **bound).kind is Kind.NEW
    assert "not for members to choose; free are: none" in problem(
        "Wren,M,Dawn,oat", header, **bound
    )


def with_free(*blocks: str) -> tuple[AcceptedColorway, ...]:
    return tuple(replace(one, free=blocks) for one in KNOWN["colorways"])


@pytest.mark.parametrize("name", ["Zoe\u0301 Roe", "Zo\u00e9\u00a0Roe", "\u202aZo\u00e9 Roe\u202c"])
def test_unseen_signs_and_blanks_make_no_other_member(name: str) -> None:
    table = read_pasted(f"member,size,colorway\nZo\u00e9 Roe,M,Harbor\n{name},M,Harbor\n")
    first, second = judge(table, Accepted(**KNOWN))
    assert (first.row.member, first.kind) == ("Zo\u00e9 Roe", Kind.NEW)
    assert "is in row 2 already" in str(second.problems[0])


def test_what_the_maker_stored_beyond_it_may_stay() -> None:
    kept = verdict(
        "Edda Lund,M,Harbor,EDDA,long arms,oat,", names_allowed=False, colorways=with_free()
    )
    assert kept.kind is Kind.UNCHANGED


def test_a_fingerprint_tells_verdicts_apart() -> None:
    same, other = "Edda Lund,M,Harbor,EDDA,long arms,oat,", "Edda Lund,S,Harbor,EDDA,long arms,oat,"
    prints = [fingerprint([verdict(row)]) for row in (same, other, same)]
    assert prints[0] == prints[2] != prints[1]


@pytest.mark.parametrize("separator", ["\t", ";", ","])
def test_pasted_cells_are_a_roster(separator: str) -> None:
    text = "member,size,colorway\r\nWren Calder,M,Harbor\r\n".replace(",", separator)
    table = read_pasted(f"\n{text}\n\n")
    assert [row.row.member for row in judge(table, Accepted(**KNOWN))] == ["Wren Calder"]

"""Rosters: what is read, what is refused, and in which words."""

from __future__ import annotations

import csv
import random
import zipfile
from io import BytesIO, StringIO
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from orders import roster_file
from orders.errors import RosterError
from orders.lines import folded, one_line
from orders.roster import (
    Accepted,
    AcceptedColorway,
    RosterRow,
    check_good,
    judge,
)
from orders.roster_file import read_table
from orders.roster_guard import guarded

ACCEPTED = Accepted(
    colorways=(
        AcceptedColorway(
            "Harbor", ("S", "M", "8"), ("YK", "BD"), (("YK", "spruce-1"), ("BD", "spruce-1"))
        ),
        AcceptedColorway("Dawn", ("S", "M", "8"), ("FR",)),
    ),
    colors=(("spruce-1", "spruce"), ("oat-1", "oat")),
    jackets=(
        RosterRow(0, "Edda Lund", "M", "Harbor", "EDDA", "long arms", (("YK", "oat-1"),)),
        RosterRow(0, "Zoe\u0308  Roe", "S", "Dawn"),
    ),
    expected=("Pip Marsh",),
)
HEADER = "member,size,colorway,name_on_jacket,note"


def read(content: str | bytes, name: str = "roster.csv") -> list[RosterRow]:
    data = content.encode() if isinstance(content, str) else content
    verdicts = judge(read_table(BytesIO(data), name), ACCEPTED)
    check_good(verdicts)
    return [verdict.row for verdict in verdicts]


def xlsx(rows: list[list[Any]]) -> bytes:
    book, out = Workbook(), BytesIO()
    sheet = book.worksheets[0]
    for row in rows:
        sheet.append(row)
    book.save(out)
    return out.getvalue()


def refused(content: str | bytes, name: str = "roster.csv") -> str:
    """The whole message: the first line and each bad cell."""
    with pytest.raises(RosterError) as caught:
        read(content, name)
    return "\n".join([str(caught.value), *map(str, caught.value.problems)])


def refused_row(row: str) -> str:
    return refused(f"{HEADER}\n{row}\n").splitlines()[1]


def test_columns_come_in_any_order_and_headers_in_any_case() -> None:
    rows = read("NOTE,Colorway,Member,SIZE\nlong arms,Harbor,Wren Calder,M\n")
    assert rows == [RosterRow(2, "Wren Calder", "M", "Harbor", note="long arms")]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_separators_and_encodings_are_found_out(separator: str, encoding: str) -> None:
    text = "member,size,colorway\nLéonie Fabre,M,Dawn\n".replace(",", separator)
    assert read(text.encode(encoding))[0].member == "Léonie Fabre"


def test_text_stays_text_and_blanks_are_trimmed() -> None:
    rows = read(f"{HEADER}\n NA ,8, harbor ,nan,\n\nNull,m,DAWN,,\n")
    assert [(row.number, row.member, row.size, row.colorway) for row in rows] == [
        (2, "NA", "8", "Harbor"),
        (4, "Null", "M", "Dawn"),
    ]
    assert rows[0].name_on_jacket == "nan"


def test_block_columns_give_own_colors_by_name_or_code() -> None:
    rows = read(
        "member,size,colorway,Block:yk,block:FR\nWren,M,Harbor,OAT,\nPip,S,Dawn,,spruce-1\n"
    )
    assert [row.choices for row in rows] == [(("YK", "oat-1"),), (("FR", "spruce-1"),)]


def test_xlsx_numbers_read_as_the_sheet_shows_them() -> None:
    rows = read(
        xlsx([["Member", "Size", "Colorway"], ["Wren", 8, "Harbor"], ["Pip", 8.0, "Dawn"]]),
        "r.xlsx",
    )
    assert [row.size for row in rows] == ["8", "8"]


def test_rows_keep_the_number_that_a_spreadsheet_shows() -> None:
    sheet = xlsx(
        [["member", "size", "colorway"], [], ["Wren", "M", "Harbor"], ["Pip", "Q", "Dawn"]]
    )
    assert 'Row 4, size: found "Q"; accepted: S, M, 8.' in refused(sheet, "r.xlsx")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("Wren,XXL,Harbor,,", 'Row 2, size: found "XXL"; accepted: S, M, 8.'),
        ("Wren,,Harbor,,", "Row 2, size: is empty; accepted: S, M, 8."),
        ("Wren,M,Harbour,,", 'Row 2, colorway: found "Harbour"; accepted: Harbor, Dawn.'),
        (",M,Harbor,,", "Row 2, member: is empty."),
        ("Wren,M,Harbor,ABCDEFGHIJKLMNOPQRSTUVWXY,", "has 25 characters; at most 24 are accepted"),
        ('"Wren\nCalder",M,Harbor,,', "has a line break or control sign in it"),
        ("Wr\x07en,M,Harbor,,", "has a line break or control sign in it"),
        ("=1+1,M,Harbor,,", 'Row 2, member: "=1+1" reads as a formula; text may not start'),
        ("@cmd,M,Harbor,,", "reads as a formula"),
        ("-Wren,M,Harbor,,", "reads as a formula"),
        ("Wren,M,Harbor,,+441", "reads as a formula"),
    ],
)  # fmt: skip
def test_a_bad_cell_is_named_with_what_would_be_accepted(row: str, words: str) -> None:
    assert words in refused_row(row)


def test_a_hyphen_within_a_name_is_fine() -> None:
    assert read(f"{HEADER}\nAnne-Lise Roe,M,Harbor,,\n")[0].member == "Anne-Lise Roe"


def test_a_member_twice_in_the_file_names_the_first_row() -> None:
    words = refused(f"{HEADER}\nØrjan,M,Harbor,,\nPip,M,Harbor,,\nørjan,S,Dawn,,\n")
    assert 'Row 4, member: "ørjan" is in row 2 already' in words


def test_one_accented_letter_written_in_two_ways_is_one_member() -> None:
    assert "already" in refused(f"{HEADER}\nZoë,M,Harbor,,\nZoe\u0308,M,Harbor,,\n")


def test_unknown_colors_and_blocks_are_listed() -> None:
    words = refused("member,size,colorway,block:YK\nWren,M,Harbor,teal\nPip,M,Dawn,oat\n")
    assert 'Row 2, block:YK: found "teal"; accepted: spruce, oat' in words
    assert "Row 3, block:YK: colorway Dawn has no block YK, but FR." in words


def test_every_bad_row_is_told_at_once() -> None:
    words = refused(f"{HEADER}\nA,Q,Harbor,,\nB,M,Harbor,,\nC,M,Nope,,\n")
    assert words.startswith("2 of 3 rows cannot be taken; nothing was stored.")
    assert "Row 2" in words and "Row 4" in words and "Row 3" not in words


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("member,size", "column colorway is missing"),
        ("member,size,colorway,colour_way", '"colour_way" is unknown, did you mean colorway?'),
        ("member,size,colorway,shoe", 'column "shoe" is unknown.'),
        ("member,size,colorway,Member", "column member is there 2 times"),
        ("member,size,colorway,block:ZZ", 'column "block:ZZ" names no block of this order'),
        ("member,size,colorway,,note", "a column has cells but no name"),
    ],
)  # fmt: skip
def test_wrong_columns_are_told_by_name(header: str, words: str) -> None:
    cells = ["Wren", "M", "Harbor", "x", "y"][: header.count(",") + 1]
    message = refused(f"{header}\n{','.join(cells)}\n")
    assert words in message
    assert message.startswith("Row 1: ")


@pytest.mark.parametrize(
    ("content", "name", "words"),
    [
        (b"", "r.csv", "r.csv is empty"),
        (b" \n \n", "r.csv", "r.csv is empty"),
        (b"member,size,colorway\n", "r.csv", "has no row with a member"),
        (b"\nmember,size,colorway\nWren,M,Harbor", "r.csv", "Row 1 of r.csv is blank"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "r.csv", "is not a CSV file"),
        (b"PK\x03\x04rest", "r.csv", "is not a CSV file"),
        (b"\xff\xfem\x00e\x00x", "r.csv", "is not a CSV file"),
        (b"\xff\xfe\x00\x00m\x00\x00\x00", "r.csv", "is not a CSV file"),
        (b"member,size,colorway\nWren,M,Harbor,more\n", "r.csv", "Row 2 of r.csv has more cells"),
        (b'member,size,colorway\nA,M,Dawn\n"Wren,M,Harbor\n', "r.csv", "Row 3 of r.csv opens"),
        (b"member,size,colorway", "r.xlsx", "r.xlsx is damaged or not an XLSX file"),
        (b"member,size,colorway", "r.pdf", "r.pdf is neither a CSV nor an XLSX file"),
        (b"member,size,colorway" + b"," * 80 + b"x\n", "r.csv", "more than 60 columns"),
        (b"member,size,colorway\n" + b"A,M,Dawn\n" * 10_001, "r.csv", "more than 10000 rows"),
        (b'member,size,"colorway\nWren",M,Harbor\n', "r.csv", "Row 1 of r.csv opens a quotation"),
        (b'member,size,colorway\n"a,\nb",M' + b"," * 70 + b"x\n", "r.csv", "more than 60 columns"),
        (b"x" * (5 * 1024 * 1024 + 1), "r.csv", "r.csv is larger than 5 MB"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_roster_says_why(content: bytes, name: str, words: str) -> None:
    assert words in refused(content, name)


def test_megabytes_in_one_cell_show_forty_characters() -> None:
    message = refused(f"{HEADER}\n{'x' * 4_900_000},M,Harbor,,\n")
    assert "has 4900000 characters; at most 80" in message
    assert "x" * 40 in message and "x" * 41 not in message


@pytest.mark.parametrize("row", [["=A1", "M", "Harbor"], ["Wren", "=1+1", "Harbor"]])
def test_a_formula_cell_in_xlsx_is_refused(row: list[str]) -> None:
    sheet = xlsx([["member", "size", "colorway"], row])
    assert "reads as a formula" in refused(sheet, "r.xlsx")


def test_an_xlsx_that_unpacks_to_gigabytes_is_not_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", b"0" * (roster_file.MAX_UNPACKED_BYTES + 1))
    assert len(out.getvalue()) < 100_000
    assert "unpacks to more than 50 MB" in refused(out.getvalue(), "bomb.xlsx")


def test_an_xlsx_cell_far_out_does_not_widen_the_table() -> None:
    book, out = Workbook(), BytesIO()
    sheet = book.worksheets[0]
    for row in (["member", "size", "colorway"], ["Wren", "M", "Harbor"]):
        sheet.append(row)
    sheet["XFD1048576"] = "far"
    book.save(out)
    assert read(out.getvalue(), "r.xlsx") == [RosterRow(2, "Wren", "M", "Harbor")]


@pytest.mark.parametrize("seed", range(20))
def test_a_damaged_xlsx_is_refused_or_read_but_never_breaks(seed: int) -> None:
    chance = random.Random(seed)
    content = bytearray(xlsx([["member", "size", "colorway"], ["Wren", "M", "Harbor"]]))
    for _ in range(30):
        content[chance.randrange(len(content))] = chance.randrange(256)
    try:
        read(bytes(content), "r.xlsx")
    except RosterError as error:
        assert str(error)


def test_an_order_without_colorways_takes_no_roster() -> None:
    table = read_table(BytesIO(b"member,size,colorway\nWren,M,Harbor\n"), "r.csv")
    with pytest.raises(RosterError, match="no colorway yet"):
        judge(table, Accepted((), ()))


NAMES = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")),
    min_size=1,
    max_size=80,
)
PEOPLE = st.lists(
    st.tuples(
        NAMES.map(one_line).filter(lambda name: name and len(name) <= 80),
        st.sampled_from(["S", "M", "8"]),
        st.sampled_from(["Harbor", "Dawn"]),
    ),
    min_size=1,
    max_size=12,
    unique_by=lambda person: folded(person[0]),
)


@settings(max_examples=60, deadline=None)
@given(PEOPLE)
def test_any_roster_comes_back_from_csv_and_xlsx(people: list[tuple[str, str, str]]) -> None:
    """Guarded as we write them, else a name such as '=1 would lose its apostrophe."""
    out = StringIO()
    rows = [["member", "size", "colorway"], *([guarded(cell) for cell in row] for row in people)]
    csv.writer(out).writerows(rows)
    wanted = [
        RosterRow(number, member, size, colorway)
        for number, (member, size, colorway) in enumerate(people, 2)
    ]
    assert read(out.getvalue()) == wanted
    assert read(xlsx(rows), "r.xlsx") == wanted

"""Names taken out of texts, and the words around them left in."""

from __future__ import annotations

import pytest

from production.members.pseudonyms import SOMEONE, Pseudonyms, all_names, harmless_changes, parts_of

CHANGES = harmless_changes(["S", "M", "2XL"], ["Dawn", "Harbor"], ["CO", "B-FY"], ["oat", "spruce"])


def pseudonyms(*names: str, plain: tuple[str, ...] = ()) -> Pseudonyms:
    labels = {name: f"Member {number}" for number, name in enumerate(names, 1)}
    return Pseudonyms(
        {name.casefold(): label for name, label in labels.items()},
        parts_of(labels.items(), plain),
        CHANGES,
    )


@pytest.mark.parametrize(
    ("text", "cleared"),
    [
        ("added Wren Calder, M, Dawn", "added Member 1, M, Dawn"),
        ("WREN CALDER's zipper", "Member 1's zipper"),
        ("too short for Wren", "too short for Member 1"),
        ("Zofia Łęcka, then Wren Calder", "Member 2, then Member 1"),
        ("form closed", "form closed"),
    ],
)
def test_names_and_their_parts_go(text: str, cleared: str) -> None:
    assert pseudonyms("Wren Calder", "Zofia Łęcka").cleared(text) == cleared


def test_a_longer_name_is_not_taken_for_a_shorter_one() -> None:
    names = pseudonyms("Ann", "Ann Berg", "Anna")
    assert names.cleared("Anna, Ann Berg, Ann") == "Member 3, Member 2, Member 1"


def test_labels_given_before_are_read_as_names_once() -> None:
    names = pseudonyms("Member 2", "Member 12", "Member 1")
    assert names.cleared("Member 1, Member 2, Member 12") == "Member 3, Member 1, Member 2"


def test_a_part_that_two_share_is_no_ones_in_particular() -> None:
    assert pseudonyms("Ada Moss", "Ada Thorn").cleared("Ada's cuff") == f"{SOMEONE}'s cuff"


def test_words_of_the_order_stay_even_where_a_member_is_called_so() -> None:
    names = pseudonyms("Dawn Price", plain=("Dawn",))
    assert names.cleared("colorway Dawn for Dawn Price") == "colorway Dawn for Member 1"


@pytest.mark.parametrize(
    ("words", "cleared"),
    [
        ("note tall; size M to S is wrong to none", "note changed"),
        ("member Ana to Anna; size S to M", "member changed; size S to M"),
        (
            "size S to M; name on jacket ZED to none; note a; b to c; CO oat to as colorway",
            "size S to M; name on jacket changed; note changed; CO oat to as colorway",
        ),
        (
            "after the freeze: note x to y; B-FY oat to spruce, supplement 2",
            "after the freeze: note changed; B-FY oat to spruce, supplement 2",
        ),
        ("TO-1-01: note allergic to wool and so on…", "TO-1-01: note changed"),
        ("title Old to New; note changed", "title Old to New; note changed"),
    ],
)
def test_own_words_that_a_change_quotes_go_and_harmless_changes_stay(
    words: str, cleared: str
) -> None:
    assert pseudonyms("Anna").cleared(words) == cleared


def test_former_names_are_followed_back() -> None:
    words = [
        "member Ana to Anna; size S to M",
        "after the freeze: member Anna to Anne, supplement 1",
    ]
    assert all_names("Anne", words) == ["Anne", "Anna", "Ana"]
    assert all_names("Bo", words) == ["Bo"]

"""One line of text: tidied once, the same ever after."""

from __future__ import annotations

import unicodedata

from hypothesis import example, given
from hypothesis import strategies as st

from orders.lines import folded, one_line


@example("Zoe\u200b\u0301")
@given(st.text())
def test_a_tidy_line_stays_as_it_is(text: str) -> None:
    assert one_line(one_line(text)) == one_line(text)


@given(st.text())
def test_accents_composed_or_not_give_one_line(text: str) -> None:
    assert one_line(unicodedata.normalize("NFD", text)) == one_line(text)


@given(st.text(alphabet="ab\n\t\x00\x07\x7f", min_size=1))
def test_control_signs_inside_stay_to_be_refused(text: str) -> None:
    assert one_line(f"a{text}b") == f"a{text}b"


def test_case_blanks_and_unseen_signs_do_not_tell_names_apart() -> None:
    assert folded(" ANN\u00a0\u200bLee ") == folded("ann lee")
    assert folded("Straße") == folded("STRASSE")

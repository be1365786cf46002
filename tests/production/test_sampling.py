from __future__ import annotations

import itertools

import pytest

from production.planning.inspecting.sampling import ACCEPTED, sample_of


def test_one_piece_is_checked_itself() -> None:
    sample = sample_of(1)
    assert (sample.pieces, sample.accepted, sample.is_all) == (1, 0, True)


@pytest.mark.parametrize("limit", ACCEPTED)
def test_a_larger_lot_never_asks_for_fewer_pieces_than_half(limit: str) -> None:
    """Samples grow with the lot, but for the arrows that lead back one letter."""
    pieces = [sample_of(lot, limit).pieces for lot in range(1, 1201)]
    assert all(later >= earlier // 2 for earlier, later in itertools.pairwise(pieces))


@pytest.mark.parametrize(
    ("lot", "limit", "words"),
    [(0, "4.0", "cannot be checked"), (1201, "4.0", "ends at lots of 1200"), (30, "6.5", "6.5")],
)
def test_what_the_table_does_not_know_is_refused(lot: int, limit: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        sample_of(lot, limit)

"""Which jackets of a lot are looked over, and when the lot is refused."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import pytest

from production.planning.inspecting.inspection import EVERY, Lot, LotJacket, drawing, lot

CODES = [f"TO-1-{number:02d}" for number in range(1, 31)]


def lot_of(
    inspecting: str = "4.0",
    codes: Sequence[str] = CODES,
    cancelled: Iterable[str] = (),
    good: Iterable[str] = (),
    faulty: Iterable[str] = (),
) -> Lot:
    passed = dict.fromkeys(good, True) | dict.fromkeys(faulty, False)
    gone = set(cancelled)
    return lot(
        "R-1", [LotJacket(code, passed.get(code), code in gone) for code in codes], inspecting
    )


def drawn(found: Lot) -> list[str]:
    return [jacket.code for jacket in found.sample]


def test_the_sample_is_named_beforehand_and_looks_random() -> None:
    sample = drawn(lot_of())
    assert len(sample) == 13 and sample == drawn(lot_of(codes=CODES[::-1]))
    assert sample != CODES[:13] and sorted(sample) != CODES[:13]
    others = sorted(CODES, key=lambda code: drawing("R-2", code))
    assert others[:13] != sample


def test_one_that_is_cancelled_lets_none_slip_out() -> None:
    before = drawn(lot_of())
    for gone in range(1, 8):
        after = lot_of(cancelled=before[:gone])
        assert set(before[gone:]) <= set(drawn(after))
        assert len(after.sample) == 13 and len(after.jackets) == 30 - gone
    outside = next(code for code in CODES if code not in before)
    assert drawn(lot_of(cancelled=[outside])) == before


def test_a_refused_lot_is_not_accepted_by_cancelling_others() -> None:
    sample = drawn(lot_of())
    gone = [code for code in CODES if code not in sample][:8]  # 22 are left, for which 3 would do
    assert lot_of(faulty=sample[-2:], cancelled=gone).is_refused


def test_up_to_the_limit_the_lot_is_accepted_when_all_of_the_sample_were_seen() -> None:
    sample = drawn(lot_of())
    half = lot_of(good=sample[:8], faulty=sample[8:9])
    assert half.words == "Sample of 13: 9 looked over, 1 faulty, up to 1 accepted."
    assert not half.is_accepted and set(half.to_look_at) == set(sample[9:])
    whole = lot_of(good=sample[:12], faulty=sample[12:])
    assert whole.is_accepted and whole.to_look_at == () and whole.words.endswith("is accepted.")
    outside = next(code for code in CODES if code not in sample)
    assert not whole.asks_for(outside) and whole.asks_for(sample[0])


def test_beyond_the_limit_every_jacket_is_looked_over() -> None:
    sample = drawn(lot_of())
    found = lot_of(good=sample[:2], faulty=sample[2:4])
    assert found.is_refused and not found.is_accepted
    assert all(found.asks_for(code) for code in CODES)
    assert len(found.to_look_at) == 26
    assert "every jacket of it is looked over: 4 of 30 so far" in found.words


def test_faults_outside_the_sample_do_not_refuse_the_lot() -> None:
    outside = [code for code in CODES if code not in drawn(lot_of())]
    found = lot_of(faulty=outside)
    assert not found.is_refused and "0 faulty" in found.words


def test_every_jacket_is_asked_where_the_workroom_says_so() -> None:
    found = lot_of(EVERY, good=CODES[:3], faulty=CODES[3:4], cancelled=CODES[:1])
    assert found.accepted is None and not found.is_refused and not found.is_accepted
    assert found.words == "Every jacket is looked over: 3 of 29 looked over, 1 faulty."
    assert not found.asks_for(CODES[0]), "it is cancelled"


def test_a_lot_beyond_the_table_is_looked_over_whole_and_an_empty_one_is_none() -> None:
    codes = [f"X-{number}" for number in range(1201)]
    assert len(lot_of("1.5", codes).asked) == 1201
    assert len(lot_of("1.5", codes[:1200]).asked) == 80
    assert lot_of("1.5", []).jackets == ()


def test_a_limit_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match=r"6\.5"):
        lot_of("6.5")

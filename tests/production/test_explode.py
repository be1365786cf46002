from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from production.planning.explode import (
    CutPiece,
    cut_ticket_lines,
    explode,
    sewn_by,
    shapes_by_key,
    stretches_by_cut,
)
from production.planning.plan import PlanError, TicketLine
from tests.production.planning_factories import (
    jacket_seams,
    jacket_shapes,
    make_jacket,
    make_operation,
    make_sewing,
    make_shape,
    make_snapshot,
    make_stretch,
    rectangle,
)


def test_a_pair_gives_left_and_right_and_a_fold_or_single_one_piece() -> None:
    assert explode(make_snapshot()) == (
        CutPiece("J1", "FR", "S", "left", "spruce"),
        CutPiece("J1", "FR", "S", "right", "spruce"),
        CutPiece("J1", "BK", "S", "single", "spruce"),
        CutPiece("J1", "CO", "S", "single", "oat"),
    )


def test_lines_follow_the_order_of_shapes_and_sizes() -> None:
    snapshot = make_snapshot(
        jackets=(make_jacket("J1", size="M"), make_jacket("J2"), make_jacket("J3", size="M"))
    )
    lines = cut_ticket_lines(explode(snapshot), snapshot)
    assert list(lines) == ["oat", "spruce"]
    assert lines["oat"] == (TicketLine("CO", "S", 0, 0, 1), TicketLine("CO", "M", 0, 0, 2))
    assert lines["spruce"] == (
        TicketLine("FR", "S", 1, 1, 0),
        TicketLine("FR", "M", 2, 2, 0),
        TicketLine("BK", "S", 0, 0, 1),
        TicketLine("BK", "M", 0, 0, 2),
    )


def test_one_members_own_color_moves_that_block_to_the_other_ticket() -> None:
    own = make_jacket("J2", blocks=(("FR", "spruce"), ("BK", "oat"), ("CO", "oat")))
    snapshot = make_snapshot(jackets=(make_jacket("J1"), own))
    lines = cut_ticket_lines(explode(snapshot), snapshot)
    backs = {c: sum(line.single for line in ls if line.block == "BK") for c, ls in lines.items()}
    assert backs == {"spruce": 1, "oat": 1}


def test_many_jackets_lose_no_piece() -> None:
    jackets = tuple(make_jacket(f"J{n}", size="SM"[n % 2]) for n in range(300))
    pieces = explode(make_snapshot(jackets=jackets))
    assert Counter(piece.side for piece in pieces) == {"left": 300, "right": 300, "single": 600}
    assert len({(p.jacket, p.block, p.side) for p in pieces}) == len(pieces)


def test_the_same_shape_from_two_blockings_is_one_shape() -> None:
    whole = make_shape("SL", name="Sleeve")
    assert list(shapes_by_key([whole, replace(whole, name="Whole sleeve")])) == [("SL", "S")]


def test_two_shapes_with_one_code_are_refused() -> None:
    with pytest.raises(PlanError, match="SL has two different shapes in size S"):
        shapes_by_key([make_shape("SL"), make_shape("SL", outline=rectangle(401, 80))])


def test_a_run_without_jackets_is_refused() -> None:
    with pytest.raises(PlanError, match="R-0001 has no jackets"):
        explode(make_snapshot(jackets=()))


def test_a_block_without_a_shape_in_the_size_is_named() -> None:
    snapshot = make_snapshot(jackets=(make_jacket(size="M"),), shapes=jacket_shapes("S"))
    with pytest.raises(PlanError, match="J1: block FR has no shape in size M"):
        explode(snapshot)


def test_an_unknown_fabric_color_is_named() -> None:
    jacket = make_jacket(blocks=(("FR", "spruce"), ("BK", "mauve")))
    with pytest.raises(PlanError, match=r"J1: block BK .* fabric color mauve"):
        explode(make_snapshot(jackets=(jacket,)))


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"size": "XXL"}, "J1 is of size XXL"),
        ({"blocks": ()}, "J1 has no blocks"),
        ({"blocks": (("FR", "oat"), ("FR", "spruce"))}, "J1 names a block twice"),
    ],
)
def test_a_jacket_that_cannot_be_cut_is_named(values: dict[str, Any], words: str) -> None:
    with pytest.raises(PlanError, match=words):
        explode(make_snapshot(jackets=(make_jacket(**values),)))


def test_two_jackets_with_one_code_are_refused() -> None:
    with pytest.raises(PlanError, match="J1 is given 2 times"):
        explode(make_snapshot(jackets=(make_jacket(), make_jacket())))


def test_an_unknown_pairing_is_refused() -> None:
    shapes = (make_shape("CO", pairing="triple"),)
    jacket = make_jacket(blocks=(("CO", "oat"),))
    with pytest.raises(PlanError, match="CO in size S has the pairing 'triple'"):
        explode(make_snapshot(jackets=(jacket,), shapes=shapes))


@pytest.mark.parametrize(
    ("covers", "sewn"),
    [
        ("join", {"side", "neck", "cuff"}),
        ("zipper", {"zip"}),
        ("topstitched", {"neck"}),
        ("hem", {"hem"}),
        ("cuff", {"cuff"}),
    ],
)
def test_an_operation_sews_the_seams_it_covers(covers: str, sewn: set[str]) -> None:
    operation = make_sewing("sewing", covers)
    assert {s.seam for s in jacket_seams("S") if sewn_by(operation, s)} == sewn


def test_work_that_is_not_driven_by_seams_sews_none() -> None:
    pack = make_operation("pack", "finish", "jacket")
    assert not any(sewn_by(pack, stretch) for stretch in jacket_seams("S"))


def test_an_operation_that_covers_nothing_known_is_refused() -> None:
    with pytest.raises(PlanError, match="sewing covers 'darts'"):
        sewn_by(make_sewing("sewing", "darts"), jacket_seams("S")[0])


def test_a_jacket_without_seams_is_refused() -> None:
    with pytest.raises(PlanError, match="blocking quay has no seams in size S"):
        stretches_by_cut(make_snapshot(seams=()))


def test_a_seam_on_a_block_without_color_is_refused() -> None:
    seams = (make_stretch("yoke", "join", "YK", 400),)
    with pytest.raises(PlanError, match="J1 has no color for block YK, on which seam yoke runs"):
        stretches_by_cut(make_snapshot(seams=seams))

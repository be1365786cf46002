"""Writing patterns: what is shipped goes in once, and a blocking is cut before it is kept."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from patterns import models, queries, services, shipped
from patterns.geometry.blocks import Anchor, BlockName, StyleLine
from patterns.geometry.outline import PatternError

pytestmark = pytest.mark.django_db

STORED = (
    models.Pattern,
    models.PatternSize,
    models.Piece,
    models.PieceOutline,
    models.Seam,
    models.Blocking,
    models.StyleLine,
    models.Block,
    models.Operation,
    models.Fabric,
    models.FabricColor,
    models.ThreadColor,
    models.Zipper,
    models.Elastic,
    models.Workroom,
)

CHEST = StyleLine(
    code="chest",
    name="chest seam",
    cuts="FR",
    start=Anchor("armhole", 0.6),
    end=Anchor("center_front", 0.3),
    left=BlockName("C-FL", "Front lower"),
    right=BlockName("C-FU", "Front upper"),
)


def every_row() -> dict[str, list[Any]]:
    return {kind.__name__: [*kind.objects.order_by("pk").values()] for kind in STORED}


def save(*lines: StyleLine) -> models.Blocking:
    return services.save_blocking(services.install_base_pattern(), "chest", "Chest", lines)


def test_installing_what_is_shipped_twice_changes_nothing() -> None:
    services.install_shipped()
    first = every_row()
    services.install_shipped()
    assert every_row() == first
    assert all(first.values())


def test_a_workroom_s_own_changes_stay_when_what_is_shipped_comes_again() -> None:
    services.install_shipped()
    models.FabricColor.objects.filter(code="oat").update(name="cream")
    models.Operation.objects.filter(position=0).update(minutes_each=Decimal("99"))
    models.Blocking.objects.get(code="breakwater").delete()
    services.install_shipped()
    oat = models.FabricColor.objects.get(code="oat")
    assert oat.name == "cream"
    assert models.Operation.objects.get(position=0).minutes_each == 99
    assert models.Blocking.objects.get(code="breakwater").blocks.count() > 0


def test_every_shipped_size_holds_every_piece() -> None:
    pattern = services.install_base_pattern()
    pieces = pattern.pieces.count()
    for size in pattern.sizes.all():
        assert [outline.code for outline in queries.pieces_of(size)] == [
            piece.code for piece in pattern.pieces.order_by("position")
        ]
        assert size.outlines.count() == pieces


def test_the_blocks_that_are_cut_are_the_blocks_that_are_stored() -> None:
    services.install_shipped()
    for blocking in models.Blocking.objects.all():
        stored = list(blocking.blocks.values_list("code", "name", "piece__code", "pairing"))
        for size in blocking.pattern.sizes.all():
            cut = queries.blocks_of(blocking, size)
            assert [(b.code, b.name, b.piece, str(b.pairing)) for b in cut] == stored, size


def test_style_lines_and_seams_are_read_back_as_they_were_given() -> None:
    services.install_shipped()
    for given in shipped.BLOCKINGS:
        blocking = models.Blocking.objects.get(code=given.code)
        assert queries.style_lines(blocking) == given.style_lines


def test_a_blocking_is_cut_as_its_line_says() -> None:
    codes = set(save(CHEST).blocks.values_list("code", flat=True))
    assert {"C-FL", "C-FU"} <= codes and "FR" not in codes


@pytest.mark.parametrize(
    ("line", "told"),
    [
        pytest.param(replace(CHEST, cuts="XX"), "XX", id="names no block"),
        pytest.param(replace(CHEST, end=Anchor("elbow", 0.5)), "no edge 'elbow'", id="no edge"),
        pytest.param(
            replace(CHEST, start=Anchor("neckline", 0.0), end=Anchor("neckline", 1.0)),
            "chest misses FR",
            id="misses",
        ),
        pytest.param(
            replace(CHEST, bends=((0.33, 2.0), (0.8, 2.0))), "cuts it into three", id="in three"
        ),
    ],
)
def test_a_line_that_does_not_cut_its_block_in_two_stores_nothing(
    line: StyleLine, told: str
) -> None:
    pattern = services.install_base_pattern()
    with pytest.raises(PatternError, match=told):
        services.save_blocking(pattern, "chest", "Chest", (line,))
    assert not models.Blocking.objects.exists()
    assert not models.StyleLine.objects.exists() and not models.Block.objects.exists()


def test_the_second_of_two_lines_cuts_a_block_of_the_first() -> None:
    below = replace(
        CHEST,
        code="below",
        cuts="C-FL",
        start=Anchor("side", 0.5),
        end=Anchor("center_front", 0.7),
        left=BlockName("C-FB", "Front bottom"),
        right=BlockName("C-FM", "Front middle"),
    )
    codes = set(save(CHEST, below).blocks.values_list("code", flat=True))
    assert {"C-FU", "C-FM", "C-FB"} <= codes and "C-FL" not in codes

"""Where a cut ticket's color sits: on which blockings, in which views, on which blocks."""

from __future__ import annotations

from patterns.geometry.picture import View
from production.cutting.sits import where_it_sits
from production.planning.snapshot import BlockingSpec, RunSnapshot
from tests.production.document_factories import picture
from tests.production.planning_factories import make_color, make_jacket, make_snapshot

OAT = make_color("oat", name="oat", hex_color="#e6d9bd")


def a_run(*colors: str, oat_blocks: tuple[str, ...] = ("CO",)) -> RunSnapshot:
    """Two blockings drawn alike; jackets of the second wear the color `colors[1]` throughout."""
    first, second = colors
    return make_snapshot(
        jackets=(
            make_jacket("J1", blocks=(("FY", first), *((block, "oat") for block in oat_blocks))),
            make_jacket("J2", blocks=(("FY", first), ("CO", first))),
            make_jacket("J3", blocking="pier", blocks=(("FY", second), ("CO", second))),
        ),
        blockings=tuple(
            BlockingSpec(code, name, tuple(map(picture, View)))
            for code, name in (("quay", "Quay"), ("pier", "Pier"))
        ),
    )


def test_only_blockings_that_wear_the_color_are_shown_with_their_jackets() -> None:
    (place,) = where_it_sits(OAT, a_run("spruce", "spruce"))
    assert (place.blocking, place.jackets) == ("Quay", 1)
    quay, pier = where_it_sits(OAT, a_run("oat", "oat"))
    assert (quay.jackets, pier.jackets) == (2, 1)
    assert where_it_sits(make_color("slate"), a_run("oat", "oat")) == ()


def test_blocks_of_other_colors_are_blank() -> None:
    (place,) = where_it_sits(OAT, a_run("spruce", "spruce"))
    svg = dict(place.pictures)["Front"]
    assert svg.count(f'fill="{OAT.hex_color}"') == 1
    assert "CO: oat" in svg and "FY: no color" in svg


def test_only_views_that_show_the_color_are_drawn() -> None:
    (place,) = where_it_sits(OAT, a_run("spruce", "spruce", oat_blocks=("BK",)))
    assert [view for view, _ in place.pictures] == ["Back"]

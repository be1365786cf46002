"""In which thread a seam is sewn."""

from __future__ import annotations

from dataclasses import replace

import pytest

from production.planning.minutes.changeovers import compare_batching
from production.planning.plan import PlanError
from production.planning.threads.thread import thread_needs, thread_of
from production.planning.threads.thread_colors import relative_luminance
from tests.production.planning_factories import (
    make_color,
    make_jacket,
    make_sewing,
    make_snapshot,
    make_stretch,
)

SIDE = make_stretch("side", "join", "BK", 1000, runs=2)
FILLS = (("FR", "spruce"), ("BK", "oat"), ("CO", "slate"))
COLORS = {
    "spruce": make_color("spruce", hex_color="#1f5a4c"),
    "oat": make_color("oat", hex_color="#e6d9bd"),
    "slate": make_color("slate", hex_color="#5d6b7a"),
}


def color_of(block: str, *against: str, **rule: object) -> str:
    stretch = replace(make_stretch("s", "join", block, 100), against=against)
    jacket = make_jacket(blocks=FILLS, topstitch_thread=rule.pop("topstitch_thread", None))
    return thread_of(make_sewing("seam", "join", **rule), jacket, stretch, COLORS)


def test_by_default_a_seam_is_sewn_in_its_blocks_thread_whatever_lies_opposite() -> None:
    assert color_of("BK", "FR", "CO") == "thread-oat"


def test_the_darker_of_the_blocks_that_meet_gives_its_thread() -> None:
    darker = {"thread_rule": "darker"}
    assert color_of("BK", "CO", **darker) == "thread-slate"
    assert color_of("CO", "BK", **darker) == "thread-slate"
    assert color_of("BK", "CO", "FR", **darker) == "thread-spruce"
    assert color_of("BK", **darker) == "thread-oat"  # a hem: nothing lies opposite


def test_blocks_equally_dark_are_sewn_in_the_thread_of_the_seams_own() -> None:
    colors = {**COLORS, "oat": make_color("oat", hex_color="#1f5a4c")}
    stretch = replace(make_stretch("s", "join", "BK", 100), against=("FR",))
    operation = make_sewing("seam", "join", thread_rule="darker")
    assert thread_of(operation, make_jacket(blocks=FILLS), stretch, colors) == "thread-oat"


def test_darkness_is_that_of_the_eye_not_of_the_sum_of_channels() -> None:
    # Pure green is light, pure blue dark (WCAG 2.2: 0.7152, 0.0722), though each is one channel.
    assert relative_luminance("#00ff00") == pytest.approx(0.7152)
    assert relative_luminance("#0000ff") == pytest.approx(0.0722)
    assert (relative_luminance("#000000"), relative_luminance("#FFFFFF")) == (0, 1)


def test_a_chosen_thread_sews_all() -> None:
    chosen = {"thread_rule": "chosen", "own_thread": "thread-red"}
    assert {color_of(block, "FR", **chosen) for block in ("FR", "BK", "CO")} == {"thread-red"}


def test_a_contrast_of_the_colorway_wins_over_every_rule() -> None:
    for rule in ({"thread_rule": "darker"}, {"thread_rule": "chosen", "own_thread": "thread-oat"}):
        contrast = {"contrast_thread": True, "topstitch_thread": "thread-red", **rule}
        assert color_of("BK", "CO", **contrast) == "thread-red"
    # Where the colorway has none, the rule holds.
    assert color_of("BK", "CO", contrast_thread=True, thread_rule="darker") == "thread-slate"


def test_a_rule_that_cannot_be_followed_is_refused() -> None:
    with pytest.raises(PlanError, match="seam is sewn in one chosen thread, but none is chosen"):
        color_of("BK", thread_rule="chosen")
    with pytest.raises(PlanError, match="thread rule 'lighter'"):
        color_of("BK", thread_rule="lighter")
    with pytest.raises(PlanError, match="no color for block XX"):
        color_of("BK", "XX", thread_rule="darker")


def test_changeovers_and_metres_speak_of_the_same_threads() -> None:
    seams = (replace(SIDE, against=("FR",)),)
    jacket = make_jacket(blocks=FILLS)
    snapshot = make_snapshot(
        operations=(make_sewing("seam", "join", thread_rule="darker"),),
        seams=seams,
        jackets=(jacket,),
        fabric_colors=tuple(COLORS.values()),
    )
    (need,) = thread_needs(snapshot)
    (batch,) = compare_batching(snapshot).batches
    assert batch.threads == (need.thread_color,) == ("thread-spruce",)

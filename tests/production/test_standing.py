"""Where a jacket stands, replayed from its history."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.planning.standing import (
    DONE,
    END,
    SENT_BACK,
    STAGES,
    STARTED,
    UNDONE,
    Event,
    StageError,
    Standing,
    after,
    event_words,
    live,
    mending_stages,
    standing,
)


@dataclass
class Told:
    """A history grown step by step, with where the jacket stands kept beside it as the site does
    in its table: after a step by the rule of that step, after an undo from what remains."""

    events: list[Event] = field(default_factory=list)
    kept: list[Standing] = field(default_factory=lambda: [Standing()])

    @property
    def now(self) -> Standing:
        return self.kept[-1]

    def add(self, kind: str, stage: str, reason: str = "") -> None:
        self.kept.append(after(self.now, kind, stage, reason))
        self.events.append(Event(len(self.events), kind, stage, reason))

    def undo(self) -> None:
        last = live(self.events)[-1]
        self.events.append(Event(len(self.events), UNDONE, last.stage, undoes=last.number))
        self.kept.pop()


@st.composite
def histories(draw: st.DrawFn) -> Told:
    told = Told()
    for _ in range(draw(st.integers(0, 25))):
        kinds = [SENT_BACK]
        if told.now.stage != END:
            kinds.append(DONE)
            if not told.now.in_work:
                kinds.append(STARTED)
        if len(told.kept) > 1:
            kinds.append(UNDONE)
        kind = draw(st.sampled_from(kinds))
        if kind == UNDONE:
            told.undo()
        elif kind == SENT_BACK:
            told.add(kind, draw(st.sampled_from(mending_stages(told.now.stage))), "wavy hem")
        else:
            told.add(kind, told.now.stage)
    return told


@given(histories())
def test_replaying_a_history_gives_where_the_jacket_stands(told):
    assert standing(told.events) == told.now


@given(histories())
def test_undoing_everything_returns_to_the_start(told):
    while live(told.events):
        told.undo()
    assert standing(told.events) == Standing("cut", in_work=False, mend_reason="")


def test_four_stages_done_hand_the_jacket_over():
    events = [Event(number, DONE, stage) for number, stage in enumerate(STAGES)]
    assert standing(events).stage == END


@pytest.mark.parametrize("stage", STAGES[1:])
def test_a_stage_before_its_turn_is_refused(stage):
    with pytest.raises(StageError, match="waits for cutting; that comes before"):
        after(Standing("cut"), DONE, stage)


def test_a_stage_behind_is_refused_as_done():
    with pytest.raises(StageError, match="Cutting is already done; it waits for finishing"):
        after(Standing("finish"), DONE, "cut")


def test_nothing_more_is_done_to_a_jacket_handed_over():
    with pytest.raises(StageError, match="already done; it is handed over"):
        after(Standing(END), DONE, "hand_over")


def test_a_mend_stays_until_its_stage_is_done():
    back = after(Standing("finish", in_work=True), SENT_BACK, "sew", "wavy hem")
    assert back == Standing("sew", in_work=False, mend_reason="wavy hem")
    assert after(back, STARTED, "sew").mend_reason == "wavy hem"
    assert after(back, DONE, "sew") == Standing("finish")


def test_a_mend_without_a_reason_is_refused():
    with pytest.raises(StageError, match="what is to be mended"):
        after(Standing("finish"), SENT_BACK, "sew")


def test_a_jacket_is_not_sent_on_to_be_mended():
    with pytest.raises(StageError, match="not on to finishing"):
        after(Standing("sew"), SENT_BACK, "finish", "wavy hem")


def test_work_starts_once():
    with pytest.raises(StageError, match="already started"):
        after(Standing("sew", in_work=True), STARTED, "sew")


def test_an_unknown_stage_or_step_is_named():
    with pytest.raises(StageError, match="'iron' is no stage"):
        after(Standing(), DONE, "iron")
    with pytest.raises(StageError, match="'ironed' is no step"):
        after(Standing(), "ironed", "cut")


def test_history_in_words():
    assert event_words(Event(1, STARTED, "sew")) == "sewing started"
    assert event_words(Event(2, DONE, "hand_over")) == "handed over"
    assert (
        event_words(Event(3, SENT_BACK, "cut", "a hole")) == "sent back to cutting to mend: a hole"
    )

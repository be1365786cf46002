"""All that the page of a run tells of its jackets at a glance."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from production.glance.blocked import blocked_words
from production.glance.days_work import DaysWork, days_work
from production.glance.rail import Band, Marks, Peg, done_today, in_whose_hands, rail
from production.models import Jacket, Run
from production.stages.inspections import menders


@dataclass(frozen=True, slots=True)
class Stuck:
    """Jackets that cannot go on for the same reason."""

    why: str
    pegs: tuple[Peg, ...]


@dataclass(frozen=True, slots=True)
class InHand:
    """The jackets that one person has in work."""

    name: str
    pegs: tuple[tuple[str, Peg], ...]


@dataclass(frozen=True, slots=True)
class RunGlance:
    """The rail of a run, `bands` by stage from first to last and `handed_over`; who cannot go on,
    who has what in work, and what is planned for today."""

    bands: tuple[Band, ...]
    handed_over: Band
    stuck: tuple[Stuck, ...]
    in_hand: tuple[InHand, ...]
    today: DaysWork


def run_glance(run: Run, jackets: Sequence[Jacket]) -> RunGlance:
    """The jackets come from `queries.run_jackets`."""
    marks = Marks(
        hands=in_whose_hands(run.pk),
        menders={pk: person.name for pk, person in menders(jackets).items()},
        blocked=blocked_words(jackets),
        done_today=done_today(run.pk),
    )
    *bands, handed_over = rail(jackets, marks)
    return RunGlance(tuple(bands), handed_over, _stuck(bands), _in_hand(bands), days_work(jackets))


def _stuck(bands: Iterable[Band]) -> tuple[Stuck, ...]:
    """By reason, the one that stops most jackets first."""
    reasons: dict[str, list[Peg]] = {}
    for band in bands:
        for peg in band.pegs:
            if peg.blocked:
                reasons.setdefault(peg.blocked, []).append(peg)
    found = [Stuck(why, tuple(pegs)) for why, pegs in reasons.items()]
    return tuple(sorted(found, key=lambda stuck: -len(stuck.pegs)))


def _in_hand(bands: Iterable[Band]) -> tuple[InHand, ...]:
    people: dict[str, list[tuple[str, Peg]]] = {}
    for band in bands:
        for peg in band.pegs:
            if peg.in_work:
                people.setdefault(peg.by, []).append((band.stage, peg))
    return tuple(InHand(name, tuple(pegs)) for name, pegs in sorted(people.items()))

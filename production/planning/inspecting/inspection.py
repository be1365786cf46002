"""Which jackets of a run are looked over when they are finished, and whether the lot is accepted.

A lot is what a run makes. The sample is drawn by a fixed order that looks random (a hash of run and
jacket), so that it can be named beforehand and nobody chooses; sizes and limits as in `sampling`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256

from production.planning.inspecting.sampling import LARGEST_LOT, sample_of

EVERY = "every"


@dataclass(frozen=True, slots=True)
class LotJacket:
    """`passed` is what the first look at it found; None while nobody has looked."""

    code: str
    passed: bool | None = None
    is_cancelled: bool = False


@dataclass(frozen=True, slots=True)
class Lot:
    """A run's jackets that are not cancelled, as they are looked over. `sample` are those drawn, in
    the order of drawing, of which `accepted` may be faulty; None where every jacket is looked over
    from the start."""

    jackets: tuple[LotJacket, ...]
    sample: tuple[LotJacket, ...]
    accepted: int | None

    @property
    def is_refused(self) -> bool:
        """Too many of the sample were faulty at the first look."""
        return self.accepted is not None and _faulty(self.sample) > self.accepted

    @property
    def is_accepted(self) -> bool:
        """The whole sample was looked over, with no more faulty ones than may be."""
        is_done = all(jacket.passed is not None for jacket in self.sample)
        return self.accepted is not None and is_done and not self.is_refused

    @property
    def asked(self) -> tuple[LotJacket, ...]:
        """Those that are looked over: the sample, or all where every one is or the lot is
        refused."""
        return self.jackets if self.accepted is None or self.is_refused else self.sample

    @property
    def to_look_at(self) -> tuple[str, ...]:
        """The codes of those that nobody has looked at yet, though it is asked for."""
        return tuple(jacket.code for jacket in self.asked if jacket.passed is None)

    def asks_for(self, code: str) -> bool:
        return any(jacket.code == code for jacket in self.asked)

    @property
    def words(self) -> str:
        if self.accepted is None:
            return f"Every jacket is looked over: {_counts(self.jackets, len(self.jackets))}."
        told = f"Sample of {len(self.sample)}: {_counts(self.sample)}, up to {self.accepted}"
        told += " accepted."
        if self.is_refused:
            seen = len(_seen(self.jackets))
            told += (
                " The lot is refused, so every jacket of it is looked over: "
                f"{seen} of {len(self.jackets)} so far."
            )
        return f"{told} The lot is accepted." if self.is_accepted else told


def lot(run: str, jackets: Iterable[LotJacket], inspecting: str) -> Lot:
    """How the jackets of a run are looked over: every one, or by the sample for an acceptance
    quality limit in percent. Beyond the largest lot of the table it is every one.

    A jacket that is cancelled goes out of the lot and the next one in the order takes its place in
    the sample, which stays as large as it was drawn: none slips out of it.
    """
    listed = tuple(jackets)
    kept = tuple(jacket for jacket in listed if not jacket.is_cancelled)
    if inspecting == EVERY or not kept or len(listed) > LARGEST_LOT:
        return Lot(kept, kept, None)
    drawn = sample_of(len(listed), inspecting)
    in_order = sorted(kept, key=lambda jacket: drawing(run, jacket.code))
    return Lot(kept, tuple(in_order[: drawn.pieces]), drawn.accepted)


def drawing(run: str, code: str) -> str:
    """Where a jacket stands in the order of drawing."""
    return sha256(f"{run} {code}".encode()).hexdigest()


def _seen(jackets: Iterable[LotJacket]) -> list[LotJacket]:
    return [jacket for jacket in jackets if jacket.passed is not None]


def _faulty(jackets: Iterable[LotJacket]) -> int:
    return sum(jacket.passed is False for jacket in jackets)


def _counts(jackets: tuple[LotJacket, ...], of: int | None = None) -> str:
    seen = f"{len(_seen(jackets))} of {of}" if of is not None else f"{len(_seen(jackets))}"
    return f"{seen} looked over, {_faulty(jackets)} faulty"

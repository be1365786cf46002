"""How actual minutes scatter about standard minutes, and what is not known about that yet.

The logarithm of actual over standard minutes of a stage of a jacket is the sum of two parts: one
that all jackets share, since a standard that is off is off for all of them, and the jacket's own.
The shared parts of the stages hang together. What was measured narrows them: the posterior of a
normal mean with a normal prior (Gelman et al., Bayesian Data Analysis, chapter 2; from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from production.planning.standing import STAGES

if TYPE_CHECKING:
    import numpy as np

    Numbers = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

#: Invented: how a jacket's own minutes scatter (standard deviation of the logarithm) before
#: anything was measured, and how many measured jackets that weighs as much as.
OWN_SPREAD, OWN_WEIGHT = 0.25, 5
#: Invented: the share of the variance of the standards' error that all stages have in common.
IN_COMMON = 0.5
#: Invented: before anything was looked over one jacket in twenty goes back, which weighs as much
#: as twenty jackets; each takes a quarter of an hour more at standard pace.
MEND_SHARE, MEND_WEIGHT, MEND_MINUTES = 0.05, 20, 15
#: The beta distribution takes no parameter of 0.
LEAST = 1e-6


@dataclass(frozen=True, slots=True)
class Spread:
    """`standards_off` is the standard deviation, before anything is measured, of the logarithm of
    what all jackets of a stage share. `ratios` are logarithms of actual over standard minutes of
    measured jackets by stage. `sent_back` of `looked_over` jackets went back to be mended."""

    standards_off: float
    ratios: Mapping[str, Sequence[float]] = field(default_factory=dict)
    sent_back: int = 0
    looked_over: int = 0
    own_spread: float = OWN_SPREAD
    own_weight: float = OWN_WEIGHT
    mend_share: float = MEND_SHARE
    mend_weight: float = MEND_WEIGHT
    mend_minutes: float = MEND_MINUTES

    def own(self, stage: str) -> float:
        """Standard deviation of a jacket's own part: the measured scatter and the one supposed
        beforehand, each with its weight."""
        ratios = self.ratios.get(stage, ())
        weight, squares = self.own_weight, self.own_weight * self.own_spread**2
        if len(ratios) > 1:
            mean = sum(ratios) / len(ratios)
            squares += sum((ratio - mean) ** 2 for ratio in ratios)
            weight += len(ratios) - 1
        return float((squares / weight) ** 0.5) if weight else 0.0

    @property
    def mend_counts(self) -> tuple[float, float]:
        """Parameters of the beta distribution of the share that goes back."""
        supposed = self.mend_share * self.mend_weight
        kept = self.looked_over - self.sent_back
        sent = supposed + self.sent_back
        return max(sent, LEAST), max(self.mend_weight - supposed + kept, LEAST)


def shared_part(spread: Spread) -> tuple[Numbers, Numbers]:
    """Mean (stages) and covariance (stages, stages) of the shared parts, in the order of STAGES,
    given what was measured."""
    import numpy as np

    prior = spread.standards_off**2
    covariance = prior * (IN_COMMON + (1 - IN_COMMON) * np.eye(len(STAGES)))
    measured = [at for at, stage in enumerate(STAGES) if spread.ratios.get(stage)]
    if not measured or not prior:
        return np.zeros(len(STAGES)), covariance
    told = [spread.ratios[STAGES[at]] for at in measured]
    means = np.array([sum(ratios) / len(ratios) for ratios in told])
    errors = [
        spread.own(STAGES[at]) ** 2 / len(ratios) for at, ratios in zip(measured, told, strict=True)
    ]
    seen = covariance[:, measured]
    gain = np.linalg.solve(covariance[np.ix_(measured, measured)] + np.diag(errors), seen.T).T
    return gain @ means, covariance - gain @ seen.T


@dataclass(frozen=True, slots=True)
class Draws:
    """Random numbers for a number of jackets, made once so that two floors can be compared on the
    same luck: standard normal ones of the shared parts (simulations, stages) and of each jacket's
    own part (simulations, jackets, stages), and which jackets go back (simulations, jackets)."""

    shared: Numbers
    own: Numbers
    mends: Numbers


def draw(jackets: int, spread: Spread, simulations: int, seed: int) -> Draws:
    """The same seed draws the same numbers."""
    import numpy as np

    chance = np.random.default_rng(seed)
    shared = chance.standard_normal((simulations, len(STAGES)))
    own = chance.standard_normal((simulations, jackets, len(STAGES)))
    if not spread.mend_share and not spread.sent_back:
        return Draws(shared, own, np.zeros((simulations, jackets)))
    share = chance.beta(*spread.mend_counts, size=(simulations, 1))
    return Draws(shared, own, (chance.random((simulations, jackets)) < share).astype(float))


def factors(spread: Spread, draws: Draws) -> Numbers:
    """Actual over standard minutes of each jacket and stage: (simulations, jackets, stages)."""
    import numpy as np

    mean, covariance = shared_part(spread)
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.clip(values, 0, None))
    shared = mean + draws.shared @ root.T
    own = draws.own * np.array([spread.own(stage) for stage in STAGES])
    return np.asarray(np.exp(shared[:, None, :] + own))

"""The forecast against textbook examples of PERT, through the app's own simulation.

A path of activities is a jacket, its activities are the steps of it; what two paths share is drawn
once and stands in both. Each path has a hand of its own, so that nothing waits but for what comes
before it, and the project is done when all paths are. Months and weeks are drawn as thousands of
minutes of a calendar that never rests.
"""

from __future__ import annotations

import datetime
from math import sqrt
from statistics import NormalDist

import numpy as np
import pytest

from production.planning.forecasts.forecast import Simulation, expected, works_of
from production.planning.forecasts.forecast_run import ends_of
from production.planning.timetable.floor import DAY, Floor, FloorJacket, Hand, Step
from production.planning.timetable.floor_room import prepare

#: Minutes of a month or a week of the examples.
UNIT = 1000
SIMULATIONS = 40_000
#: Three standard errors of a chance near one half over so many simulations.
ERROR = 3 * 0.5 / sqrt(SIMULATIONS)


def gone_through(paths: tuple[str, ...], drawn: dict[str, np.ndarray], due: float) -> Simulation:
    """The simulation of these paths of activities by the times drawn of each activity."""
    hands = tuple(Hand(path, path, (path,), (), ((0, 1000 * DAY),)) for path in paths)
    jackets = tuple(
        FloorJacket(path, "R-1", "T-1", "M", int(due * UNIT), tuple(Step(path, 1) for _ in path))
        for path in paths
    )
    floor = Floor(datetime.date(2027, 1, 4), 0, jackets, hands, {})
    works = works_of(floor, ())
    minutes = np.column_stack([UNIT * drawn[paths[w.jacket][w.step]] for w in works])
    ends = ends_of(prepare(floor), works, minutes)
    last = {work.jacket: at for at, work in enumerate(works)}
    ready = ends[:, [last[at] for at in range(len(paths))]]
    return Simulation(floor, works, ends, ready, {})


def chance(paths: tuple[str, ...], drawn: dict[str, np.ndarray], due: float) -> float:
    return expected(gone_through(paths, drawn, due), paths).chance


# The yacht: an expected time of 21 months with a variance of 4 (anstutors.com, tutorsglobe.com;
# found). The answers are recomputed.


@pytest.fixture(scope="module")
def yacht() -> dict[str, np.ndarray]:
    """One chain of four activities whose means add up to 21 and whose variances to 4 (the split is
    ours)."""
    random = np.random.default_rng(4)
    parts = {"a": (4, 1.0), "b": (6, 0.5), "c": (5, 1.5), "d": (6, 1.0)}
    return {
        name: np.maximum(random.normal(mean, sqrt(variance), SIMULATIONS), 0)
        for name, (mean, variance) in parts.items()
    }


@pytest.mark.parametrize(
    ("months", "printed"), [(17, 0.0228), (20, 0.3085), (23, 0.8413), (25, 0.9772)]
)
def test_the_yacht_is_ready_with_the_printed_chances(yacht, months, printed) -> None:
    assert NormalDist(21, 2).cdf(months) == pytest.approx(printed, abs=0.00005)
    assert chance(("abcd",), yacht, months) == pytest.approx(printed, abs=ERROR)


def test_the_yacht_is_promised_for_its_printed_day(yacht) -> None:
    """95 % due date 24.29 months; the median is the mean of 21. Three standard errors of the 95 %
    quantile, sqrt(0.95 x 0.05 / n) over the density there, are 0.063."""
    assert NormalDist(21, 2).inv_cdf(0.95) == pytest.approx(24.29, abs=0.005)
    done = gone_through(("abcd",), yacht, 21).ready.max(axis=1) / UNIT
    assert np.quantile(done, 0.95) == pytest.approx(24.29, abs=0.065)
    even = expected(gone_through(("abcd",), yacht, 21), ["abcd"]).even
    assert even is not None
    assert even / UNIT == pytest.approx(21, abs=0.04)


# The eight activities (Heizer & Render, Operations Management, project management chapter; from
# memory, arithmetic recomputed): optimistic, most likely and pessimistic weeks.

ACTIVITIES = {
    "A": (1, 2, 3),
    "B": (2, 3, 4),
    "C": (1, 2, 3),
    "D": (2, 4, 6),
    "E": (1, 4, 7),
    "F": (1, 2, 9),
    "G": (3, 4, 11),
    "H": (1, 2, 3),
}
#: All paths through C (after A), D (A, B), E and F (C), G (D, E), H (F, G).
PATHS = ("ACEGH", "ACFH", "ADGH", "BDGH")
CRITICAL = "ACEGH"


def mean_of(activity: str) -> float:
    a, m, b = ACTIVITIES[activity]
    return (a + 4 * m + b) / 6


def variance_of(activity: str) -> float:
    a, _, b = ACTIVITIES[activity]
    return ((b - a) / 6) ** 2


def as_normal(seed: int = 8) -> dict[str, np.ndarray]:
    random = np.random.default_rng(seed)
    return {
        one: np.maximum(random.normal(mean_of(one), sqrt(variance_of(one)), SIMULATIONS), 0)
        for one in ACTIVITIES
    }


def as_beta(seed: int = 8) -> dict[str, np.ndarray]:
    """Beta distributions between the optimistic and the pessimistic time with the mean of PERT: the
    parameters 1 + 4 (m - a) / (b - a) and 1 + 4 (b - m) / (b - a)."""
    random = np.random.default_rng(seed)
    return {
        one: a
        + (b - a) * random.beta(1 + 4 * (m - a) / (b - a), 1 + 4 * (b - m) / (b - a), SIMULATIONS)
        for one, (a, m, b) in ACTIVITIES.items()
    }


def test_the_expected_times_are_the_printed_ones() -> None:
    assert [mean_of(one) for one in ACTIVITIES] == [2, 3, 2, 4, 4, 3, 5, 2]


def test_the_longest_path_is_the_printed_one() -> None:
    lengths = {path: sum(map(mean_of, path)) for path in PATHS}
    assert max(lengths, key=lambda path: lengths[path]) == CRITICAL
    assert lengths[CRITICAL] == 15
    variance = sum(map(variance_of, CRITICAL))
    assert variance == pytest.approx(3.11, abs=0.005)
    assert sqrt(variance) == pytest.approx(1.76, abs=0.005)


def test_the_longest_path_alone_has_the_printed_chance() -> None:
    """P(<= 16) is .7157 by the table at Z = .57 and .7146 at the exact Z of .5669; both are within
    the error of the simulation."""
    variance = sum(map(variance_of, CRITICAL))
    assert NormalDist(15, sqrt(variance)).cdf(16) == pytest.approx(0.7146, abs=0.00005)
    assert NormalDist().cdf(0.57) == pytest.approx(0.7157, abs=0.00005)
    assert chance((CRITICAL,), as_normal(), 16) == pytest.approx(0.7146, abs=ERROR)


@pytest.mark.parametrize("drawn", [as_normal, as_beta])
def test_the_whole_project_is_less_likely_in_time_than_its_longest_path(drawn) -> None:
    """The published chance is that of one path. The others can be the longest too, so that the
    project as a whole is later: where paths merge, the last one counts."""
    times = drawn()
    path, project = chance((CRITICAL,), times, 16), chance(PATHS, times, 16)
    assert project < path - 2 * ERROR
    assert project < 0.7146 - 2 * ERROR


def test_beta_times_have_their_own_variance_and_nearly_the_same_chance() -> None:
    """The variance of such a beta distribution is (mean - a)(b - mean) / 7, to which the square of
    (b - a) / 6 is only near: (b - a)² / 28 in the middle instead of / 36, less for skewed ones. The
    chance of the path by beta times differs from the printed one by less than three points."""
    times = as_beta()
    for one, (a, m, b) in ACTIVITIES.items():
        mean = mean_of(one)
        assert times[one].var() == pytest.approx((mean - a) * (b - mean) / 7, rel=0.04)
        assert times[one].mean() == pytest.approx(mean, abs=0.03)
        assert a <= times[one].min() and times[one].max() <= b and a <= m <= b
    assert chance((CRITICAL,), times, 16) == pytest.approx(0.7146, abs=0.03)

"""How long the schedule of the workroom takes, and how much better it is than the simple orders.

    python -m tests.benchmarks.run_floor [--seconds S] [--workers N] [--seeds N]

One line for each made-up floor (numbers invented, see tests/production/made_up_floors.py): the best
of the simple orders in the same run, then the schedule: value, late jackets, minutes late, minutes
of change, work minutes until everything is ready; bound and gap; wall seconds of the whole call.
Ends with Taillard's ta001. Stops at a schedule with a fault. Run by hand; nothing is asserted about
time.
"""

from __future__ import annotations

import argparse
import time

from production.planning.timetable.floor import Floor, FloorSchedule
from production.planning.timetable.floor_check import faults
from production.planning.timetable.floor_dispatch import dispatch
from production.planning.timetable.floor_schedule import schedule
from tests.production.made_up_floors import team_floor
from tests.published.test_scheduling import ta001

#: Jackets, people, deadlines of the runs in days.
FLOORS = (
    (10, 3, (2,)),
    (50, 3, (6,)),
    (50, 3, (2, 3)),
    (50, 3, (2,)),
    (200, 6, (5, 9, 12)),
    (200, 6, (3, 5, 8)),
    (200, 6, (3, 4, 5)),
)


def words(made: FloorSchedule) -> str:
    return (
        f"value {made.value:9d}  late {made.late_jackets:3d}  by {made.late_minutes:6d} min  "
        f"changes {made.change_minutes:4d} min"
    )


def measure(name: str, made_up: Floor, seconds: float, workers: int, seed: int) -> None:
    begun = time.perf_counter()
    simple = dispatch(made_up)
    simple_seconds = time.perf_counter() - begun
    begun = time.perf_counter()
    made = schedule(made_up, seconds, workers, seed)
    took = time.perf_counter() - begun
    wrong = faults(made_up, made) + faults(made_up, simple)
    if wrong:
        raise SystemExit(f"{name}: {wrong[0]}")
    gap = "-" if made.gap is None else f"{100 * made.gap:.1f} %"
    print(f"{name}, seed {seed}")
    print(f"  simple   {words(simple)}  {simple_seconds:5.2f} s")
    print(f"  schedule {words(made)}  {took:5.2f} s  bound {made.bound}, gap {gap}")
    print(f"           {made.method}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--seconds", type=float, default=4.0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seeds", type=int, default=1)
    asked = parser.parse_args()
    for seed in range(1, asked.seeds + 1):
        for jackets, people, dues in FLOORS:
            name = f"{jackets} jackets, {people} people, deadlines on days {dues}"
            measure(name, team_floor(jackets, people, dues), asked.seconds, asked.workers, seed)
        measure("ta001", ta001(), asked.seconds, asked.workers, seed)


if __name__ == "__main__":
    main()

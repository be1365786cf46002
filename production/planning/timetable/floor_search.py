"""Better and better timetables in the time that there is: where the floor is small, one model of
everything; else a model of bundles of jackets alike, and then thousands of small moves."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from production.planning.timetable.floor_aim import Aim, aim_of, missed, worth
from production.planning.timetable.floor_bundles import bundled, given_back
from production.planning.timetable.floor_capacity import minutes_of
from production.planning.timetable.floor_choices import Table, may_move
from production.planning.timetable.floor_dispatch import timetable
from production.planning.timetable.floor_flow import Policy, flow
from production.planning.timetable.floor_model import Found, Part
from production.planning.timetable.floor_moves import move
from production.planning.timetable.floor_orders import simple_orders
from production.planning.timetable.floor_room import Room, StepKey, prepare
from production.planning.timetable.floor_settle import settle

#: Choices of hands and of changes up to which everything goes into one model.
MOST_CHOICES, MOST_BUNDLE_CHOICES = 1500, 3500
#: Jackets up to which an order by insertion is made.
MOST_INSERTED = 24
#: Jackets in a bundle that are tried; how many bundles are few; the most for each jacket.
BUNDLES, FEW_BUNDLES, LEAST_ALIKE = (2, 3, 4, 6, 8, 12, 16), 45, 0.7
#: Shares of the time: for moves before the one model, for bundles before jackets; of that, for
#: simple orders of bundles and for moves of bundles, until the solver has them.
MOVES_SHARE, BUNDLES_SHARE, STARTS_SHARE, BUNDLE_MOVES_SHARE = 0.4, 0.45, 0.2, 0.7
#: Steps that the solver orders anew at a time at the end, and from which share of the time on.
WINDOW, WINDOWS_FROM = 36, 0.85
#: Seconds for one of them at most, and those that are worth beginning one.
WINDOW_SECONDS, LEAST_SECONDS = 0.3, 0.08
FIRST_ORDERS = ("by deadline, then threads", "by deadline, shortest first", "by deadline")


@dataclass(frozen=True, slots=True)
class Best:
    """`bound` is the solver's own; None where its model was not the whole truth. `words` say what
    was done."""

    table: Table
    aim: Aim
    bound: int | None
    words: str


def starts(room: Room, until: float) -> Iterable[tuple[str, Table]]:
    """Timetables without any search, by the name of their order: filled jacket by jacket, or made
    hour by hour with more or less patience. At least one; no more after the moment `until`."""
    orders: dict[tuple[str, ...], str] = {}
    for name, order in simple_orders(room):
        orders.setdefault(order, name)
    best_first = sorted(orders, key=lambda order: orders[order] not in FIRST_ORDERS)
    places = len(room.jackets) / 5
    hourly: list[Callable[[Sequence[str]], Table]] = [
        lambda order: flow(room, order, Policy(10.0)),
        lambda order: flow(room, order, Policy(100.0, places)),
        lambda order: flow(room, order, Policy(10.0, -places)),
        lambda order: flow(room, order, Policy(100.0, places, True)),
        lambda order: flow(room, order, Policy(100.0, 0.0, True)),
    ]

    def filled(order: Sequence[str]) -> Table:
        return {(placed.jacket, placed.step): placed for placed in timetable(room, order)}

    first, rest = best_first[:3], best_first[3:]
    if len(room.jackets) <= MOST_INSERTED:
        yield "by insertion", filled(inserted(room, until))
    tries = [*product([filled], first[:1]), *product(hourly, first), *product(hourly[:1], rest)]
    tries += [*product([filled], best_first[1:]), *product(hourly[1:3], rest)]
    for way, order in tries:
        yield orders[order], way(order)
        if time.perf_counter() > until:
            return


def inserted(room: Room, until: float) -> list[str]:
    """The order by insertion, the longest jackets first, each where it does least harm (Nawaz,
    Enscore and Ham, Omega 11(1), 1983), as far as the time goes."""
    order: list[str] = []
    longest = sorted(room.jackets, key=lambda code: -minutes_of(room.jackets[code]))
    for count, code in enumerate(longest):
        if time.perf_counter() > until:
            return order + longest[count:]
        some = room.only([*order, code])
        tries = [[*order[:at], code, *order[at:]] for at in range(count + 1)]
        order = min(tries, key=lambda each: worth(some, timetable(some, each)))
    return order


def improve(room: Room, start: Table, until: float, workers: int, seed: int, least: int) -> Best:
    """A timetable at least as good as `start`, by the moment `until` of `time.perf_counter`, or
    as soon as its value is `least`."""
    begun = time.perf_counter()
    best = _better(room, start, settle(room, start))
    if (aim := aim_of(room, best.values())).value <= least:
        return Best(best, aim, None, "nothing better is possible")
    if choices(room) <= MOST_CHOICES:
        moved, tries = move(room, best, begun + MOVES_SHARE * (until - begun), seed)
        return _as_one_model(room, _better(room, best, moved), until, workers, seed, tries)
    words = []
    found = None
    if not aim.late_jackets:  # a bundle is late as a whole: no help where jackets are late
        found = _as_bundles(room, best, begun + BUNDLES_SHARE * (until - begun), workers, seed)
    if found is not None:
        best = _better(room, best, found[0])
        words.append(found[1])
    moved, tries = move(room, best, begun + WINDOWS_FROM * (until - begun), seed)
    best, windows = _by_windows(room, _better(room, best, moved), until, workers, seed)
    words += [f"{tries} moves", f"solver over {windows} windows of {WINDOW} steps"]
    return Best(best, aim_of(room, best.values()), None, ", ".join(words))


def _by_windows(
    room: Room, table: Table, until: float, workers: int, seed: int
) -> tuple[Table, int]:
    """The solver over the next steps, then over those after, half a window on each time, while the
    rest stays where it is."""
    count = 0
    for at in range(0, len(table), WINDOW // 2):
        left = until - time.perf_counter()
        if left < LEAST_SECONDS:
            break
        soon = sorted(table, key=lambda key: table[key].start)[at : at + WINDOW]
        found = Part(room, table, soon).solve(min(left, WINDOW_SECONDS), workers, seed)
        if found.table:
            table = _better(room, table, settle(room, found.table))
        count += 1
    return table, count


def choices(room: Room) -> int:
    """About how many choices a model of everything has: a hand for each step, and at machines on
    which something is changed what follows each step."""
    at_kind: dict[str, list[StepKey]] = {}
    for code, at in room.able:
        at_kind.setdefault(room.jackets[code].steps[at].machine, []).append((code, at))
    hands = sum(len(room.able[key]) for keys in at_kind.values() for key in keys)
    arcs = 0
    for kind in room.changing & at_kind.keys():
        users = {hand for key in at_kind[kind] for hand in room.able[key]}
        arcs += len(at_kind[kind]) ** 2 * room.shared.get(kind, len(users))
    return hands + arcs


def _as_one_model(
    room: Room, table: Table, until: float, workers: int, seed: int, tries: int
) -> Best:
    part = Part(room, table)
    found = part.solve(until - time.perf_counter(), workers, seed)
    best = _better(room, table, settle(room, found.table)) if found.table else table
    words = f"{tries} moves, then the solver over every step"
    return Best(best, aim_of(room, best.values()), _bound(room, table, found), words)


def _bound(room: Room, table: Table, found: Found) -> int | None:
    """The solver's, where its model was the whole truth: nobody leaves while others work, nothing
    is kept in a place that it need not have, no pin was given up before."""
    is_whole = all(each.is_whole for each in room.presences.values())
    is_free = all(
        may_move(room, placed) or (key in room.in_work and not placed.start)
        for key, placed in table.items()
    )
    has_minutes = all(step.minutes for each in room.jackets.values() for step in each.steps)
    if is_whole and is_free and has_minutes and not missed(room, table.values()):
        return found.bound
    return None


def _as_bundles(
    room: Room, table: Table, until: float, workers: int, seed: int
) -> tuple[Table, str] | None:
    """The timetable by moves of bundles, and where they are few enough by the solver over them, in
    words; None where the jackets are too unlike."""
    found = _few(room, _by_start(table))
    if found is None:
        return None
    few, bundles = found
    begun, words = time.perf_counter(), f"moves of {len(bundles)} bundles of jackets alike"
    start = min(
        (made for _, made in starts(few, begun + STARTS_SHARE * (until - begun))),
        key=lambda made: worth(few, made.values()),
    )
    is_solved = choices(few) <= MOST_BUNDLE_CHOICES
    share = BUNDLE_MOVES_SHARE if is_solved else 1
    best: Table = move(few, start, begun + share * (until - begun), seed)[0]
    if is_solved:
        weights = {code: len(codes) for code, codes in bundles.items()}
        solved = Part(few, best, weights=weights).solve(until - time.perf_counter(), workers, seed)
        if solved.table:
            best = _better(few, best, settle(few, solved.table))
        words += " and the solver over them"
    return settle(room, given_back(room, best, bundles)), words


def _few(room: Room, order: Sequence[str]) -> tuple[Room, dict[str, tuple[str, ...]]] | None:
    """The room of the smallest bundles that are few enough for the solver, or at least few."""
    few = None
    for most in BUNDLES:
        floor, bundles = bundled(room, order, most)
        if len(bundles) > min(FEW_BUNDLES, len(order) * LEAST_ALIKE):
            continue
        few = few or (prepare(floor), bundles)
        if choices(solvable := prepare(floor)) <= MOST_BUNDLE_CHOICES:
            return solvable, bundles
    return few


def _by_start(table: Table) -> Sequence[str]:
    return list(dict.fromkeys(key[0] for key in sorted(table, key=lambda key: table[key].start)))


def _better(room: Room, table: Table, other: Table) -> Table:
    return min((table, other), key=lambda each: worth(room, each.values()))

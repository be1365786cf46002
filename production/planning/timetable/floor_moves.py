"""Small moves in a timetable, thousands a second: a step beside one that is sewn alike, to another
hand or time, a jacket sooner or later, two jackets in each other's place. What is worse is kept for
a while at first, as metal cools (simulated annealing; Kirkpatrick, Gelatt and Vecchi, Science 220,
1983)."""

from __future__ import annotations

import random
import time
from collections.abc import Mapping
from math import exp

from production.planning.timetable.floor_lists import FlatTable, numbers_by
from production.planning.timetable.floor_machines import Placed
from production.planning.timetable.floor_room import Room, StepKey

#: A timetable that is worse by so much of the aim is kept in one of three cases at the beginning.
WARMTH = 5.0
#: How far a step or a jacket goes at a time, in minutes.
STEP_MINUTES, JACKET_MINUTES = 100.0, 300.0
#: So many moves for each step are enough.
TRIES_EACH = 1000


def move(
    room: Room, table: Mapping[StepKey, Placed], until: float, seed: int
) -> tuple[dict[StepKey, Placed], int]:
    """A timetable at least as good, and how many were tried until the moment `until` of
    `time.perf_counter`."""
    flat = FlatTable(room, table)
    value = best = flat.value()
    moves = _Moves(flat, random.Random(seed))
    kept = flat.state()
    begun, tries = time.perf_counter(), 0
    most = TRIES_EACH * len(flat.keys) if moves.can_move else 0
    while tries < most and (now := time.perf_counter()) < until:
        tries += 1
        before = flat.state()
        moves.make()
        new = flat.value()
        left = min((until - now) / (until - begun), 1 - tries / most)
        if not _is_taken(new - value, WARMTH * left, moves.chance):
            flat.restore(before)
            continue
        value = new
        flat.rank_by_start()
        if value < best:
            best, kept = value, flat.state()
    flat.restore(kept)
    flat.value()
    return flat.table(), tries


def _is_taken(worse: float, warmth: float, chance: random.Random) -> bool:
    return worse <= 0 or chance.random() < exp(-worse / max(warmth, 1e-9))


class _Moves:
    def __init__(self, flat: FlatTable, chance: random.Random) -> None:
        self.flat, self.chance = flat, chance
        self.movable = [at for at, is_fixed in enumerate(flat.is_fixed) if not is_fixed]
        self.can_move = len(self.movable) > 1
        alike = [f"{kind} {setting}" for kind, setting in zip(flat.kind, flat.setting, strict=True)]
        self.alike_of, self.alike = alike, numbers_by(alike)
        codes = numbers_by([code for code, _ in flat.keys])
        self.steps_of = {
            code: sorted(steps, key=lambda at: flat.keys[at][1]) for code, steps in codes.items()
        }
        self.codes = list(codes)

    def make(self) -> None:
        kind = self.chance.random()
        if kind < 0.3:
            self._beside_alike()
        elif kind < 0.5:
            self._other_hand()
        elif kind < 0.65:
            at = self.chance.choice(self.movable)
            self._to(at, self.flat.rank[at] + self.chance.gauss(0, STEP_MINUTES))
        elif kind < 0.8:
            self._jacket()
        elif kind < 0.92:
            self._beside_jacket()
        else:
            self._swap()

    def _beside_alike(self) -> None:
        """A step before which something is changed goes beside one that needs the same."""
        flat, chance = self.flat, self.chance
        at = chance.choice(self.movable)
        for _ in range(30):
            if flat.change[at]:
                break
            at = chance.choice(self.movable)
        others = self.alike[self.alike_of[at]]
        if flat.unit[at] < 0 or len(others) < 2:
            return
        some = [other for other in chance.choices(others, k=4) if other != at]
        if not some:
            return
        other = min(some, key=lambda each: abs(flat.start[each] - flat.start[at]))
        if flat.is_shared[at]:
            flat.unit[at] = flat.unit[other]
        elif flat.hand[other] in flat.able[at]:
            flat.hand[at], flat.unit[at] = flat.hand[other], flat.unit[other]
        self._to(at, flat.rank[other] + chance.choice((-0.5, 0.5)))

    def _other_hand(self) -> None:
        flat, chance = self.flat, self.chance
        at = chance.choice(self.movable)
        flat.hand[at] = chance.choice(flat.able[at])
        number = 0
        if flat.is_shared[at]:
            number = chance.randrange(flat.room.shared[flat.kind[at]])
        flat.unit[at] = flat.unit_of(at, flat.hand[at], number)
        if chance.random() < 0.5:
            self._to(at, flat.rank[at] + chance.gauss(0, STEP_MINUTES))

    def _to(self, at: int, rank: float) -> None:
        """A step to another rank, with those of its jacket that must come before or after."""
        flat = self.flat
        flat.rank[at] = edge = rank
        before = flat.before[at]
        while before >= 0 and flat.rank[before] >= edge:
            edge -= 0.01
            flat.rank[before] = edge
            before = flat.before[before]
        edge, after = rank, flat.after[at]
        while after >= 0 and flat.rank[after] <= edge:
            edge += 0.01
            flat.rank[after] = edge
            after = flat.after[after]

    def _jacket(self) -> None:
        """All of a jacket that is left sooner or later."""
        flat = self.flat
        shift = self.chance.gauss(0, JACKET_MINUTES)
        for at in self.steps_of[self.chance.choice(self.codes)]:
            if not flat.is_fixed[at]:
                flat.rank[at] = max(flat.rank[at] + shift, 0.0)

    def _beside_jacket(self) -> None:
        """All of a jacket just before or after another, step by step."""
        flat = self.flat
        one, other = (self.steps_of[code] for code in self.chance.choices(self.codes, k=2))
        if len(one) != len(other) or one is other or flat.is_fixed[one[0]]:
            return
        aside = self.chance.choice((-0.5, 0.5))
        for a, b in zip(one, other, strict=True):
            flat.rank[a] = max(flat.rank[b], 0.0) + aside

    def _swap(self) -> None:
        """Two jackets, step by step, where both are done by who can do the other."""
        flat = self.flat
        one, other = (self.steps_of[code] for code in self.chance.choices(self.codes, k=2))
        if len(one) != len(other) or any(flat.is_fixed[at] for at in (one[0], other[0])):
            return
        for a, b in zip(one, other, strict=True):
            flat.rank[a], flat.rank[b] = flat.rank[b], flat.rank[a]
            if flat.kind[a] == flat.kind[b] and self._can_swap(a, b):
                flat.hand[a], flat.hand[b] = flat.hand[b], flat.hand[a]
                flat.unit[a], flat.unit[b] = flat.unit[b], flat.unit[a]

    def _can_swap(self, a: int, b: int) -> bool:
        flat = self.flat
        return flat.hand[b] in flat.able[a] and flat.hand[a] in flat.able[b]

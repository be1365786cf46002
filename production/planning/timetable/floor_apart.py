"""The schedule made in a process of its own, which is ended in time: the search is Python that
never rests, and in the process that serves the pages everybody would wait for it."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec

from production.planning.nesting.solver import PASSED_ON
from production.planning.timetable.floor import Floor, FloorError, FloorSchedule
from production.planning.timetable.floor_schedule import schedule

COMMAND = (sys.executable, "-m", "production.planning.timetable.floor_child")
#: Where the child finds the program.
PROGRAM = Path(__file__).parents[3]
#: A shorter search is over before others notice it, and before a process is up.
LEAST_SECONDS = 1.0
#: A child is ended after twice its time and so much more.
SPARE_SECONDS = 5.0

NOT_STARTED = "a process of its own could not be started"
HUNG = "the process that made it did not end in time"
ENDED = "the process that made it was stopped by the machine"


class Asked(msgspec.Struct, frozen=True):
    """`until` is the moment of `time.time` by which the answer is wanted."""

    floor: Floor
    seconds: float
    until: float


class Answer(msgspec.Struct, frozen=True):
    """The schedule, or the words of the FloorError."""

    schedule: FloorSchedule | None = None
    error: str = ""


@dataclass(frozen=True, slots=True)
class Trouble(Exception):
    words: str


def schedule_apart(floor: Floor, seconds: float = 4.0) -> FloorSchedule:
    """As `floor_schedule.schedule`, start of the process included in its seconds. Where the process
    fails, a shorter search is made here, and a note says so. Raises FloorError where nobody has any
    hours."""
    if seconds < LEAST_SECONDS:
        return schedule(floor, seconds)
    begun = time.perf_counter()
    try:
        answer = _answer(Asked(floor, seconds, time.time() + seconds))
    except Trouble as trouble:
        made = schedule(floor, LEAST_SECONDS)
        note = f"Only a short search was made, because {trouble.words}. Plan anew for a longer one."
        return replace(made, notes=(*made.notes, note))
    if answer.schedule is None:
        raise FloorError(answer.error)
    return replace(answer.schedule, seconds=time.perf_counter() - begun)


def _answer(asked: Asked) -> Answer:
    try:
        child = subprocess.run(
            COMMAND,
            input=msgspec.json.encode(asked),
            stdout=subprocess.PIPE,
            env={name: os.environ[name] for name in PASSED_ON if name in os.environ},
            cwd=PROGRAM,
            timeout=2 * asked.seconds + SPARE_SECONDS,
            start_new_session=True,
            check=True,
        )
        return msgspec.json.decode(child.stdout, type=Answer)
    except OSError as error:
        raise Trouble(NOT_STARTED) from error
    except subprocess.TimeoutExpired as error:
        raise Trouble(HUNG) from error
    except (subprocess.CalledProcessError, msgspec.DecodeError) as error:
        raise Trouble(ENDED) from error

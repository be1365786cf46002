"""The process that makes one schedule: a question as JSON on stdin, the answer as JSON on stdout.
Run by `floor_apart`, whose `Asked` and `Answer` they are; it has no way to a
database."""

from __future__ import annotations

import sys
import time

import msgspec

from production.planning.timetable.floor import FloorError
from production.planning.timetable.floor_apart import Answer, Asked
from production.planning.timetable.floor_schedule import schedule


def main() -> None:
    asked = msgspec.json.decode(sys.stdin.buffer.read(), type=Asked)
    left = max(asked.until - time.time(), asked.seconds / 2)
    try:
        answer = Answer(schedule(asked.floor, min(left, asked.seconds)))
    except FloorError as error:
        answer = Answer(error=str(error))
    sys.stdout.buffer.write(msgspec.json.encode(answer))


if __name__ == "__main__":
    main()

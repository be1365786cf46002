"""The solver in a process of its own, watched: asked once, heard while it works, ended in time."""

from __future__ import annotations

import json
import os
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from time import monotonic
from typing import IO

from production.planning.nesting.blocks import (
    NestBlock,
    NestPlace,
    Strip,
    box,
    clean_ring,
    pieces_of,
    turned,
)

#: By its path and without the path of the program: the child knows spyrrow and nothing else.
COMMAND = (sys.executable, "-P", str(Path(__file__).with_name("child.py")))
#: Of the environment a child gets what Python needs to start, so no database address or secret.
PASSED_ON = ("PATH", "PYTHONPATH", "VIRTUAL_ENV", "LANG", "LC_ALL", "SYSTEMROOT", "TMPDIR")
#: Address space, not memory used: 50 MB are used, threads and allocator reserve far more.
MEMORY_BYTES = 4 << 30
#: A line longer than this is no answer.
LONGEST_LINE = 8 << 20
#: The solver refuses a block exactly as wide as the cloth; this much is added for such blocks.
SPARE_WIDTH_MM = 0.004
#: Part of the time for shrinking the best nest found.
COMPRESSION = 0.2

#: A child is ended after twice its time and so much more.
SPARE_SECONDS = 10.0

KILLED = "nesting was stopped by the machine"
UNREADABLE = "nesting gave an answer that cannot be read"
HUNG = "nesting did not end in time"
NOT_STARTED = "nesting could not be started"


class SolverProcess:
    """One run of the solver. Use as a context manager: no child outlives the block.

    `trouble` says in words what went wrong, or is empty.
    """

    def __init__(
        self, blocks: Sequence[NestBlock], strip: Strip, seconds: float, seed: int, workers: int
    ) -> None:
        self._blocks = blocks
        self._centers = [_center(clean_ring(block)) for block in blocks]
        self._shift_mm = strip.gap_mm
        self._question = _question(blocks, self._centers, strip, seconds, seed, workers)
        self._lines: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._ends_at = monotonic() + 2 * seconds + SPARE_SECONDS
        self._is_last = False
        self.trouble = ""
        self._child: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> SolverProcess:
        try:
            self._child = child = subprocess.Popen(
                COMMAND,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={name: os.environ[name] for name in PASSED_ON if name in os.environ},
                start_new_session=True,
            )
        except OSError:
            self.trouble = NOT_STARTED
            return self
        assert child.stdin and child.stdout
        # Both in threads, so that a child that neither reads nor writes holds up nothing.
        threading.Thread(target=_ask, args=(child.stdin, self._question), daemon=True).start()
        threading.Thread(target=_hear, args=(child.stdout, self._lines), daemon=True).start()
        return self

    def __exit__(self, *exception: object) -> None:
        if self._child is not None:
            self._child.kill()
            self._child.wait()

    @property
    def is_done(self) -> bool:
        return bool(self.trouble) or self._is_last

    def interrupt(self) -> None:
        """Asks for the best so far."""
        if self._child is not None and self._child.poll() is None:
            self._child.send_signal(signal.SIGINT)

    def newest(self, wait_seconds: float) -> tuple[NestPlace, ...] | None:
        """The newest answer since the last call, waiting at most so long for one."""
        line = None
        try:
            line = self._lines.get(timeout=wait_seconds)
            while line and not self._lines.empty():
                # The empty line is the end of the answers and must not hide the last one.
                following = self._lines.get()
                if not following:
                    self._lines.put(following)
                    break
                line = following
        except queue.Empty:
            if monotonic() > self._ends_at:
                self._fail(HUNG)
            return None
        if not line:
            self._fail(KILLED)
            return None
        return self._read(line)

    def _fail(self, trouble: str) -> None:
        self.trouble = trouble
        if self._child is not None:
            self._child.kill()

    def _read(self, line: bytes) -> tuple[NestPlace, ...] | None:
        try:
            told = json.loads(line, parse_constant=_refuse)
            places = tuple(
                self._place(int(number), float(x), float(y), float(turn))
                for number, x, y, turn in told["places"]
            )
            self._is_last = bool(told["is_last"])
        except (ValueError, TypeError, KeyError, IndexError, OverflowError):
            self._fail(UNREADABLE)
            return None
        return places

    def _place(self, number: int, x_mm: float, y_mm: float, turn_deg: float) -> NestPlace:
        block = self._blocks[number]
        # The solver tells turns in single precision; the allowed one nearest to it is meant.
        turn_deg = min(block.turns, key=lambda turn: abs((turn - turn_deg + 180) % 360 - 180))
        ((aside_x, aside_y),) = turned((self._centers[number],), turn_deg)
        return NestPlace(block.key, x_mm - aside_x, y_mm - aside_y - self._shift_mm, turn_deg)


def _refuse(constant: str) -> float:
    raise ValueError(f"{constant} is not a measure")


def _center(ring: Sequence[tuple[float, float]]) -> tuple[float, float]:
    left, low, right, high = box(tuple(ring))
    return (left + right) / 2, (low + high) / 2


def _question(
    blocks: Sequence[NestBlock],
    centers: Sequence[tuple[float, float]],
    strip: Strip,
    seconds: float,
    seed: int,
    workers: int,
) -> bytes:
    fitting = [pieces_of(block, strip) for block in blocks]
    widest = max(piece.breadth_mm for pieces in fitting for piece in pieces)
    # The solver keeps the gap from the edges of the cloth too: a wider cloth gives it back.
    height = strip.width_mm + 2 * strip.gap_mm
    if widest > strip.width_mm - SPARE_WIDTH_MM:
        height += SPARE_WIDTH_MM
    question = {
        "blocks": [
            {
                "outline": [(x - center_x, y - center_y) for x, y in clean_ring(block)],
                "count": block.count,
                "turns": [piece.turn_deg for piece in pieces],
            }
            for block, (center_x, center_y), pieces in zip(blocks, centers, fitting, strict=True)
        ],
        "height": height,
        "gap": strip.gap_mm,
        "exploration": seconds * (1 - COMPRESSION),
        "compression": seconds * COMPRESSION,
        "seed": seed,
        "workers": workers,
        "memory": MEMORY_BYTES,
    }
    return json.dumps(question).encode() + b"\n"


def _ask(stdin: IO[bytes], question: bytes) -> None:
    try:
        with stdin:
            stdin.write(question)
    except BrokenPipeError:
        return  # the child ended before it read; the end of its answers tells of that


def _hear(stdout: IO[bytes], lines: queue.SimpleQueue[bytes]) -> None:
    """Passes lines on; an empty one is the end."""
    with stdout:
        while line := stdout.readline(LONGEST_LINE):
            lines.put(line)
    lines.put(b"")

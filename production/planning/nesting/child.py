"""The process that runs spyrrow: one question as JSON on stdin, better answers as JSON lines.

Run by `production.planning.nesting.solver`, alone: it imports nothing of the program, so it starts
fast and has no way to a database. spyrrow panics on some shapes and cannot be stopped from a
thread; here both end this process and nothing else. An interrupt makes it answer with its best.

Question: {"blocks": [{"outline": [[x, y], …], "count": n, "turns": [deg, …]}, …], "height": mm,
"gap": mm, "exploration": s, "compression": s, "seed": n, "workers": n, "memory": bytes}
Answer: {"places": [[number of the block, x, y, deg], …], "is_last": bool}
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
from datetime import timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import spyrrow

LOOK_EVERY_SECONDS = 0.1
TELLING = threading.Lock()


def main() -> None:
    question = json.loads(sys.stdin.buffer.readline())
    limit_memory(question["memory"])
    import spyrrow

    progress = spyrrow.ProgressQueue()
    threading.Thread(target=report, args=(progress, os.getppid()), daemon=True).start()
    # In the main thread, the only one that an interrupt reaches.
    best = strip_of(question).solve(config_of(question), progress)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    tell(best, is_last=True)


def limit_memory(highest_bytes: int) -> None:
    try:
        import resource
    except ImportError:  # Windows has no such limit; the time limit still holds there
        return
    resource.setrlimit(resource.RLIMIT_AS, (highest_bytes, highest_bytes))


def strip_of(question: dict[str, Any]) -> spyrrow.StripPackingInstance:
    import spyrrow

    items = [
        spyrrow.Item(
            str(number), [(x, y) for x, y in block["outline"]], block["count"], block["turns"]
        )
        for number, block in enumerate(question["blocks"])
    ]
    return spyrrow.StripPackingInstance("", question["height"], items)


def config_of(question: dict[str, Any]) -> spyrrow.StripPackingConfig:
    import spyrrow

    config = spyrrow.StripPackingConfig(
        seed=question["seed"],
        num_workers=question["workers"],
        min_items_separation=question["gap"] or None,
    )
    # Set here, for it is made with whole seconds only.
    config.exploration_time = timedelta(seconds=question["exploration"])
    config.compression_time = timedelta(seconds=question["compression"])
    return config


def report(progress: spyrrow.ProgressQueue, parent: int) -> None:
    """Tells each better answer while the solver runs; ends the process when its parent is gone."""
    import spyrrow

    feasible = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas)
    tick = threading.Event()
    while not tick.wait(LOOK_EVERY_SECONDS):
        if os.getppid() != parent:
            os._exit(1)
        found = [solution for kind, solution in progress.drain() if kind in feasible]
        if found:
            tell(min(found, key=lambda solution: solution.width), is_last=False)


def tell(solution: spyrrow.StripPackingSolution, *, is_last: bool) -> None:
    places = [[int(item.id), *item.translation, item.rotation] for item in solution.placed_items]
    with TELLING:
        print(json.dumps({"places": places, "is_last": is_last}), flush=True)


if __name__ == "__main__":
    main()

"""The solver's process: killed, hung, talking nonsense, out of memory, stopped, kept apart."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path
from time import monotonic
from typing import Any

import pytest

from production.planning.nesting import ROWS, Nest, Strip, child, faults_of, nest, solver
from production.planning.nesting.rows import in_rows
from tests.production.nesting_factories import polygon

BLOCKS = [polygon("Triangle", ((0.0, 0.0), (300.0, 0.0), (0.0, 200.0)), 8, 0.0, 180.0)]
STRIP = Strip(610.0, 4.0)


def run_instead(monkeypatch: pytest.MonkeyPatch, program: str) -> None:
    monkeypatch.setattr(solver, "COMMAND", (sys.executable, "-c", program))


def assert_rows(found: Nest, note: str) -> None:
    assert (found.method, found.note) == (ROWS, note)
    assert faults_of(found, BLOCKS, STRIP) == []


def test_solver_that_ends_without_an_answer_leaves_rows(monkeypatch):
    run_instead(monkeypatch, "import os, signal; os.kill(os.getpid(), signal.SIGKILL)")
    assert_rows(
        nest(BLOCKS, STRIP, 5), "nesting was stopped by the machine; rows moved together are used"
    )


def test_solver_that_never_answers_is_ended(monkeypatch):
    run_instead(
        monkeypatch,
        "import signal, time; signal.signal(signal.SIGINT, signal.SIG_IGN); time.sleep(60)",
    )
    monkeypatch.setattr(solver, "SPARE_SECONDS", 0.2)
    began = monotonic()
    found = nest(BLOCKS, STRIP, 0.3)
    # Whether there was the time to move the rows together is left to the machine.
    is_moved = found.length_mm < in_rows(BLOCKS, STRIP).length_mm
    rows = "rows moved together" if is_moved else "rows"
    assert_rows(found, f"nesting did not end in time; {rows} are used")
    assert monotonic() - began < 10


def test_solver_that_cannot_be_started_leaves_rows(monkeypatch):
    monkeypatch.setattr(solver, "COMMAND", ("/nowhere/to/be/found",))
    assert_rows(
        nest(BLOCKS, STRIP, 5), "nesting could not be started; rows moved together are used"
    )


@pytest.mark.parametrize(
    "said",
    [
        "nonsense",
        '{"places": 3, "is_last": true}',
        '{"places": [[99, 0, 0, 0]], "is_last": true}',
        '{"places": [["0", null, 0, 0]], "is_last": true}',
        '["places"]',
        '{"places": [[0, NaN, 0, 0]], "is_last": true}',
        '{"places": [[0, 1e999, 0, "x"]], "is_last": true}',
    ],
)
def test_answer_that_cannot_be_read_leaves_rows(monkeypatch, said):
    run_instead(monkeypatch, f"print({said!r}, flush=True); import time; time.sleep(60)")
    assert_rows(
        nest(BLOCKS, STRIP, 5),
        "nesting gave an answer that cannot be read; rows moved together are used",
    )


@pytest.mark.parametrize(
    "places",
    [
        [[0, 0.0, 0.0, 0.0]] * 8,
        [[0, 500.0 * at, 300.0, 0.0] for at in range(7)],
        [[0, 500.0 * at, 300.0, 0.0] for at in range(9)],
        [[0, 500.0 * at, 900.0, 0.0] for at in range(8)],
    ],
    ids=["all on one spot", "one missing", "one too many", "off the cloth"],
)
def test_answer_that_cannot_be_cut_is_not_believed(monkeypatch, places):
    run_instead(
        monkeypatch,
        f"import json; print(json.dumps(dict(places={places!r}, is_last=True)))",
    )
    assert_rows(
        nest(BLOCKS, STRIP, 5),
        "nesting gave an answer that cannot be cut; rows moved together are used",
    )


def test_solver_without_memory_leaves_rows(monkeypatch):
    monkeypatch.setattr(solver, "MEMORY_BYTES", 16 << 20)
    assert_rows(
        nest(BLOCKS, STRIP, 5), "nesting was stopped by the machine; rows moved together are used"
    )


def watched(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """The child processes that are started from now on."""
    children = []
    start = subprocess.Popen

    def started(*args: Any, **values: Any) -> Any:
        children.append(start(*args, **values))
        return children[-1]

    monkeypatch.setattr(subprocess, "Popen", started)
    return children


def test_solver_killed_midway_leaves_its_last_sound_answer(monkeypatch):
    children = watched(monkeypatch)
    told: list[Nest] = []

    def kill_once_it_has_answered() -> bool:
        if told[-1].method != ROWS:
            children[0].kill()
        return False

    found = nest(BLOCKS, STRIP, 20, on_better=told.append, is_stopped=kill_once_it_has_answered)
    assert found.method == "nested" and found.note == ""
    assert found.length_mm == told[-1].length_mm
    assert faults_of(found, BLOCKS, STRIP) == []
    assert len(children) == 1 and children[0].returncode == -9


def test_stopped_nesting_ends_soon_and_leaves_no_process(monkeypatch):
    children = watched(monkeypatch)
    found = nest(BLOCKS, STRIP, 60, is_stopped=lambda: bool(children))
    assert found.seconds < 10
    assert faults_of(found, BLOCKS, STRIP) == []
    assert all(one.returncode is not None for one in children)


def test_stopped_before_it_starts_no_process_is_made(monkeypatch):
    children = watched(monkeypatch)
    assert_rows(
        nest(BLOCKS, STRIP, 60, is_stopped=lambda: True),
        "nesting was stopped; rows are used",
    )
    assert children == []


def test_error_of_the_caller_leaves_no_process(monkeypatch):
    children = watched(monkeypatch)

    def fail_later() -> bool:
        if children:
            raise KeyError("a database that is gone")
        return False

    with pytest.raises(KeyError):
        nest(BLOCKS, STRIP, 60, is_stopped=fail_later)
    assert children[0].returncode is not None


def test_child_gets_no_database_and_no_secret(monkeypatch, tmp_path):
    monkeypatch.setenv("DATABASE_URL", "postgres://somewhere")
    monkeypatch.setenv("JACKET_MUSTER_SECRET_KEY", "secret")
    seen = tmp_path / "seen"
    run_instead(
        monkeypatch, f"import os; open({str(seen)!r}, 'w').write(' '.join(sorted(os.environ)))"
    )
    nest(BLOCKS, STRIP, 5)
    names = set(seen.read_text().split())
    assert "PATH" in names
    assert not names & {"DATABASE_URL", "JACKET_MUSTER_SECRET_KEY", "DJANGO_SETTINGS_MODULE"}


def test_child_imports_the_solver_and_the_standard_library_only():
    tree = ast.parse(Path(child.__file__).read_text())
    imported = {
        (node.module or "") if isinstance(node, ast.ImportFrom) else alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    assert imported - set(sys.stdlib_module_names) == {"spyrrow"}

"""A consistent copy of the database while the site runs, and a checked way back."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from django.db import connection
from django.db.migrations.loader import MigrationLoader

from production.errors import ProductionError


def back_up(target: Path) -> int:
    """Write a checked copy to `target`, whole or not at all; the bytes written."""
    source = _database_file()
    if target.exists():
        raise ProductionError(f"{target} is there already; name a new file for the backup.")
    if not target.parent.is_dir():
        raise ProductionError(f"There is no folder {target.parent}; make it first.")
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=target.name, suffix=".part")
    except OSError as error:
        raise ProductionError(f"Cannot write to {target.parent}: {error.strerror}.") from error
    os.close(handle)
    part = Path(name)
    try:
        with _opened(source) as live:
            _copy(live, part)
        _check(part)
        part.rename(target)
    finally:
        part.unlink(missing_ok=True)
    return target.stat().st_size


def restore(source: Path) -> Path:
    """Put a backup in the place of the database, after keeping the present one beside it; the path
    of the kept copy. Nothing is changed when the backup is not sound, or while a worker or the site
    is at work on the database: what they store next would belong to other rows."""
    live = _database_file()
    if not source.is_file():
        raise ProductionError(f"There is no file {source}.")
    _check(source)
    _refuse_newer(source)
    kept = _free_name(live)
    connection.close()
    with _opened(live) as own:
        _keep_others_out(own)
        _copy(own, kept)
        with _opened(source) as backup:
            _fill(own, backup, live)
    return kept


def _database_file() -> Path:
    if connection.vendor != "sqlite":
        raise ProductionError(
            f"These commands copy the SQLite file; this site runs on {connection.vendor},"
            " which has backup tools of its own (for PostgreSQL: pg_dump and pg_restore)."
        )
    return Path(str(connection.settings_dict["NAME"]))


@contextmanager
def _opened(file: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(file)) as opened:
        yield opened


def _keep_others_out(own: sqlite3.Connection) -> None:
    """Locks the file until it is closed; ProductionError while someone else has it open."""
    try:
        own.execute("PRAGMA locking_mode=EXCLUSIVE")
        # Leaving the write-ahead log takes the file for oneself.
        own.execute("PRAGMA journal_mode=DELETE")
        own.execute("BEGIN EXCLUSIVE")
        own.execute("COMMIT")
    except sqlite3.OperationalError as error:
        raise ProductionError(
            "The site or a worker is at work on the database. Stop them first (Ctrl-C where"
            " 'manage.py start' or 'manage.py work' runs), then restore. Nothing was changed."
        ) from error


def _copy(source: sqlite3.Connection, target: Path) -> None:
    """SQLite's online backup: a consistent state even while others write. The copy is one file,
    without a write-ahead log beside it."""
    with _opened(target) as copy:
        _fill(copy, source, target)
        copy.execute("PRAGMA journal_mode=DELETE")


def _fill(target: sqlite3.Connection, source: sqlite3.Connection, name: Path) -> None:
    try:
        source.backup(target)
    except sqlite3.Error as error:
        raise ProductionError(f"Cannot write to {name}: {error}.") from error


def _check(file: Path) -> None:
    try:
        with closing(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)) as copy:
            verdict = copy.execute("PRAGMA integrity_check").fetchone()[0]
            broken = copy.execute("PRAGMA foreign_key_check").fetchone()
            copy.execute("SELECT count(*) FROM production_run").fetchone()
    except sqlite3.Error as error:
        raise ProductionError(f"{file} is not a backup of this site: {error}.") from error
    if verdict != "ok" or broken:
        raise ProductionError(f"{file} is damaged: {verdict if verdict != 'ok' else broken}.")


def _refuse_newer(file: Path) -> None:
    known = set(MigrationLoader(None).disk_migrations)
    with closing(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)) as copy:
        applied = copy.execute("SELECT app, name FROM django_migrations").fetchall()
    unknown = [f"{app} {name}" for app, name in applied if (app, name) not in known]
    if unknown:
        raise ProductionError(
            f"{file} was made by a newer version of the app ({unknown[0]}); update the app first."
        )


def _free_name(live: Path) -> Path:
    number = 1
    while (kept := live.with_name(f"{live.name}.before-restore-{number}")).exists():
        number += 1
    return kept

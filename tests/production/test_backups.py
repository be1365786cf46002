"""Backups are whole and checked; a restore changes nothing unless the backup is sound."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
CLUBS = "from orders.models import Club; print(sorted(c.name for c in Club.objects.all()))"


class Site:
    """A site with a database file of its own, driven by its command line."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.database = folder / "data" / "muster.sqlite3"

    def run(self, *words: str) -> subprocess.CompletedProcess[str]:
        environment = {
            **os.environ,
            "JACKET_MUSTER_DATA": str(self.folder / "data"),
            "DJANGO_SETTINGS_MODULE": "orders.site.settings",
        }
        environment.pop("DATABASE_URL", None)
        return subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
        )

    def shell(self, program: str) -> str:
        return self.run("shell", "-v0", "-c", program).stdout.strip()


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    made = Site(tmp_path_factory.mktemp("site"))
    assert made.run("migrate", "-v0").returncode == 0
    return made


def test_a_restore_brings_back_what_was_backed_up(site: Site) -> None:
    copy = site.folder / "monday.sqlite3"
    site.shell("from orders.models import Club; Club.objects.create(name='Before')")
    assert site.run("backup", str(copy)).returncode == 0
    site.shell("from orders.models import Club; Club.objects.create(name='After')")
    assert site.run("backup", str(copy)).returncode != 0, "a backup never overwrites another"
    assert site.run("restore", str(copy)).returncode == 0
    assert site.shell(CLUBS) == "['Before']"
    (kept,) = site.database.parent.glob("*.before-restore-1")
    with sqlite3.connect(kept) as old:
        assert old.execute("SELECT count(*) FROM orders_club").fetchone() == (2,)


def test_a_backup_is_one_file(site: Site) -> None:
    copy = site.folder / "alone" / "tuesday.sqlite3"
    copy.parent.mkdir()
    assert site.run("backup", str(copy)).returncode == 0
    assert list(copy.parent.iterdir()) == [copy]


def test_a_restore_beside_a_worker_is_refused_and_changes_nothing(site: Site) -> None:
    copy = site.folder / "wednesday.sqlite3"
    assert site.run("backup", str(copy)).returncode == 0
    site.shell("from orders.models import Club; Club.objects.create(name='Since')")
    before = site.shell(CLUBS)
    with closing(sqlite3.connect(site.database)) as worker:
        worker.execute("SELECT count(*) FROM production_run").fetchone()
        done = site.run("restore", str(copy))
        assert done.returncode != 0 and "Stop them first" in done.stderr
        assert site.shell(CLUBS) == before and "Since" in before
    assert site.run("restore", str(copy)).returncode == 0
    assert "Since" not in site.shell(CLUBS)


@pytest.mark.parametrize("content", [b"", b"not a database at all" * 100])
def test_what_is_no_backup_is_refused_and_changes_nothing(site: Site, content: bytes) -> None:
    before = site.shell(CLUBS)
    wrong = site.folder / "wrong.sqlite3"
    wrong.write_bytes(content)
    done = site.run("restore", str(wrong))
    assert done.returncode != 0 and "is not a backup of this site" in done.stderr
    assert site.shell(CLUBS) == before


def test_a_backup_of_a_newer_version_is_refused(site: Site) -> None:
    newer = site.folder / "newer.sqlite3"
    assert site.run("backup", str(newer)).returncode == 0
    with sqlite3.connect(newer) as file:
        file.execute(
            "INSERT INTO django_migrations (app, name, applied)"
            " VALUES ('orders', '9999_from_the_future', '2031-01-01')"
        )
    done = site.run("restore", str(newer))
    assert done.returncode != 0 and "newer version" in done.stderr

"""The arrows of the house: patterns <- orders <- production, pure rooms, quick starts."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
APPS = ("patterns", "orders", "production")
PURE = ("patterns/geometry", "production/planning")
HEAVY = (
    "pandas",
    "shapely",
    "reportlab",
    "openpyxl",
    "segno",
    "numpy",
    "zxingcpp",
    "PIL",
    "ortools",
)


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return names


def modules(folder: str) -> list[Path]:
    return sorted((ROOT / folder).rglob("*.py"))


@pytest.mark.parametrize(("place", "app"), list(enumerate(APPS)))
def test_no_module_imports_an_app_above_its_own(place: int, app: str) -> None:
    above = APPS[place + 1 :]
    offenders = [
        f"{path.relative_to(ROOT)} imports {name}"
        for path in modules(app)
        for name in imported(path)
        if name.split(".")[0] in above
    ]
    assert not offenders


@pytest.mark.parametrize("folder", PURE)
def test_pure_rooms_import_no_django_and_no_models(folder: str) -> None:
    offenders = [
        f"{path.relative_to(ROOT)} imports {name}"
        for path in modules(folder)
        for name in imported(path)
        if name.split(".")[0] == "django" or name.endswith(".models")
    ]
    assert not offenders


def test_the_site_starts_without_the_heavy_libraries() -> None:
    program = (
        "import django, sys; django.setup();"
        "from django.urls import get_resolver; get_resolver().url_patterns;"
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env={"DJANGO_SETTINGS_MODULE": "orders.site.settings", "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"


@pytest.mark.django_db
def test_migrations_are_complete() -> None:
    from django.core.management import call_command

    call_command("makemigrations", "--check", "--dry-run", verbosity=0)


def test_the_top_level_shows_only_what_the_design_names() -> None:
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    visible = {name.split("/")[0] for name in tracked if not name.startswith(".")}
    assert visible == {
        "README.md",
        "DEVELOPERS.md",
        "manage.py",
        "pyproject.toml",
        "orders",
        "patterns",
        "production",
        "tests",
    }

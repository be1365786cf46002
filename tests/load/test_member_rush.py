"""Members who order at the same moment, each tapping twice: nothing lost, nothing double."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.load.member_rush import rush

MEMBERS = 25


@pytest.mark.parametrize("database", ["sqlite", "postgresql"])
def test_a_rush_of_members_loses_nothing_and_makes_no_double(tmp_path: Path, database: str) -> None:
    url = os.environ.get("JACKET_MUSTER_POSTGRES", "") if database == "postgresql" else ""
    if database == "postgresql" and not url:
        pytest.skip("JACKET_MUSTER_POSTGRES names no empty database: PostgreSQL was left out.")
    result = rush(MEMBERS, tmp_path, url)
    assert result.refused == ()
    assert result.stored == result.different == MEMBERS

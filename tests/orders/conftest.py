"""The maker's browser, and pictures that take no time."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.utils.safestring import mark_safe

from patterns import pictures
from tests.factories import make_helper, make_maker


@pytest.fixture
def quick_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tiny pattern of the factories has no outlines to draw; test_look draws the real one."""

    def one_view(blocking: Any, fills: Any, **names: Any) -> list[tuple[str, str]]:
        return [("Front", mark_safe(f'<svg data-fills="{",".join(sorted(fills))}"></svg>'))]

    monkeypatch.setattr(pictures, "colorway_svgs", one_view)


@pytest.fixture
def maker(client: Client, db: None, quick_pictures: None) -> Client:
    client.force_login(make_maker())
    return client


@pytest.fixture
def helper(db: None) -> Client:
    client = Client()
    client.force_login(make_helper())
    return client

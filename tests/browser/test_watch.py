"""The watch of a time study in headless Chromium, on a phone that loses its connection."""

from __future__ import annotations

from typing import Any

import pytest

pytestmark = pytest.mark.xdist_group("browser")  # one site and one browser for all of them


@pytest.fixture
def page(visit):
    """A study of an operation counted by the metre, taken by a helper."""
    page = visit("helper", width=390)
    page.goto("/time-studies/")
    page.get_by_label("Operation").select_option(label="Sew in the zipper")
    page.get_by_role("button", name="Go to the watch").click()
    page.wait_for_url("**/time-studies/*/")
    page.get_by_label("Metres of seam in all").fill("1.3")
    return page


def tap(page: Any, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def seconds(page: Any) -> float:
    return float(page.get_by_label("Seconds of work").input_value())


def kept(page: Any) -> Any:
    return page.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('time-study'))")


def test_a_break_is_taken_off_and_a_running_watch_outlives_the_page(page):
    tap(page, "Start")
    page.wait_for_timeout(1200)
    tap(page, "Break")
    page.wait_for_timeout(700)
    page.reload()
    tap(page, "Go on")
    page.wait_for_timeout(300)
    tap(page, "Done")
    breaks = float(page.get_by_label("Seconds of breaks").input_value())
    assert seconds(page) >= 1.4 and breaks >= 0.7
    tap(page, "Throw this time away")
    assert kept(page) == []


def test_a_reading_waits_for_the_connection_and_is_stored_once(page):
    before = page.locator(".readings li").count()
    tap(page, "Start")
    page.wait_for_timeout(300)
    tap(page, "Done")
    page.get_by_label("Rating", exact=True).fill("90")
    page.get_by_label("Metres of seam in all").fill("1.3")
    watched = seconds(page)
    page.context.set_offline(True)
    tap(page, "Store the reading")
    page.get_by_text("nothing is lost").wait_for()
    page.context.set_offline(False)
    page.reload()
    assert seconds(page) == watched
    assert page.get_by_label("Rating", exact=True).input_value() == "90"
    tap(page, "Store the reading")
    page.get_by_text("is stored").wait_for()
    assert page.locator(".readings li").count() == before + 1
    assert kept(page) == []
    assert page.get_by_role("button", name="Start", exact=True).is_visible()

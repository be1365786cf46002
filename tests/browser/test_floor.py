"""Tags on the floor in headless Chromium: a scanner that types, and a connection that is lost."""

from __future__ import annotations

from typing import Any

import pytest

pytestmark = pytest.mark.xdist_group("browser")  # one site and one browser for all of them

KEPT = "Object.keys(localStorage).filter(name => name.startsWith('muster-tap:')).length"


def scan(page: Any, *codes: str, ends: str = "Enter") -> None:
    """As a scanner types them, wherever the focus is."""
    for code in codes:
        page.keyboard.type(code)
        page.keyboard.press(ends)


def history(page: Any, code: str) -> list[str]:
    page.goto(f"/j/{code}/")
    told = page.locator(".timeline li").filter(has_text="by helper").all_inner_texts()
    return [words for words in told if "plies" not in words]


def test_three_tags_are_scanned_one_after_the_other_and_one_of_them_twice(visit):
    page = visit("helper", width=390)
    page.goto("/scan/")
    page.get_by_label("What was done").select_option("cutting done")
    page.get_by_label("I have seen all blocks").check()  # the focus stays there
    scan(page, "TQ-SPRING-31", "http://elsewhere/j/tq-spring-32/")
    page.locator("h1").click()
    scan(page, "TQ-SPRING-33", ends="Tab")
    page.get_by_role("heading", name="3 done").wait_for()
    scan(page, "TQ-SPRING-31", "R-0001-T1")
    page.get_by_role("heading", name="3 done, 1 scanned again, 1 not done").wait_for()
    rows = page.locator(".scanned li").all_inner_texts()
    assert "This is a cut ticket" in rows[0] and "was recorded already" in rows[1]
    page.get_by_role("button", name="Undo TQ-SPRING-33").click()
    page.get_by_role("heading", name="2 done, 1 scanned again, 1 not done, 1 undone").wait_for()
    told = history(page, "TQ-SPRING-31")
    assert ["was recorded already" in row for row in told] == [True, False], "a trace of both"
    assert "It waits for sewing" in page.locator(".now").inner_text()


def test_taps_without_a_connection_are_kept_and_sent_once_in_order(visit):
    page = visit("helper")
    page.goto("/scan/")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.get_by_label("I have seen all blocks").check()
    page.context.set_offline(True)
    for step in ("cutting started", "cutting done"):
        page.get_by_label("What was done").select_option(step)
        scan(page, "TQ-SPRING-34")
    page.get_by_text("2 taps wait for the connection").wait_for()
    page.get_by_role("heading", name="0 done, 2 wait").wait_for()
    # The page of a tag opens all the same, and takes what comes next.
    tag = page.context.new_page()
    tag.goto("/j/TQ-SPRING-34/")
    assert tag.get_by_label("Tag").input_value() == "TQ-SPRING-34"
    tag.get_by_role("button", name="Sewing started").click()
    tag.get_by_text("Kept on this device as helper's: TQ-SPRING-34: Sewing started").wait_for()
    page.get_by_text("3 taps wait for the connection").wait_for()
    assert page.evaluate(KEPT) == 3
    page.context.set_offline(False)
    page.get_by_role("heading", name="2 done").wait_for()
    page.wait_for_function(f"{KEPT} === 0")
    happened = history(page, "TQ-SPRING-34")
    steps = ["cutting started", "cutting done", "sewing started"]
    newest_first = zip(reversed(steps), happened, strict=True)
    assert all(step in row for step, row in newest_first), happened


def test_a_tap_that_waits_is_told_and_shown_in_both_tabs_of_a_jacket(visit):
    page = visit("helper", width=390)
    page.goto("/j/TQ-SPRING-35/")
    other = page.context.new_page()
    other.goto("/j/TQ-SPRING-35/")
    page.context.set_offline(True)
    step = page.get_by_role("button", name="Cutting is done")
    step.click()
    other.get_by_text("1 tap waits to be sent").wait_for()
    other.get_by_role("button", name="Cutting is done").click()
    other.get_by_text("This tap is kept on this device already").wait_for()
    page.context.set_offline(False)
    for tab in (page, other):
        tab.get_by_role("heading", name="It waits for sewing").wait_for()
    assert page.evaluate(KEPT) == 0
    assert len(history(page, "TQ-SPRING-35")) == 1


def test_a_tap_after_the_log_in_ran_out_is_sent_once_one_has_logged_in(visit):
    page = visit("helper", width=390)
    page.goto("/j/TQ-SPRING-36/")
    cookies = page.context.cookies()
    page.context.clear_cookies(name="sessionid")
    page.get_by_role("button", name="Cutting is done").click()
    page.get_by_text("1 tap waits until you log in").wait_for()
    assert page.evaluate(KEPT) == 1
    page.context.add_cookies(cookies)  # logged in again, in another tab
    page.get_by_text("1 tap waits").click()
    page.get_by_role("button", name="Send now").click()
    page.get_by_role("heading", name="It waits for sewing").wait_for()
    assert page.evaluate(KEPT) == 0 and len(history(page, "TQ-SPRING-36")) == 1

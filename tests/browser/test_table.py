"""A lay on the table in headless Chromium: moved by pointer and by keys, saved, kept, had back."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.browser.test_main_job import add_colorway, add_jacket, new_order

pytestmark = pytest.mark.xdist_group("browser")  # one site and one browser for all of them


@pytest.fixture(scope="module")
def lay_of() -> dict[str, str]:
    """The address of the lay that these tests move, of a run that nobody cuts."""
    return {}


@pytest.fixture
def lay(visit, lay_of):
    """The address of a lay of an order of its own, which nobody cuts. Better lays that are found
    meanwhile are kept, but not used."""
    if "address" not in lay_of:
        page = visit("maker")
        new_order(page, "Sallow Creek Canoe Club", "SC-TABLE")
        add_colorway(page, "SC-TABLE", "Reed")
        for number, size in enumerate(("S", "M", "L", "XL")):
            add_jacket(page, "SC-TABLE", f"Paddler {number}", size, "Reed")
        page.goto("/runs/new/")
        page.get_by_role("checkbox", name="SC-TABLE").check()
        page.get_by_role("button", name="Freeze and plan").click()
        page.wait_for_url("**/runs/R-*/")
        tickets = page.get_by_role("navigation", name="Paper and lists").get_by_role("link")
        tickets.filter(has_text="spruce").click()
        page.get_by_role("link", name="Look closer").first.click()
        page.wait_for_url("**/lays/**")
        lay_of["address"] = page.url
    return lay_of["address"]


def verdict(page: Any) -> Any:
    page.wait_for_timeout(250)  # told when the moving ends
    return page.locator("[data-table=verdict]").inner_text()


def block(page: Any, number: int) -> Any:
    return page.locator(f".lay-block[data-at='{number}']")


def place(page: Any) -> tuple[float, float]:
    return float(page.locator("#along").input_value()), float(page.locator("#across").input_value())


def drag(page: Any, number: int, dx: float, dy: float) -> None:
    label = block(page, number).locator("text").first.bounding_box()
    x, y = label["x"] + label["width"] / 2, label["y"] + label["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx / 2, y + dy / 2)
    page.mouse.move(x + dx, y + dy)
    page.mouse.up()


def opened(visit: Any, lay: str, **kind: Any) -> Any:
    page = visit("maker", **kind)
    page.goto(lay)
    page.locator(".lay-block[role=button]").first.wait_for()
    return page


def test_arrow_keys_move_a_block_by_one_and_by_ten(visit, lay):
    page = opened(visit, lay)
    block(page, 0).focus()
    page.keyboard.press("Enter")
    start = place(page)
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowRight"):
        page.keyboard.press(key)
    assert place(page) == pytest.approx((start[0] + 12, start[1]))
    page.keyboard.press("Control+z")
    assert place(page) == pytest.approx(start)
    page.get_by_role("button", name="Redo").click()
    assert place(page) == pytest.approx((start[0] + 12, start[1]))
    page.get_by_role("button", name="Back to the saved lay").click()


def test_a_block_dragged_onto_another_is_shown_as_wrong_at_once(visit, lay):
    page = opened(visit, lay)
    assert "Can be cut as it lies, nothing was moved" in verdict(page)
    drag(page, 0, 40, 0)
    told = verdict(page)
    assert "Cannot be cut like this" in told and "overlap" in told
    assert page.evaluate("getSelection().toString()") == ""  # words are not marked on the way
    assert block(page, 0).locator(".fault").count() == 1  # a pattern, not a color alone
    assert "overlaps" in block(page, 0).get_attribute("aria-label")
    assert page.get_by_role("button", name="Save and use").is_disabled()
    page.get_by_role("button", name="Undo").click()
    assert "Can be cut" in verdict(page)
    assert block(page, 0).locator(".fault").count() == 0


def test_a_block_off_the_cloth_is_named(visit, lay):
    page = opened(visit, lay)
    drag(page, 0, -40, 0)
    assert "lies outside the cloth" in verdict(page)
    page.get_by_role("button", name="Back to the saved lay").click()


def test_moves_outlive_a_reload_until_they_are_taken_back(visit, lay):
    page = opened(visit, lay)
    drag(page, 0, 30, 0)
    moved = place(page)
    page.reload()
    page.locator(".lay-block[role=button]").first.wait_for()
    block(page, 0).focus()
    page.keyboard.press("Enter")
    assert place(page) == pytest.approx(moved)
    page.get_by_role("button", name="Back to the saved lay").click()
    page.reload()
    assert "nothing was moved" in verdict(page)


def test_the_script_agrees_with_the_plan_that_the_lay_can_be_cut(visit, lay):
    page = opened(visit, lay)
    for ticket in ("R-0001-T1", "R-0001-T2", "R-0001-T3", "R-0001-T4"):
        page.goto(f"/runs/R-0001/tickets/{ticket}/")
        lays = page.get_by_role("link", name="Look closer").evaluate_all(
            "all => all.map(a => a.href)"
        )
        for address in lays:
            page.goto(address)
            page.locator(".lay-block[role=button]").first.wait_for()
            assert page.locator(".fault").count() == 0, address


def test_a_lay_slid_together_is_shorter_and_saved(visit, lay):
    page = opened(visit, lay)
    page.get_by_role("button", name="Slide together").click()
    told = verdict(page)
    assert "Can be cut as it lies" in told
    length = re.search(r"([\d.]+) m long", told)
    assert length and "saved" in told and "EUR" in told
    page.get_by_role("button", name="Save and use this lay").click()
    page.get_by_text("is in use as you set it").wait_for()
    assert "set by hand" in page.locator(".glance").inner_text()
    assert f"{length[1]} m long" in verdict(page) and "nothing was moved" in verdict(page)


def test_pins_outlive_saving(visit, lay):
    page = opened(visit, lay)
    block(page, 0).focus()
    page.keyboard.press("End")
    page.keyboard.press("p")
    page.keyboard.press("ArrowRight")
    page.get_by_role("button", name="Save and use this lay").click()
    page.get_by_text("is in use as you set it").wait_for()
    page.locator(".lay-block[role=button]").first.wait_for()
    assert page.locator(".lay-block.is-pinned").count() == 1
    assert "nothing was moved" in verdict(page)
    page.get_by_role("button", name="Back to the saved lay").click()
    assert page.locator(".lay-block.is-pinned").count() == 0


def test_nesting_can_be_stopped_and_leaves_the_lay_as_it_was(visit, lay):
    page = opened(visit, lay)
    before = [each.get_attribute("d") for each in page.locator(".lay-block > path").all()]
    page.get_by_role("button", name="Nest the rest again").click()
    assert page.get_by_role("button", name="Slide together").is_disabled()
    page.get_by_role("button", name="Stop nesting").click()
    page.get_by_text("Stopped. The blocks lie as they lay before.").wait_for()
    assert page.get_by_role("button", name="Nest the rest again").is_enabled()
    assert [each.get_attribute("d") for each in page.locator(".lay-block > path").all()] == before


def test_pinned_blocks_stay_while_the_rest_is_nested(visit, lay):
    page = opened(visit, lay)
    block(page, 0).focus()
    page.keyboard.press("Enter")
    page.keyboard.press("p")
    pinned = place(page)
    page.keyboard.press("End")
    page.locator("#along").fill(str(place(page)[0] + 300))
    page.locator("#along").press("Enter")
    longer = verdict(page)
    assert re.search(r"[1-9]\d* mm more than before", longer)
    page.get_by_role("button", name="Nest the rest again").click()
    proposal = page.locator("[data-table=proposal]")
    proposal.wait_for()
    assert "Before" in proposal.inner_text() and "saved" in proposal.inner_text()
    assert page.locator(".ghost").count() > 0
    page.get_by_role("button", name="Take it").click()
    assert "Can be cut as it lies" in verdict(page)
    block(page, 0).focus()
    page.keyboard.press("Enter")
    assert place(page) == pytest.approx(pinned)
    page.get_by_role("button", name="Undo").click()
    assert verdict(page) == longer
    page.get_by_role("button", name="Back to the saved lay").click()


def test_keys_go_from_block_to_block_and_enter_tells_the_jackets(visit, lay):
    page = opened(visit, lay)
    page.get_by_role("region", name="The cloth, seen from above").focus()
    page.keyboard.press("Tab")
    first = page.evaluate("document.activeElement.dataset.at")
    page.keyboard.press("PageDown")
    second = page.evaluate("document.activeElement.dataset.at")
    assert first != second
    page.keyboard.press("Enter")
    links = page.locator("[data-table=chosen-jackets] a")
    assert links.count() > 0
    assert "/j/" in links.first.get_attribute("href")


def test_zoom_keeps_the_middle_and_shows_the_whole_lay(visit, lay):
    page = opened(visit, lay)
    width = "document.querySelector('.lay-svg').getBoundingClientRect().width"
    before = page.evaluate(width)
    page.get_by_role("button", name="Zoom in").click()
    assert page.evaluate(width) == pytest.approx(before * 1.3, rel=0.01)
    page.get_by_role("button", name="Whole lay").click()
    assert page.evaluate(width) <= page.locator("[data-table=view]").bounding_box()["width"] + 1


def test_the_page_is_a_picture_with_a_table_without_script(visit, lay):
    page = visit("maker", javascript=False)
    page.goto(lay)
    assert page.get_by_role("img", name=re.compile("Lay R-")).is_visible()
    assert not page.get_by_role("button", name="Nest the rest again").is_visible()
    assert page.locator("[data-row]").count() > 0


@pytest.mark.parametrize("width", [390, 1280])
def test_the_page_fits_and_is_accessible(visit, lay, width):
    from axe_playwright_python.sync_playwright import Axe

    page = opened(visit, lay, width=width)
    block(page, 1).focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_a_helper_looks_but_does_not_move(visit, lay):
    page = visit("helper")
    page.goto(lay)
    page.locator(".lay-block[role=button]").first.wait_for()
    assert page.get_by_role("button", name="Zoom in").is_visible()
    assert page.get_by_role("button", name="Slide together").count() == 0
    before = block(page, 0).locator("path").first.get_attribute("d")
    drag(page, 0, 40, 0)
    assert block(page, 0).locator("path").first.get_attribute("d") == before

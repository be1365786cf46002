"""The main job, played in headless Chromium on the real server: an order, its run, a scan."""

from __future__ import annotations

import io
from typing import Any
from urllib.parse import urlparse

import pytest

ROSTER = """member,size,colorway,name_on_jacket,note,block:CO
Ivo Thorne,L,Gale,IVO,,
Åsa Lind,S,gale,,tall for the size,marigold
"""
pytestmark = pytest.mark.xdist_group("browser")  # one site and one browser for all of them

BAD_ROSTER = """member,size,colorway
Nils Berg,Medium,Gale
Wyn Archer,M,Storm
"""


def new_order(page: Any, club: str, code: str) -> None:
    page.goto("/new-order/")
    page.get_by_label("New club").fill(club)
    page.get_by_label("Title").fill("Autumn jackets")
    page.get_by_label("Deadline").fill("2031-05-04")
    page.get_by_label("Code").fill(code)
    for color in ("spruce", "marigold"):
        page.get_by_role("checkbox", name=color).check()
    page.get_by_role("button", name="Save the draft").click()
    page.wait_for_url(f"**/orders/{code}/")
    assert code in page.get_by_role("heading", level=1).inner_text()


def add_colorway(page: Any, code: str, name: str) -> None:
    page.goto(f"/orders/{code}/colorways/new/?blocking=boathouse")
    page.get_by_label("Name").fill(name)
    selects = page.locator(".fill-fields select")
    blocks = selects.count() - 2  # zipper tape and topstitch thread stand behind the blocks
    for place in range(blocks):
        selects.nth(place).select_option(label="marigold" if place % 3 == 1 else "spruce")
    page.get_by_label("Zipper").select_option(label="spruce")
    save(page, code)


def add_jacket(page: Any, code: str, member: str, size: str, colorway: str) -> None:
    page.goto(f"/orders/{code}/jackets/new/")
    page.get_by_label("Member").fill(member)
    page.get_by_label("Colorway").select_option(label=colorway)
    page.get_by_label("Size").select_option(label=f"{size} — Adult {size}")
    save(page, code)


def save(page: Any, code: str) -> None:
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(f"**/orders/{code}/")


def roster_file(page: Any, text: str) -> None:
    page.locator("input[type=file]").set_input_files(
        {"name": "crew.csv", "mimeType": "text/csv", "buffer": text.encode()}
    )
    page.get_by_role("button", name="Check the file").click()


def tag_addresses(pdf: bytes) -> list[str]:
    """The addresses in the QR codes of the first sheet of bundle tags."""
    import pypdfium2
    import zxingcpp

    sheet = pypdfium2.PdfDocument(io.BytesIO(pdf))[0].render(scale=2.5).to_pil()
    return [code.text for code in zxingcpp.read_barcodes(sheet)]


def test_an_order_goes_from_the_form_to_a_scanned_tag(visit: Any) -> None:
    page = visit("maker")
    new_order(page, "Heronsgate Scullers", "HG-1")
    add_colorway(page, "HG-1", "Gale")
    add_jacket(page, "HG-1", "Una Birch", "M", "Gale")
    assert page.get_by_role("link", name="Una Birch").is_visible()

    page.goto("/orders/HG-1/roster/")
    roster_file(page, BAD_ROSTER)
    page.get_by_text("Not taken").first.wait_for()
    told = page.get_by_role("main").inner_text()
    assert "Not taken" in told and "Medium" in told and "Storm" in told and "YS" in told
    roster_file(page, ROSTER)
    page.get_by_role("button", name="Add 2 jackets").click()
    page.get_by_role("link", name="Åsa Lind").wait_for()

    page.goto("/runs/new/?order=HG-1")
    page.get_by_role("button", name="Freeze and plan").click()
    page.wait_for_url("**/runs/R-*/")
    checks = page.get_by_role("main").inner_text()
    assert "every left has its right" in checks and "broken" not in checks.lower()
    run = urlparse(page.url).path

    for paper in ("cut-tickets.pdf", "bundle-tags.pdf"):
        answer = page.request.get(f"{run}{paper}")
        assert answer.ok and answer.body().startswith(b"%PDF")
    addresses = tag_addresses(answer.body())
    assert len(addresses) == 3

    phone = visit("helper", width=390)
    phone.goto(addresses[0])
    phone.get_by_role("button", name="Cutting is done").click()
    phone.get_by_role("button", name="Sewing is done").wait_for()
    phone.get_by_role("button", name="Undo").click()
    phone.get_by_role("button", name="Cutting is done").wait_for()
    story = phone.get_by_role("main").inner_text()
    assert "undone" in story and "by helper" in story

    page.goto("/orders/HG-1/jackets/new/")
    assert page.get_by_role("button", name="Save").count() == 0, "a frozen order takes no jacket"


def test_a_scan_asks_for_the_log_in_and_comes_back_to_the_jacket(browser: Any, site: str) -> None:
    context = browser.new_context(base_url=site, viewport={"width": 390, "height": 800})
    page = context.new_page()
    page.goto("/j/TQ-SPRING-20/")
    page.get_by_label("Name").fill("helper")
    page.get_by_label("Password").fill("tern-quay-demo")
    page.keyboard.press("Enter")
    page.wait_for_url("**/j/TQ-SPRING-20/")
    context.close()


def test_a_jacket_moves_on_by_keyboard_alone_and_without_javascript(visit: Any) -> None:
    page = visit("helper", width=390, javascript=False)
    page.goto("/j/TQ-SPRING-25/")
    button = page.get_by_role("button", name="Cutting is done")
    for _ in range(30):
        page.keyboard.press("Tab")
        if button.evaluate("one => one === document.activeElement"):
            break
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Sewing is done").wait_for()


def test_lists_sort_and_page_by_htmx_and_keep_their_address(visit: Any) -> None:
    page = visit("maker")
    page.goto("/orders/TQ-SPRING/")
    with page.expect_response(lambda answer: "sort=" in answer.url) as sorted_list:
        page.get_by_role("link", name="Member", exact=True).click()
    assert sorted_list.value.request.headers.get("hx-request") == "true"
    page.wait_for_url("**sort=member**")
    assert page.get_by_role("link", name="Ada Moss").is_visible()


PAGES = {
    "/": "maker",
    "/new-order/": "maker",
    "/orders/TQ-SPRING/": "maker",
    "/runs/": "helper",
    "/runs/R-0001/": "helper",
    "/runs/R-0001/needs/": "maker",
    "/runs/R-0001/jackets/": "helper",
    "/runs/R-0001/tickets/R-0001-T1/": "helper",
    "/j/TQ-SPRING-03/": "helper",
    "/runs/R-0001/cutting/": "maker",
    "/runs/R-0001/thread/": "maker",
    "/runs/R-0001/minutes/": "maker",
    "/runs/R-0001/shopping/": "maker",
    "/runs/R-0001/afterwards/": "maker",
    "/today/": "helper",
    "/schedule/": "maker",
    "/schedule/earlier/": "maker",
    "/schedule/earlier/1/": "helper",
    "/schedule/hold/TQ-SPRING-20/sew/": "maker",
    "/scan/": "helper",
    "/scan/offline/": "helper",
    "/j/TQ-SPRING-01/sewing/": "helper",
    "/j/LM-CREW-07/faults/": "helper",
    "/runs/R-0001/forecast/": "maker",
    "/orders/LM-CREW/hand-over/": "maker",
    "/orders/LM-CREW/label-duties/": "maker",
    "/runs/R-0001/label-duties/": "helper",
    "/deliveries/LM-CREW/1/": "helper",
    "/history/": "helper",
    "/history/days/": "maker",
    "/history/minutes/": "maker",
    "/workroom/people/": "helper",
    "/workroom/people/1/": "maker",
    "/workroom/people/new/": "maker",
    "/workroom/days-off/": "maker",
    "/workroom/machines/": "maker",
    "/workroom/check-points/": "maker",
    "/shelf/": "helper",
    "/purchases/": "maker",
    "/quotes/": "maker",
    "/quotes/Q-0001/": "maker",
    "/operations/": "maker",
    "/time-studies/": "helper",
    "/thread-samples/": "maker",
    "/supplies/": "maker",
    "/workroom/": "maker",
    "/blockings/": "maker",
    "/blockings/oar-stripe/": "maker",
}


@pytest.mark.parametrize("width", [1280, 390])
def test_every_page_is_clean_wide_and_narrow(visit: Any, width: int) -> None:
    """No accessibility fault found by axe-core, no console error, no sideways scrolling."""
    from axe_playwright_python.sync_playwright import Axe

    people = {person: visit(person, width=width) for person in ("maker", "helper")}
    told: list[str] = []
    for page in people.values():
        page.on("console", lambda line: told.append(line.text) if line.type == "error" else None)
    for address, person in PAGES.items():
        page = people[person]
        answer = page.goto(address)
        assert answer is not None and answer.ok, address
        found = Axe().run(page)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address
    assert not told

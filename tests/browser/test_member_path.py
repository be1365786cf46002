"""Members and their coordinator, played on a phone: the links, the form, the list, the approval."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlparse

import pytest

pytestmark = pytest.mark.xdist_group("browser")  # one site and one browser for all of them

ORDER = "/orders/TQ-NOVICE/"
PHONE = 390
NARROW_PHONE = 320
#: Referrer policies that tell no other site the address of a secret page.
TELL_NO_OTHER_SITE = {"same-origin", "no-referrer"}


@pytest.fixture
def maker(visit: Any) -> Iterator[Any]:
    """The maker on the order's page; whatever a test did to the form, it is open again after it."""
    page = visit("maker")
    page.goto(ORDER)
    yield page
    page.goto(ORDER)
    for button in ("Take the approval back", "Open the form again"):
        if page.get_by_role("button", name=button).count():
            page.get_by_role("button", name=button).click()


def link_of(maker: Any, kind: str) -> str:
    address: str = maker.locator(f"#link-{kind}").input_value()
    return address


def choose_jacket(page: Any, member: str, size: str, *, javascript: bool = True) -> None:
    """Fill the form in up to the own color of the collar; without JavaScript ask for pictures."""
    page.get_by_label("Your name").fill(member)
    page.get_by_role("radio", name="Harbor").check()
    show(page, javascript)
    assert page.locator("#look figcaption").all_inner_texts() == ["Front", "Back", "Opened front"]
    widths = page.locator("#look .picture").evaluate_all("all => all.map(one => one.clientWidth)")
    assert min(widths) > page.viewport_size["width"] / 4, "each view is large enough to be seen"
    club_colors = pictures(page)
    page.locator("#look").get_by_label("collar").select_option(label="oat")
    show(page, javascript)
    wait_for_collar(page)
    assert all(one != other for one, other in zip(pictures(page), club_colors, strict=True))
    page.get_by_role("radio", name=size, exact=True).check()


def show(page: Any, javascript: bool) -> None:
    if not javascript:
        page.get_by_role("button", name="Show it").click()
    page.locator("#look svg").first.wait_for()


def pictures(page: Any) -> list[str]:
    drawn: list[str] = page.locator("#look .picture").evaluate_all(
        "all => all.map(one => one.innerHTML)"
    )
    return drawn


def wait_for_collar(page: Any) -> None:
    """Until the words under the pictures tell the own color of the collar."""
    page.locator("#look .legend div").filter(has_text="oat").filter(has_text="collar").wait_for()


def order_jacket(page: Any, member: str) -> str:
    """Send the form; the private link from the confirmation."""
    page.get_by_role("button", name="Order my jacket").click()
    page.get_by_role("heading", name=f"Ordered, {member}").wait_for()
    address: str = page.get_by_label("Link to copy").input_value()
    return address


def times_ordered(maker: Any, member: str) -> int:
    """How many jackets the maker's roster file has for a member."""
    roster: str = maker.request.get(f"{ORDER}roster/jackets.csv").text()
    return roster.count(member)


def words_of(page: Any) -> str:
    words: str = page.get_by_role("main").inner_text()
    return words


def watch(page: Any, site: str) -> list[str]:
    """Every console error, and every request that leaves the site, from now on."""
    told: list[str] = []
    page.on("console", lambda line: told.append(line.text) if line.type == "error" else None)
    page.on("pageerror", lambda error: told.append(str(error)))
    page.on("request", lambda one: None if one.url.startswith(f"{site}/") else told.append(one.url))
    return told


def check_looks(page: Any, widths: tuple[int, ...]) -> None:
    """At each width: no accessibility fault found by axe-core, no sideways scrolling."""
    from axe_playwright_python.sync_playwright import Axe

    for width in widths:
        page.set_viewport_size({"width": width, "height": 900})
        found = Axe().run(page)
        assert found.violations_count == 0, f"{page.url} at {width}: {found.generate_report()}"
        assert page.evaluate("document.documentElement.scrollWidth") <= width, (page.url, width)


@pytest.mark.parametrize("javascript", [True, False], ids=["with", "without"])
def test_a_member_orders_and_changes_a_jacket_by_links(
    maker: Any, new_page: Any, javascript: bool
) -> None:
    member = "Noa Linden" if javascript else "Noa Rowan"
    phone = new_page(PHONE, javascript=javascript)
    phone.goto(link_of(maker, "members"))
    choose_jacket(phone, member, "M", javascript=javascript)
    phone.get_by_text("Which size am I?").click()
    phone.get_by_label("Chest").fill("98")
    phone.get_by_role("button", name="Advise me").click()
    advised = phone.locator(".advice strong")
    advised.wait_for()
    assert re.fullmatch(r"Size \w+:", advised.inner_text())
    assert phone.get_by_role("radio", name="M", exact=True).is_checked(), (
        "an advice chooses nothing"
    )
    private = order_jacket(phone, member)

    phone.goto(private)
    assert phone.locator("#look").get_by_label("collar").locator(":checked").inner_text() == "oat"
    phone.get_by_role("radio", name="L", exact=True).check()
    phone.get_by_role("button", name="Save my change").click()
    phone.get_by_text("Your change is saved.").wait_for()
    assert "Harbor in size L" in words_of(phone)

    maker.reload()
    change = maker.locator(".timeline li").filter(has_text=member).first.inner_text()
    assert "size M to L" in change and "by the member" in change


def test_a_half_filled_form_outlives_a_reload_and_a_lost_connection(
    maker: Any, new_page: Any
) -> None:
    phone = new_page(PHONE)
    phone.goto(link_of(maker, "members"))
    choose_jacket(phone, "Ilka Sand", "S")
    phone.reload()
    phone.get_by_text("what you had typed on this device is filled in").wait_for()
    wait_for_collar(phone)
    assert phone.get_by_label("Your name").input_value() == "Ilka Sand"
    assert phone.get_by_role("radio", name="Harbor").is_checked()
    assert phone.get_by_role("radio", name="S", exact=True).is_checked()

    phone.context.set_offline(True)
    phone.get_by_role("button", name="Order my jacket").click()
    phone.get_by_text("kept here; tap again when you are back").wait_for()
    phone.context.set_offline(False)
    order_jacket(phone, "Ilka Sand")
    assert times_ordered(maker, "Ilka Sand") == 1
    phone.goto(link_of(maker, "members"))
    assert phone.get_by_label("Your name").input_value() == "", "what is ordered is not kept"


@pytest.mark.parametrize("javascript", [True, False], ids=["with", "without"])
def test_a_double_tap_orders_once(maker: Any, new_page: Any, javascript: bool) -> None:
    member = "Taro Reed" if javascript else "Taro Sedge"
    phone = new_page(PHONE, javascript=javascript)
    phone.goto(link_of(maker, "members"))
    choose_jacket(phone, member, "M", javascript=javascript)
    phone.get_by_role("button", name="Order my jacket").dblclick()
    phone.get_by_role("heading", name=f"Ordered, {member}").wait_for()
    assert times_ordered(maker, member) == 1


def test_the_same_form_sent_twice_at_once_gets_one_private_link(maker: Any, new_page: Any) -> None:
    phone = new_page(PHONE)
    phone.goto(link_of(maker, "members"))
    choose_jacket(phone, "Uwe Alder", "M")
    ends = phone.locator("[data-member-form]").evaluate(
        """async form => {
          const send = () => fetch(form.action, {method: "POST", body: new FormData(form)});
          const answers = await Promise.all([send(), send(), send()]);
          return answers.map(answer => answer.url);
        }"""
    )
    assert len(set(ends)) == 1 and ends[0].endswith("/ordered/")
    assert times_ordered(maker, "Uwe Alder") == 1


def test_the_code_opens_the_form_and_a_wrong_and_a_revoked_one_get_the_same_answer(
    maker: Any, new_page: Any
) -> None:
    address, code = link_of(maker, "members"), maker.locator(".short-code").inner_text()
    phone = new_page(PHONE)

    def told_for(code: str) -> tuple[int, str]:
        phone.goto("/join/")
        phone.get_by_label("Code from the board").fill(code)
        with phone.expect_navigation() as answer:
            phone.get_by_role("button", name="Open the form").click()
        return answer.value.status, words_of(phone)

    def told_at(address: str) -> tuple[int, str]:
        return phone.goto(address).status, words_of(phone)

    assert told_for(code.lower())[0] == 200 and phone.url == address

    maker.get_by_role("button", name="Give out anew the members' link").click()
    maker.get_by_text("the earlier one opens nothing any more").wait_for()
    wrong = "22222-22222"
    assert told_for(code) == told_for(wrong)
    status, words = told_for(code)
    assert status == 404 and "opens no form" in words
    assert told_at(address) == told_at("/m/never-given-out/")
    status, words = told_at(address)
    assert status == 404 and "opens nothing" in words
    assert told_at(link_of(maker, "members"))[0] == 200


def test_the_coordinator_mends_the_list_and_approves_what_the_maker_closed(
    maker: Any, new_page: Any
) -> None:
    phone = new_page(PHONE)
    phone.goto(link_of(maker, "coordinator"))
    missing = phone.get_by_role("region", name="Names without a jacket").inner_text()
    assert "Bruno Ash" in missing and "Cato Brandt" not in missing
    phone.get_by_role("link", name="Cato Brandt", exact=True).click()
    phone.get_by_role("button", name="Give out a private link").click()
    own = phone.get_by_label("Link to copy").input_value()
    check_looks(phone, (PHONE, NARROW_PHONE))
    member = new_page(PHONE)
    member.goto(own)
    assert "Your jacket, Cato Brandt" in words_of(member)
    phone.goto(link_of(maker, "coordinator"))
    phone.get_by_role("link", name="Cato Brandt", exact=True).click()
    check_looks(phone, (PHONE, NARROW_PHONE))
    phone.get_by_label("Size").select_option(label="XL — Adult XL")
    phone.get_by_role("button", name="Save").click()
    phone.get_by_role("cell", name="XL", exact=True).wait_for()
    assert phone.get_by_role("link", name="Approve the order").count() == 0, "not while it is open"

    maker.get_by_role("button", name="Close the form").click()
    maker.get_by_text("is closed now").wait_for()
    phone.reload()
    phone.get_by_role("link", name="Approve the order").click()
    phone.get_by_role("button", name="Approve for the club").click()
    phone.get_by_text("Approved for the club.").wait_for()

    maker.goto(ORDER)
    assert maker.locator("h1 .tag").inner_text().lower() == "approved"
    changes = maker.locator(".timeline").inner_text()
    assert "size M to XL by the coordinator" in changes
    assert "approved by the coordinator" in changes


def test_pages_behind_secret_links_are_clean_narrow_and_kept_secret(
    maker: Any, new_page: Any, site: str
) -> None:
    phone = new_page(PHONE)
    told = watch(phone, site)
    members = link_of(maker, "members")

    def check(address: str) -> None:
        headers = phone.goto(address).headers
        assert "no-store" in headers["cache-control"], address
        assert "noindex" in headers["x-robots-tag"], address
        assert headers["referrer-policy"] in TELL_NO_OTHER_SITE, address
        check_looks(phone, (PHONE, NARROW_PHONE))

    check("/join/")
    phone.goto(members)
    choose_jacket(phone, "Vida Hazel", "M")
    check_looks(phone, (PHONE, NARROW_PHONE))  # the form with the pictures and the own color in it
    private = order_jacket(phone, "Vida Hazel")
    for address in (members, phone.url, private, link_of(maker, "coordinator")):
        check(address)
    maker.get_by_role("button", name="Close the form").click()
    maker.get_by_text("is closed now").wait_for()
    check(members)
    assert "Closed" in words_of(phone)
    check(private)
    assert not told


def test_the_makers_pages_of_an_open_order_are_clean_wide_and_narrow(maker: Any, site: str) -> None:
    told = watch(maker, site)
    parts = ("", "preview/", "poster/", "repeat/", "money/", "privacy/")
    for address in ("/calendar/", *(f"{ORDER}{part}" for part in parts)):
        assert maker.goto(address).ok
        assert urlparse(maker.url).path == address
        check_looks(maker, (1280, PHONE))
    assert not told

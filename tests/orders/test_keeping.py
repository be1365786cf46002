"""The maker's pages around an order: its form, states, links, poster, search, calendar."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
import zxingcpp
from django.forms.models import ModelMultipleChoiceField
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from orders import handing_out, links, services
from orders.errors import OrderError
from orders.models import AccessLink, Expected, JacketOrder, TeamOrder
from orders.queries import facts_of
from tests.factories import (
    make_club,
    make_colorway,
    make_fabric_color,
    make_jacket_order,
    make_maker,
    make_pattern,
    make_team_order,
)

Kind = AccessLink.Kind


def at(name: str, *args: object) -> str:
    return reverse(f"keeping:{name}", args=args)


def words(response: Any) -> str:
    return str(response.content.decode())


def last_words(order: TeamOrder) -> str:
    return order.amendments.all()[0].words


def full_form(**overrides: Any) -> dict[str, Any]:
    values: dict[str, Any] = {
        "club": "",
        "new_club": "Tern Quay",
        "title": "Spring regatta",
        "deadline": "2099-03-14",
        "closes_on": "2099-02-14",
        "code": "TQ-1",
        "palette": [make_fabric_color("spruce").pk],
        "names_allowed": "on",
        "price": "89.50",
        "payer": "members",
        "discount": "10",
        "welcome": "Hello rowers",
        "coordinator_email": "coordinator@example.org",
        "erase_after_days": "30",
    }
    return values | overrides


# The form


def test_a_new_order_begins_as_a_draft_with_all_that_was_asked(maker: Client) -> None:
    pattern = make_pattern()
    pattern.sizes.filter(code="8").update(age_group="youth")
    youth, adult = pattern.sizes.get(code="8"), pattern.sizes.get(code="M")
    form = full_form(youth_sizes=[youth.pk], adult_sizes=[adult.pk])
    maker.post(reverse("orders:new_team_order"), form)
    order = TeamOrder.objects.get()
    assert (order.state, str(order.closes_on)) == ("draft", "2099-02-14")
    assert (order.price, order.payer, order.discount) == (
        Decimal("89.50"),
        "members",
        Decimal(10),
    )
    assert (order.welcome, order.coordinator_email) == ("Hello rowers", "coordinator@example.org")
    assert (order.names_allowed, order.erase_after_days) == (True, 30)
    assert {size.code for size in order.sizes.all()} == {"8", "M"}
    assert last_words(order) == "drafted for Tern Quay, wanted by 2099-03-14"


def test_an_order_by_command_or_service_is_open_from_the_start() -> None:
    assert TeamOrder().state == "open"


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("closes_on", "2001-01-01", "The closing day is past"),
        ("closes_on", "2099-03-15", "name an earlier closing day"),
        ("price", "-1", "greater than or equal to 0"),
        ("price", "1.005", "no more than 2 decimal places"),
        ("discount", "x", "Enter a number."),
        ("payer", "nobody", "Select a valid choice"),
        ("coordinator_email", "nobody", "Enter a valid email address."),
        ("erase_after_days", "-1", "greater than or equal to 0"),
    ],
)
def test_a_bad_answer_is_told_by_the_field_and_stores_nothing(
    maker: Client, field: str, value: str, message: str
) -> None:
    response = maker.post(reverse("orders:new_team_order"), full_form(**{field: value}))
    assert message in " ".join(response.context["form"].errors[field])
    assert "Hello rowers" in words(response), "what was typed is still there"
    assert not TeamOrder.objects.exists()


def test_the_closing_day_may_be_the_deadline_itself(maker: Client) -> None:
    maker.post(reverse("orders:new_team_order"), full_form(closes_on="2099-03-14"))
    assert TeamOrder.objects.get().closes_on == TeamOrder.objects.get().deadline


def test_free_blocks_are_asked_once_there_is_a_colorway(maker: Client) -> None:
    order = make_team_order("TQ-1", palette=("spruce",))
    page = reverse("orders:edit_team_order", args=["TQ-1"])
    assert "free_blocks" not in maker.get(page).context["form"].fields
    colorway = make_colorway(order)
    block = colorway.blocking.blocks.get(code="YK")
    form = full_form(club=order.club.pk, new_club="", free_blocks=[block.pk])
    maker.post(page, form)
    assert list(order.free_blocks.all()) == [block]
    assert f'value="{block.pk}" id="id_free_blocks_0" checked' in words(maker.get(page)).replace(
        'aria-describedby="id_free_blocks_helptext" ', ""
    )


@pytest.mark.django_db
def test_each_changed_answer_is_told() -> None:
    order = make_team_order("TQ-1", palette=("spruce",))
    colorway = make_colorway(order)
    sizes, block = colorway.blocking.pattern.sizes, colorway.blocking.blocks.get(code="YK")
    before = facts_of(order)
    after: dict[str, Any] = {
        "closes_on": before.deadline,
        "names_allowed": False,
        "sizes": tuple(sizes.filter(code__in=["L", "M"])),
        "free_blocks": (block,),
        "welcome": "Hello",
        "coordinator_email": "a@example.org",
        "price": Decimal("89.5"),
        "payer": "members",
        "discount": Decimal(5),
        "erase_after_days": 30,
    }
    services.update_team_order(order, replace(before, **after), by=None)
    assert last_words(order) == (
        "closing day none to 2099-03-14; sizes every size to M, L; "
        "names on jackets allowed to not allowed; free blocks none to YK; price none to 89.50; "
        "who pays the club pays to members pay; discount 0.00 to 5.00; "
        "members' data kept 90 days to 30 days; welcome text changed; coordinator e-mail changed"
    )
    assert "example.org" not in last_words(order), "an address is not repeated for good"


def test_saving_the_form_as_it_is_changes_nothing(maker: Client) -> None:
    order = make_team_order("TQ-1", price="89.00", closes_on="2099-01-01")
    make_colorway(order)
    page = reverse("orders:edit_team_order", args=["TQ-1"])
    form = maker.get(page).context["form"]
    posted = {}
    for field in form:
        value = field.value()
        if isinstance(field.field, ModelMultipleChoiceField):
            posted[field.name] = list(value)
        elif value not in (None, False):
            posted[field.name] = getattr(value, "pk", value)
    assert maker.post(page, posted).status_code == 302
    assert not order.amendments.exists()


# States


def test_the_order_page_offers_what_is_possible_and_says_what_follows(maker: Client) -> None:
    order = make_team_order("TQ-1", state=TeamOrder.State.DRAFT)
    page = words(maker.get(order.get_absolute_url()))
    assert "Open the form" in page and "Members with the link can order, until" in page
    assert "Close the form" not in page and at("cancel", "TQ-1") in page
    TeamOrder.objects.update(state=TeamOrder.State.IN_PRODUCTION)
    page = words(maker.get(order.get_absolute_url()))
    assert at("move", "TQ-1") not in page and at("cancel", "TQ-1") not in page


def test_a_button_moves_the_order_and_the_timeline_names_the_maker(maker: Client) -> None:
    order = make_team_order("TQ-1", state=TeamOrder.State.DRAFT)
    make_colorway(order)
    page = words(maker.post(at("move", "TQ-1"), {"to": "open"}, follow=True))
    assert "TQ-1 is open now." in page
    assert "form opened" in page and "by mara" in page
    assert TeamOrder.objects.get().state == "open"


def test_a_refused_step_says_why(maker: Client) -> None:
    make_team_order("TQ-1", state=TeamOrder.State.DRAFT)
    page = words(maker.post(at("move", "TQ-1"), {"to": "open"}, follow=True))
    assert "has no colorway that members could choose" in page
    assert maker.post(at("move", "TQ-1"), {"to": "nowhere"}).status_code == 404
    assert maker.get(at("move", "TQ-1")).status_code == 405
    assert TeamOrder.objects.get().state == "draft"


def test_cancelling_asks_first_and_then_refuses_every_change(maker: Client) -> None:
    order = make_team_order("TQ-1")
    make_jacket_order(order)
    assert "1 jacket will not be made" in words(maker.get(at("cancel", "TQ-1")))
    assert TeamOrder.objects.get().state == "open"
    maker.post(at("cancel", "TQ-1"))
    assert TeamOrder.objects.get().state == "cancelled"
    response = maker.post(reverse("orders:delete_team_order", args=["TQ-1"]), follow=True)
    assert "TQ-1 is cancelled: nothing in it changes any more" in words(response)
    response = maker.post(at("give_link", "TQ-1", "members"), follow=True)
    assert "its links are not given out any more" in words(response)
    assert not order.links.exists()


def test_the_list_and_the_order_page_close_a_form_whose_day_is_over(maker: Client) -> None:
    yesterday = timezone.localdate() - timedelta(days=1)
    make_team_order("TQ-1", closes_on=yesterday)
    maker.get(reverse("home"))
    assert TeamOrder.objects.get().state == "closed"
    TeamOrder.objects.update(state="open")
    maker.get(reverse("orders:team_order", args=["TQ-1"]))
    assert TeamOrder.objects.get().state == "closed"


def test_the_timeline_says_by_whom(maker: Client) -> None:
    order = make_team_order("TQ-1")
    for number, (by, by_link) in enumerate(
        [
            (make_maker("ruth"), ""),
            (None, "coordinator"),
            (None, "members"),
            (None, "member"),
            (None, ""),
        ]
    ):
        services.amend(order, by, f"change {number}", by_link=by_link)
    page = " ".join(words(maker.get(order.get_absolute_url())).split())
    for number, who in enumerate(
        ["by ruth", "by the coordinator", "by the member", "by the member", "by command"]
    ):
        assert f'change {number} <span class="help">{who}</span>' in page


# Links


def test_links_are_given_out_revoked_and_given_out_anew(maker: Client) -> None:
    order = make_team_order("TQ-1")
    give, revoke = at("give_link", "TQ-1", "members"), at("revoke_link", "TQ-1", "members")
    maker.post(give)
    maker.post(give)
    first = order.links.get()
    page = words(maker.get(order.get_absolute_url()))
    assert f"http://testserver{links.address_of(first)}" in page
    assert handing_out.in_groups(first.short_code or "") in page
    assert "the links open" not in page and "<svg" in page

    maker.post(give, {"anew": "1"})
    assert links.find(links.token_of(first), Kind.MEMBERS) is None
    second = order.links.get(revoked_at=None)
    assert second.digest != first.digest

    assert "every poster" in words(maker.get(revoke)), "asked first"
    assert order.links.filter(revoked_at=None).exists()
    maker.post(revoke)
    assert not order.links.filter(revoked_at=None).exists()
    told = list(order.amendments.values_list("words", flat=True))
    assert told == [
        "members' link revoked",
        "members' link given out anew",
        "members' link given out",
    ]


def test_revoking_what_is_revoked_already_says_so(maker: Client) -> None:
    make_team_order("TQ-1")
    response = maker.post(at("revoke_link", "TQ-1", "coordinator"), follow=True)
    assert "has no coordinator&#x27;s link by now" in words(response)


def test_the_coordinator_s_link_has_no_short_code(maker: Client) -> None:
    order = make_team_order("TQ-1")
    maker.post(at("give_link", "TQ-1", "coordinator"))
    assert order.links.get().short_code is None
    assert last_words(order) == "coordinator's link given out"


@pytest.mark.parametrize("kind", ["member", "nobody"])
def test_another_kind_of_link_is_not_found(maker: Client, kind: str) -> None:
    make_team_order("TQ-1")
    for name in ("give_link", "revoke_link"):
        assert maker.post(at(name, "TQ-1", kind)).status_code == 404


@pytest.mark.django_db
def test_a_link_that_is_gone_is_not_given_out_anew() -> None:
    order = make_team_order("TQ-1")
    with pytest.raises(OrderError, match="has no members' link by now"):
        handing_out.give_out_anew(order, Kind.MEMBERS, by=None)
    assert not order.links.exists() and not order.amendments.exists()


def test_the_poster_shows_a_code_that_reads_as_the_link(maker: Client) -> None:
    order = make_team_order("TQ-1", club=make_club("Tern Quay <b>"), closes_on="2099-02-14")
    assert maker.get(at("poster", "TQ-1")).headers["Location"].endswith("#links")
    link = handing_out.give_out(order, Kind.MEMBERS, by=None)
    page = words(maker.get(at("poster", "TQ-1")))
    assert "Tern Quay &lt;b&gt;" in page and "Saturday, 14 February 2099" in page
    assert handing_out.in_groups(link.short_code or "") in page
    assert f"http://testserver{reverse('members:join')}" in page
    assert "style=" not in page and "<script>" not in page


def test_a_qr_code_is_drawn_by_presentation_attributes_and_reads_back() -> None:
    text = "https://muster.example/m/abc-_123/"
    svg = str(handing_out.qr_svg(text))
    assert 'style="' not in svg and 'class="' not in svg
    size = int(re.search(r'viewBox="0 0 (\d+)', svg)[1])  # type: ignore[index]
    picture = Image.new("L", (size, size), 255)
    x = y = 0.0
    # segno draws rows of modules: M (absolute) or m (relative) moves, h draws to the right.
    path = re.search(r'stroke="#000" d="([^"]+)"', svg)[1]  # type: ignore[index]
    for step, numbers in re.findall(r"([Mmh])([-\d. ]+)", path):
        values = [float(number) for number in numbers.split()]
        if step == "h":
            for column in range(int(values[0])):
                picture.putpixel((int(x) + column, int(y)), 0)
            x += values[0]
        else:
            x, y = values if step == "M" else (x + values[0], y + values[1])
    read = zxingcpp.read_barcodes(picture.resize((size * 8, size * 8), Image.Resampling.NEAREST))
    assert [one.text for one in read] == [text]


def test_an_address_of_this_machine_is_warned_about(maker: Client) -> None:
    make_team_order("TQ-1")
    page = reverse("orders:team_order", args=["TQ-1"])
    assert "these links open here only" in words(
        maker.get(page, headers={"host": "localhost:8000"})
    )
    assert "these links open here only" not in words(maker.get(page))


# Finding, the calendar, and who may see all this


def test_the_search_finds_members_and_still_counts_every_jacket(maker: Client) -> None:
    order = make_team_order("TQ-1")
    for member in ("Wren Calder", "Wren Marsh", "Pip Larkin"):
        make_jacket_order(order, member)
    make_team_order("LM-1")
    found = maker.get(reverse("home"), {"text": "wren"}).context["table"].data
    assert [(row.code, row.jackets) for row in found] == [("TQ-1", 3)]


@pytest.mark.parametrize("typed", ["ødegård", "ØDEGÅRD", "Ødega\u030ard", "юля", "(youth"])
def test_the_search_finds_names_in_any_script_and_case(maker: Client, typed: str) -> None:
    order = make_team_order("TQ-1")
    make_jacket_order(order, "Åse Ødegård (youth)")
    Expected.objects.create(team_order=order, name="Юля")
    make_jacket_order(make_team_order("LM-1"), "Odegard")
    found = maker.get(reverse("home"), {"text": typed}).context["table"].data
    assert [row.code for row in found] == ["TQ-1"]


def test_the_calendar_shows_each_club_s_days_by_month(maker: Client) -> None:
    today = timezone.localdate()
    club = make_club("Lowmarsh")
    make_team_order("LM-1", club=club, deadline=today, closes_on=today - timedelta(days=400))
    make_team_order("TQ-1", deadline=today)
    make_team_order("XX-1", deadline=today, state=TeamOrder.State.CANCELLED)
    page = words(maker.get(at("calendar")))
    assert "LM-1" in page and "TQ-1" in page and "XX-1" not in page
    assert 'aria-current="true">Orders' in page and "Nothing is due." in page
    page = words(maker.get(at("calendar"), {"club": club.pk}))
    assert "LM-1" in page and "TQ-1" not in page
    back = (today - timedelta(days=400)).strftime("%Y-%m")
    page = words(maker.get(at("calendar"), {"from": back}))
    assert "form closes" in page and "TQ-1" not in page


@pytest.mark.parametrize("asked", ["", "x", "0000-01", "2026-13", "9999-12", "1899-01"])
def test_a_nonsense_month_or_club_shows_this_month(maker: Client, asked: str) -> None:
    make_team_order("TQ-1", deadline=timezone.localdate())
    page = maker.get(at("calendar"), {"from": asked, "club": "9" * 30})
    assert page.status_code == 200 and "TQ-1" in words(page)


def test_the_calendar_asks_no_more_for_more_orders(
    maker: Client, django_assert_num_queries
) -> None:
    for number in range(12):
        make_team_order(f"TQ-{number}", deadline=timezone.localdate())
    # session, user, groups; forms to close; the orders, the clubs
    with django_assert_num_queries(6):
        maker.get(at("calendar"))


def test_the_calendar_file_has_absolute_addresses(maker: Client) -> None:
    make_team_order("TQ-1")
    response = maker.get(at("calendar_file"))
    assert response.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert "\r\nURL:http://testserver/orders/TQ-1/\r\n" in words(response)


def test_a_preview_is_the_members_form_and_stores_nothing(maker: Client) -> None:
    order = make_team_order("TQ-1", state=TeamOrder.State.DRAFT, welcome="Hello rowers")
    make_colorway(order)
    response = maker.get(at("preview", "TQ-1"))
    assert "orders/member/form.html" in [template.name for template in response.templates]
    assert "Hello rowers" in words(response)
    assert maker.post(at("preview", "TQ-1"), {"member": "Wren"}).status_code == 405
    assert not order.jacket_orders.exists()


def test_a_preview_shows_what_follows_the_choice_of_a_colorway(maker: Client) -> None:
    order = make_team_order("TQ-1")
    chosen = make_colorway(order, "Harbor")
    make_colorway(order, "Dawn")
    order.free_blocks.set(chosen.blocking.blocks.filter(code="YK"))
    page = at("preview", "TQ-1")
    before, after = maker.get(page), maker.get(page, {"colorway": chosen.pk})
    assert f'href="?colorway={chosen.pk}"' in words(before)
    assert "Your own colors" not in words(before) and "Your own colors" in words(after)


@pytest.mark.parametrize("had_one", [True, False])
def test_a_member_gets_another_private_link_and_the_jacket_stays(
    maker: Client, had_one: bool
) -> None:
    order = make_team_order("TQ-1")
    jacket = make_jacket_order(order, "Wren")
    lost = links.give_out(order, Kind.MEMBER, jacket) if had_one else None
    page = reverse("keeping:own_link", args=["TQ-1", jacket.pk])
    assert f'action="{page}"' in words(maker.get(jacket_page(jacket)))
    assert maker.get(page).status_code == 405
    response = maker.post(page)
    live = jacket.links.get(revoked_at=None)
    assert live != lost and links.address_of(live) in words(response)
    assert maker.get(links.address_of(live)).status_code == 200
    if lost:
        assert maker.get(links.address_of(lost)).status_code == 404
    anew = " anew" if had_one else ""
    assert last_words(order) == f"private link of Wren given out{anew}"


def jacket_page(jacket: JacketOrder) -> str:
    return reverse("orders:jacket_order", args=[jacket.team_order.code, jacket.pk])


def test_a_helper_and_a_stranger_get_none_of_it(helper: Client) -> None:
    order = make_team_order("TQ-1", club=make_club("Secret Club"))
    handing_out.give_out(order, Kind.MEMBERS, by=None)
    pages = [
        at("calendar"),
        at("calendar_file"),
        *(at(name, "TQ-1") for name in ("preview", "move", "cancel", "repeat", "poster")),
        at("give_link", "TQ-1", "members"),
        at("revoke_link", "TQ-1", "members"),
        at("own_link", "TQ-1", 1),
    ]
    for page in pages:
        for method in ("get", "post"):
            response = getattr(helper, method)(page)
            assert response.status_code == 403, page
            assert "Secret Club" not in words(response)
            strange = getattr(Client(), method)(page)
            assert strange.headers["Location"].startswith("/log-in/"), page
    assert order.links.filter(revoked_at=None).count() == 1
    assert TeamOrder.objects.get().state == "open"


def test_what_is_not_there_is_not_found(maker: Client) -> None:
    for name in ("preview", "cancel", "repeat", "poster"):
        assert maker.get(at(name, "NOPE")).status_code == 404

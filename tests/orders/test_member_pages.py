"""The members' pages by an anonymous browser without JavaScript."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
import segno
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from orders import links
from orders.models import AccessLink, JacketOrder, TeamOrder
from patterns.models import Block, Pattern, PatternSize
from tests.factories import (
    make_blocking,
    make_club,
    make_colorway,
    make_fabric_color,
    make_jacket_order,
    make_maker,
    make_pattern,
    make_size,
    make_team_order,
)

Kind = AccessLink.Kind


@pytest.fixture(autouse=True)
def no_guesses() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def phone(db: None, quick_pictures: None) -> Client:
    return Client()


def open_order(**overrides: Any) -> TeamOrder:
    """An open order of Tern Quay with one colorway."""
    club = make_club("Tern Quay Rowing Club", contact="the boat captain, 0123")
    values: dict[str, Any] = {"club": club, "title": "Spring regatta", "note": "for the workroom"}
    team_order = make_team_order("TQ-1", **values | overrides)
    make_colorway(team_order)
    return team_order


def form_of(team_order: TeamOrder) -> str:
    return links.address_of(links.give_out(team_order, Kind.MEMBERS))


def private(jacket_order: JacketOrder) -> str:
    return links.address_of(links.give_out(jacket_order.team_order, Kind.MEMBER, jacket_order))


def typed(team_order: TeamOrder, **overrides: Any) -> dict[str, Any]:
    colorway = team_order.colorways.all()[0]
    values = {
        "form_key": str(uuid4()),
        "member": "Noa Lind",
        "colorway": colorway.pk,
        "size": colorway.blocking.pattern.sizes.get(code="M").pk,
        "name_on_jacket": "",
    }
    return values | overrides


def words(response: Any) -> str:
    return re.sub(r"\s+", " ", response.content.decode())


def without_csrf(response: Any) -> str:
    return re.sub(r'name="csrfmiddlewaretoken" value="[^"]+"', "", response.content.decode())


def checked(response: Any, name: str) -> str | None:
    for tag in re.findall(r"<input[^>]*>", response.content.decode()):
        if f'name="{name}"' in tag and "checked" in tag:
            return re.search(r'value="([^"]*)"', tag)[1]  # type: ignore[index]
    return None


# The form


def test_the_form_shows_what_a_member_needs_and_no_more(phone: Client) -> None:
    team_order = open_order(
        closes_on=date(2099, 2, 1),
        welcome="Try one on first.",
        price=Decimal("64"),
        payer="members",
        discount=Decimal("99"),
        coordinator_email="coach@tern-quay.example",
    )
    make_jacket_order(team_order, "Ida Holm")
    page = words(phone.get(form_of(team_order)))
    for shown in (
        "Spring regatta",
        "Tern Quay Rowing Club",
        "Sunday 1 February 2099",
        "Saturday 14 March 2099",
        "Try one on first.",
        "64.00 EUR; you pay",
        "Harbor",
        "never stored",
    ):
        assert shown in page
    for hidden in (
        "log-in",
        "Log in",
        "log-out",
        '<nav class="site-nav"',
        "Ida Holm",
        "boat captain",
        "coach@",
        "for the workroom",
        "99.00",
        "TQ-1",
        'name="note"',
        'name="discount"',
        'name="price"',
    ):
        assert hidden not in page


def test_the_club_pays_and_no_price_are_said_so(phone: Client) -> None:
    team_order = open_order(price=Decimal("64"))
    assert "your club pays" in words(phone.get(form_of(team_order)))
    TeamOrder.objects.update(price=None)
    assert "Price" not in words(phone.get(form_of(team_order)))


def test_the_one_colorway_is_chosen_and_several_are_asked(phone: Client) -> None:
    team_order = open_order()
    harbor = team_order.colorways.get()
    address = form_of(team_order)
    assert checked(phone.get(address), "colorway") == str(harbor.pk)
    make_colorway(team_order, "Dawn")
    page = phone.get(address)
    assert checked(page, "colorway") is None
    assert page.content.count(b"<svg data-fills") == 2
    assert "Choose a jacket to see it" in words(page)


def test_an_order_goes_from_form_to_confirmation_without_javascript(phone: Client) -> None:
    team_order = open_order(closes_on=date(2099, 2, 1))
    response = phone.post(form_of(team_order), typed(team_order))
    jacket_order = JacketOrder.objects.get()
    link = AccessLink.objects.get(kind=Kind.MEMBER)
    assert response.headers["Location"] == f"/mine/{links.token_of(link)}/ordered/"
    page = words(phone.get(response.headers["Location"]))
    assert (jacket_order.member, jacket_order.size.code) == ("Noa Lind", "M")
    assert f'value="http://testserver{links.address_of(link)}"' in page
    assert "change it until Sunday 1 February 2099" in page
    assert 'role="img" aria-label="The private link as a square to scan"' in page
    assert "style=" not in page


def test_the_square_holds_the_private_link(phone: Client) -> None:
    page = phone.get(f"{private(make_jacket_order(open_order()))}ordered/")
    address = re.search(r'data-copy readonly value="([^"]+)"', words(page))
    drawn = re.search(r'<path[^>]* stroke="#000"[^>]* d="([^"]+)"', words(page))
    assert address is not None and drawn is not None
    dark = sum(int(run) for run in re.findall(r"h(\d+)", drawn[1]))
    assert dark == sum(map(sum, segno.make(address[1], error="m", micro=False).matrix))


def test_a_double_tap_orders_once_and_leads_to_the_same_page(phone: Client) -> None:
    team_order = open_order()
    sent = typed(team_order)
    first, second = (phone.post(form_of(team_order), sent) for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert JacketOrder.objects.count() == 1
    assert "sent before" not in words(phone.get(second.headers["Location"]))


def test_a_form_sent_again_for_somebody_else_says_that_nothing_was_ordered(phone: Client) -> None:
    team_order = open_order()
    sent = typed(team_order)
    phone.post(form_of(team_order), sent)
    response = phone.post(form_of(team_order), sent | {"member": "Ida Holm"}, follow=True)
    assert "sent before, for Noa Lind in size M; nothing was ordered" in words(response)
    assert JacketOrder.objects.count() == 1


def test_a_taken_name_is_refused_at_its_field_and_nothing_typed_is_lost(phone: Client) -> None:
    team_order = open_order()
    make_jacket_order(team_order, "Noa Lind", size="S", name_on_jacket="CAPTAIN")
    sent = typed(team_order, member="noa lind", name_on_jacket="NOA")
    page = phone.post(form_of(team_order), sent)
    assert "open your private link" in words(page)
    assert re.search(r'id="id_member_error">\s*<li>A jacket is ordered', page.content.decode())
    assert 'value="NOA"' in words(page)
    assert "CAPTAIN" not in words(page)
    assert "/mine/" not in words(page)
    assert checked(page, "size") == str(sent["size"])
    assert sent["form_key"] in words(page)


def test_missing_answers_are_said_at_their_fields(phone: Client) -> None:
    team_order = open_order()
    page = words(phone.post(form_of(team_order), {"form_key": str(uuid4())}))
    for message in ("Type your name.", "Choose how your jacket looks.", "Choose your size."):
        assert message in page
    assert not JacketOrder.objects.exists()


@pytest.mark.parametrize("key", ["", "not-a-key"])
def test_a_form_without_its_mark_is_asked_for_again(phone: Client, key: str) -> None:
    team_order = open_order()
    page = words(phone.post(form_of(team_order), typed(team_order, form_key=key)))
    assert "has lost its mark" in page
    assert not JacketOrder.objects.exists()


def test_colors_are_asked_for_free_blocks_of_the_colorway_from_the_palette(phone: Client) -> None:
    team_order = open_order()
    make_fabric_color("rust")
    foreign = make_blocking("Other", blocks=("ZZ",))
    team_order.free_blocks.set([Block.objects.get(code="YK"), *foreign.blocks.all()])
    page = words(phone.get(form_of(team_order)))
    assert 'name="own_YK"' in page
    assert "oat</option>" in page
    for hidden in ("own_BD", "own_ZZ", "rust"):
        assert hidden not in page


def test_a_color_that_is_not_offered_gets_a_message(phone: Client) -> None:
    team_order = open_order()
    team_order.free_blocks.set([Block.objects.get(code="YK")])
    rust = make_fabric_color("rust")
    page = words(phone.post(form_of(team_order), typed(team_order, own_YK=rust.pk)))
    assert "Choose one of the colors offered." in page
    assert not JacketOrder.objects.exists()


def test_a_color_sent_for_a_fixed_block_colors_nothing(phone: Client) -> None:
    team_order = open_order()
    oat = make_fabric_color("oat")
    phone.post(form_of(team_order), typed(team_order, own_BD=oat.pk))
    assert not JacketOrder.objects.get().choices.exists()


def test_a_colorway_or_size_that_is_not_offered_gets_a_message(phone: Client) -> None:
    team_order, other = open_order(), make_team_order()
    foreign = make_colorway(other, "Secret")
    page = words(phone.post(form_of(team_order), typed(team_order, colorway=foreign.pk)))
    assert "Choose one of the colorways shown." in page
    assert "Secret" not in page
    team_order.sizes.set([PatternSize.objects.get(code="L")])
    page = words(phone.post(form_of(team_order), typed(team_order)))
    assert "Choose one of the sizes shown." in page
    assert not JacketOrder.objects.exists()


def test_sizes_wait_for_the_colorway_where_patterns_differ(phone: Client) -> None:
    team_order = open_order()
    make_pattern("P2", sizes=("36", "38"))
    pattern = Pattern.objects.get(code="P2")
    other = make_colorway(
        team_order, "Wide", blocking=make_blocking("Wide", pattern=pattern, blocks=("WB",))
    )
    address = form_of(team_order)
    assert "Choose a jacket first" in words(phone.get(address))
    page = words(phone.post(address, {"show": "1", "colorway": other.pk}))
    assert " 38</span>" in page
    assert " M</span>" not in page


def test_show_it_keeps_what_is_typed_and_orders_nothing(phone: Client) -> None:
    team_order = open_order()
    dawn = make_colorway(team_order, "Dawn", color="oat")
    team_order.free_blocks.set([Block.objects.get(code="YK")])
    sent = typed(team_order, colorway=dawn.pk, own_YK=make_fabric_color("spruce").pk, show="1")
    page = phone.post(form_of(team_order), sent)
    assert checked(page, "colorway") == str(dawn.pk)
    assert checked(page, "size") == str(sent["size"])
    assert 'value="Noa Lind"' in words(page)
    assert sent["form_key"] in words(page)
    legend = re.search(r'<dl class="legend">(.*?)</dl>', words(page))
    assert legend is not None
    assert re.findall(r"</svg> (\w+)</span></dt><dd>([^<]*)", legend[1]) == [
        ("spruce", "YK YK part"),
        ("oat", "BD BD part"),
    ]
    assert not JacketOrder.objects.exists()


def test_names_on_jackets_are_asked_only_where_they_are_allowed(phone: Client) -> None:
    team_order = open_order(names_allowed=False)
    address = form_of(team_order)
    assert "name_on_jacket" not in words(phone.get(address))
    phone.post(address, typed(team_order, name_on_jacket="NOA"))
    assert JacketOrder.objects.get().name_on_jacket == ""


def test_names_are_escaped_wherever_they_stand(phone: Client) -> None:
    evil = '<script>alert("x")</script>'
    team_order = open_order(title="<b>Spring</b>", welcome="<img src=x>")
    make_colorway(team_order, "<i>Dawn</i>")
    pages = [words(phone.get(form_of(team_order)))]
    response = phone.post(form_of(team_order), typed(team_order, member=evil, name_on_jacket="<u>"))
    pages.append(words(phone.get(response.headers["Location"])))
    pages.append(words(phone.get(private(JacketOrder.objects.get()))))
    for page in pages:
        for raw in ("<script>alert", "<b>Spring", "<img src", "<i>Dawn", "<u>"):
            assert raw not in page
    assert "&lt;script&gt;" in pages[1]


@pytest.mark.parametrize("member", ["Noa\nLind", "N" * 81])
def test_a_name_of_two_lines_or_too_long_is_refused(phone: Client, member: str) -> None:
    team_order = open_order()
    page = phone.post(form_of(team_order), typed(team_order, member=member))
    assert 'id="id_member_error"' in words(page)
    assert not JacketOrder.objects.exists()


def test_the_form_costs_few_queries_however_many_colorways_there_are(
    phone: Client, django_assert_max_num_queries: Any
) -> None:
    team_order = open_order()
    for name in ("Dawn", "Squall", "Lantern", "Shingle"):
        make_colorway(team_order, name)
    address = form_of(team_order)
    with django_assert_max_num_queries(30):
        assert phone.get(address).status_code == 200


# The size


def advise_me(phone: Client, team_order: TeamOrder, **measures: str) -> Any:
    return phone.post(form_of(team_order), typed(team_order, advise="1", **measures))


def test_advice_comes_with_everything_typed_kept_and_nothing_stored(phone: Client) -> None:
    team_order = open_order()
    pattern = Pattern.objects.get()
    PatternSize.objects.all().update(chest_mm=900)
    larger = make_size(pattern, "XL", 9)
    PatternSize.objects.filter(pk=larger.pk).update(chest_mm=1060)
    # An ease of 20 cm: XL is 126 cm around, 26 cm more than a chest of 100.
    page = advise_me(phone, team_order, chest_mm="41 in", arm_mm="62")
    text = words(page)
    assert "<strong>Size XL:</strong> loose; about 22 cm of room at the chest" in text
    assert 'value="41 in"' in text
    assert 'value="Noa Lind"' in text
    assert re.search(r'<details[^>]*id="measuring" open', text)
    assert not JacketOrder.objects.exists()


def test_a_measure_that_is_none_gets_its_message_at_its_field(phone: Client) -> None:
    team_order = open_order()
    text = words(advise_me(phone, team_order, chest_mm="98", arm_mm="long"))
    assert re.search(r"id=\"id_arm_mm_error\"><li>&#x27;long&#x27; is not a length", text)
    assert 'value="98"' in text
    assert "Size M:" not in text


def test_advice_without_any_measure_asks_for_the_chest(phone: Client) -> None:
    text = words(advise_me(phone, open_order()))
    assert re.search(r'id="id_chest_mm_error"><li>Type your chest, or', text)


def test_advice_before_the_colorway_asks_for_it_where_patterns_differ(phone: Client) -> None:
    team_order = open_order()
    pattern = make_pattern("P2", sizes=("36",))
    blocking = make_blocking("Wide", pattern=pattern, blocks=("WB",))
    make_colorway(team_order, "Wide", blocking=blocking)
    sent = {"advise": "1", "chest_mm": "98"}
    assert "Choose a colorway first" in words(phone.post(form_of(team_order), sent))


def test_measures_sent_with_the_order_are_forgotten(phone: Client) -> None:
    team_order = open_order()
    phone.post(form_of(team_order), typed(team_order, chest_mm="98.7", height_mm="junk"))
    stored = JacketOrder.objects.values().get()
    assert stored["member"] == "Noa Lind"
    assert not any("98" in str(value) for name, value in stored.items() if name != "form_key")


# Links and codes


@pytest.mark.parametrize("kind", [Kind.MEMBERS, Kind.MEMBER])
def test_a_wrong_and_a_revoked_link_get_the_same_answer(phone: Client, kind: str) -> None:
    team_order = open_order()
    line = make_jacket_order(team_order) if kind == Kind.MEMBER else None
    link = links.give_out(team_order, kind, line)
    links.revoke(link)
    name = "members:form" if kind == Kind.MEMBERS else "members:mine"
    wrong = phone.get(reverse(name, args=["A" * 22]))
    revoked = phone.get(links.address_of(link))
    assert (wrong.status_code, revoked.status_code) == (404, 404)
    assert wrong.content == revoked.content
    assert "Tern Quay" not in words(revoked)
    assert "log-in" not in words(revoked)


def test_a_link_opens_only_its_own_kind_of_page(phone: Client) -> None:
    team_order = open_order()
    members = links.token_of(links.give_out(team_order, Kind.MEMBERS))
    one = links.token_of(links.give_out(team_order, Kind.MEMBER, make_jacket_order(team_order)))
    coordinator = links.token_of(links.give_out(team_order, Kind.COORDINATOR))
    for name, tokens in (
        ("form", (one, coordinator)),
        ("mine", (members, coordinator)),
        ("ordered", (members, coordinator)),
        ("export", (members, coordinator)),
    ):
        for token in tokens:
            assert phone.get(reverse(f"members:{name}", args=[token])).status_code == 404


def test_an_address_that_guesses_too_often_has_to_wait(phone: Client) -> None:
    team_order = open_order()
    address = form_of(team_order)
    for guess in range(links.WRONG_ALLOWED):
        assert phone.get(reverse("members:mine", args=[f"guess{guess}"])).status_code == 404
    for page in (address, reverse("members:mine", args=["guess"])):
        assert phone.get(page).status_code == 429
    assert phone.post(reverse("members:join"), {"code": "ABCDEFGHJK"}).status_code == 429


def test_the_code_from_the_board_opens_the_form_however_it_is_typed(phone: Client) -> None:
    link = links.give_out(open_order(), Kind.MEMBERS)
    code = str(link.short_code)
    assert phone.get(reverse("members:join")).status_code == 200
    for way in (code, code.lower(), f"{code[:5]}-{code[5:]}", f" {code[:3]} {code[3:]} "):
        response = phone.post(reverse("members:join"), {"code": way})
        assert response.headers["Location"] == links.address_of(link)


def test_a_wrong_and_a_withdrawn_code_get_the_same_answer_and_are_counted(phone: Client) -> None:
    link = links.give_out(open_order(), Kind.MEMBERS)
    code = str(link.short_code)
    links.revoke(link)
    join = reverse("members:join")
    answers = []
    for guess in (code, "AAAAABBBBB"):
        response = phone.post(join, {"code": guess})
        assert response.status_code == 404
        answers.append(without_csrf(response).replace(guess, ""))
    assert answers[0] == answers[1]
    assert "opens no form" in answers[0]
    for number in range(links.WRONG_ALLOWED - 2):
        assert phone.post(join, {"code": f"WRONG{number}"}).status_code == 404
    assert phone.post(join, {"code": "WRONG"}).status_code == 429


def test_one_revoked_link_opened_by_a_whole_team_locks_nobody_out(phone: Client) -> None:
    team_order = open_order()
    revoked = links.give_out(team_order, Kind.MEMBERS)
    anew = links.give_out_anew(revoked)
    for _ in range(links.WRONG_ALLOWED + 1):
        assert phone.get(links.address_of(revoked)).status_code == 404
    assert phone.get(links.address_of(anew)).status_code == 200


def test_every_answer_is_kept_secret_and_asks_no_other_site(phone: Client) -> None:
    team_order = open_order()
    address, join = form_of(team_order), reverse("members:join")
    mine = private(make_jacket_order(team_order, "Ida Holm"))
    answers = [
        phone.get(join),
        phone.post(join, {"code": "WRONG"}),
        phone.post(join, {"code": AccessLink.objects.get(kind=Kind.MEMBERS).short_code}),
        phone.get(address),
        phone.post(address, {}),
        phone.post(address, {"show": "1"}),
        phone.post(address, typed(team_order)),
        phone.put(address),
        phone.get(mine),
        phone.get(f"{mine}ordered/"),
        phone.get(f"{mine}export/"),
        phone.post(mine, {"cancel": "1"}),
        phone.get(mine),
    ]
    for response in answers:
        assert response.headers["X-Robots-Tag"] == "noindex, nofollow"
        assert response.headers["Cache-Control"] == "no-store"
        assert response.headers["Referrer-Policy"] == "same-origin"
        away = re.findall(r'(?:src|href|action)="(?:https?:)?//([^"/]*)', words(response))
        assert set(away) <= {"testserver"}


def test_posts_need_the_pages_own_mark(quick_pictures: None, db: None) -> None:
    strict = Client(enforce_csrf_checks=True)
    team_order = open_order()
    address = form_of(team_order)
    assert strict.post(address, typed(team_order)).status_code == 403
    page = strict.get(address).content.decode()
    mark = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
    assert mark is not None
    sent = typed(team_order, csrfmiddlewaretoken=mark[1])
    # What a browser sends with a form of this page; under another referrer policy it would be null.
    answer = strict.post(address, sent, headers={"Origin": "http://testserver"})
    assert answer.status_code == 302


# Closed


@pytest.mark.parametrize(
    ("state", "reason"),
    [
        ("draft", "not open yet"),
        ("closed", "The form is closed"),
        ("in_production", "being made"),
        ("cancelled", "order is cancelled"),
    ],
)
def test_a_closed_form_says_so_and_takes_nothing(phone: Client, state: str, reason: str) -> None:
    team_order = open_order()
    address = form_of(team_order)
    sent = typed(team_order)
    TeamOrder.objects.update(state=state)
    for response in (phone.get(address), phone.post(address, sent)):
        assert reason in words(response)
        assert "<form" not in words(response)
    assert not JacketOrder.objects.exists()


def test_ones_own_jacket_stays_to_be_read_when_the_form_is_closed(phone: Client) -> None:
    team_order = open_order()
    mine = private(make_jacket_order(team_order, "Noa Lind", own={"YK": "oat"}))
    TeamOrder.objects.update(closes_on=timezone.localdate() - timedelta(days=1))
    page = phone.get(mine)
    for shown in ("Noa Lind", "closed since", "Harbor", "oat", "My data as a file"):
        assert shown in words(page)
    for gone in ("Save my change", "Cancel my jacket", "<form"):
        assert gone not in words(page)
    phone.post(mine, typed(team_order, size=PatternSize.objects.get(code="L").pk))
    phone.post(mine, {"cancel": "1"})
    assert JacketOrder.objects.get().size.code == "M"
    assert phone.get(f"{mine}ordered/").status_code == 200


# One's own jacket


def test_a_member_changes_the_own_jacket(phone: Client) -> None:
    team_order = open_order()
    team_order.free_blocks.set([Block.objects.get(code="YK")])
    line = make_jacket_order(team_order, "Noa Lind", own={"YK": "oat"})
    mine = private(line)
    page = phone.get(mine)
    assert checked(page, "size") == str(line.size_id)
    assert "selected>oat" in words(page)
    changed = typed(team_order, size=PatternSize.objects.get(code="L").pk, own_YK="")
    response = phone.post(mine, changed, follow=True)
    assert response.redirect_chain == [(mine, 302)]
    assert "Your change is saved." in words(response)
    stored = JacketOrder.objects.get()
    assert (stored.size.code, stored.choices.count()) == ("L", 0)
    assert team_order.amendments.get().words == "size M to L; YK oat to as colorway"


def test_a_change_by_the_coordinator_meanwhile_is_not_written_over_unseen(phone: Client) -> None:
    team_order = open_order()
    line = make_jacket_order(team_order, "Noa Lind", size="M")
    mine = private(line)
    seen = re.search(r'name="seen" value="(\w+)"', words(phone.get(mine)))
    JacketOrder.objects.update(size=line.size.pattern.sizes.get(code="L"))
    form = typed(team_order, name_on_jacket="NOA", seen=seen and seen[1])
    answer = phone.post(mine, form)
    assert "changed on another page meanwhile" in words(answer)
    assert answer.context["form"]["name_on_jacket"].value() == "NOA"
    line.refresh_from_db()
    assert (line.size.code, line.name_on_jacket) == ("L", "")
    phone.post(mine, form | {"seen": answer.context["form"].seen})
    line.refresh_from_db()
    assert (line.size.code, line.name_on_jacket) == ("M", "NOA")


def test_nobody_sets_the_own_price(phone: Client) -> None:
    team_order = open_order(price=Decimal("64"))
    line = make_jacket_order(team_order, "Noa Lind", discount=Decimal("4"))
    sent = typed(team_order, discount="60", price="1", note="free", member="Noa Lind")
    phone.post(private(line), sent)
    phone.post(form_of(team_order), sent | {"member": "Ida Holm"})
    assert TeamOrder.objects.get().price == 64
    discounts = JacketOrder.objects.order_by("pk").values_list("discount", "note")
    assert list(discounts) == [(Decimal("4.00"), ""), (Decimal("0.00"), "")]
    assert "60.00 EUR, 4.00 EUR already taken off" in words(phone.get(private(line)))


def test_the_makers_note_and_other_jackets_stay_unseen(phone: Client) -> None:
    team_order = open_order()
    make_jacket_order(team_order, "Ida Holm")
    line = make_jacket_order(team_order, "Noa Lind", note="pays late")
    page = words(phone.get(private(line)))
    assert "pays late" not in page
    assert "Ida Holm" not in page


def test_the_makers_colors_show_in_the_picture_of_ones_own_jacket(phone: Client) -> None:
    team_order = open_order()
    line = make_jacket_order(team_order, "Noa Lind", own={"BD": "oat"})
    page = words(phone.get(private(line)))
    assert re.search(r"oat</span></dt><dd>BD BD part", page)


def test_a_member_cancels_the_own_jacket(phone: Client) -> None:
    team_order = open_order()
    other = make_jacket_order(team_order, "Ida Holm")
    mine = private(make_jacket_order(team_order, "Noa Lind"))
    response = phone.post(mine, {"cancel": "1"}, follow=True)
    assert response.redirect_chain == [(reverse("members:join"), 302)]
    assert "The jacket of Noa Lind is cancelled" in words(response)
    assert JacketOrder.objects.get() == other
    assert phone.get(mine).status_code == 404


def test_a_cancel_that_comes_too_late_says_why(
    phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    from orders import member_services, member_views

    mine = private(make_jacket_order(open_order(), "Noa Lind"))
    # The form closes between the page's look at it and the service's.
    monkeypatch.setattr(member_views, "why_closed", lambda *asked: "")
    monkeypatch.setattr(member_services, "why_closed", lambda *asked: "The form is closed.")
    response = phone.post(mine, {"cancel": "1"}, follow=True)
    assert "The form is closed. Nothing was changed." in words(response)
    assert JacketOrder.objects.exists()


def test_a_members_data_comes_as_a_file_with_nobody_elses(phone: Client) -> None:
    team_order = open_order()
    make_jacket_order(team_order, "Ida Holm")
    line = make_jacket_order(team_order, "Noa Lind", own={"YK": "oat"}, note="tall")
    line.payments.create(
        team_order=team_order,
        receipt="2026-0001",
        kind="deposit",
        amount=Decimal("10"),
        paid_on=date(2026, 11, 25),
    )
    response = phone.get(f"{private(line)}export/")
    assert response.headers["Content-Disposition"] == 'attachment; filename="my-jacket.json"'
    data = json.loads(response.content)
    assert data["member"] == "Noa Lind"
    assert data["own_colors"] == {"YK part": "oat"}
    assert data["note"] == "tall"
    assert data["payments"][0]["amount"] == "10.00"
    assert "Ida Holm" not in response.content.decode()


def test_the_maker_may_look_at_the_form_too(quick_pictures: None, db: None) -> None:
    maker = Client()
    maker.force_login(make_maker())
    assert maker.get(form_of(open_order())).status_code == 200

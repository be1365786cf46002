"""The order pages: status, where they lead, the row read back; then a stranger and a helper."""

from __future__ import annotations

import csv
from datetime import timedelta
from io import BytesIO, StringIO
from typing import Any
from urllib.parse import urlencode

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from orders.models import Club, Colorway, JacketOrder, TeamOrder
from production.models import Run, RunOrder
from tests.factories import (
    make_blocking,
    make_club,
    make_colorway,
    make_fabric_color,
    make_jacket_order,
    make_team_order,
    make_zipper,
)


def order_form(**overrides: Any) -> dict[str, Any]:
    palette = [make_fabric_color(name).pk for name in ("spruce", "oat")]
    values = {
        "club": "",
        "new_club": "Tern Quay Rowing Club",
        "contact": "the coach",
        "title": "Spring regatta",
        "deadline": "2099-03-14",
        "code": "",
        "palette": palette,
        "note": "",
        "payer": "club",
        "erase_after_days": "90",
    }
    return values | overrides


def url(name: str, *args: object) -> str:
    return reverse(f"orders:{name}", args=args)


def words(response: Any) -> str:
    return str(response.content.decode())


def test_a_stranger_is_sent_to_the_log_in(db: None, client: Client) -> None:
    order = make_team_order()
    for page in (reverse("home"), url("new_team_order"), url("team_order", order.code)):
        assert client.get(page).headers["Location"] == f"/log-in/?next={page}"


@pytest.mark.parametrize(
    ("came_from", "then"),
    [
        ("http://testserver/orders/?state=open", "/orders/?state=open"),
        ("http://elsewhere.example/orders/", "/"),
        ("", "/"),
    ],
)
def test_what_was_sent_after_the_log_in_ran_out_leads_back_to_its_page(
    db: None, client: Client, came_from: str, then: str
) -> None:
    """Its own address takes what is sent and opens no page."""
    answer = client.post(url("suggest_code"), {}, headers={"referer": came_from})
    assert answer.headers["Location"] == f"/log-in/?{urlencode({'next': then}, safe='/')}"
    assert "so what you sent was not done" in words(client.get(answer.headers["Location"]))


def test_a_helper_sees_no_order_page(helper: Client) -> None:
    order = make_team_order("TQ-1", club=make_club("Secret Club", contact="0123"))
    jacket = make_jacket_order(order)
    pages = [
        url("new_team_order"),
        url("suggest_code"),
        url("deleted_orders"),
        url("team_order", "TQ-1"),
        url("edit_team_order", "TQ-1"),
        url("delete_team_order", "TQ-1"),
        url("amendments", "TQ-1"),
        url("roster", "TQ-1"),
        url("new_colorway", "TQ-1"),
        url("edit_colorway", "TQ-1", jacket.colorway.pk),
        url("delete_colorway", "TQ-1", jacket.colorway.pk),
        url("new_jacket_order", "TQ-1"),
        url("jacket_order", "TQ-1", jacket.pk),
        url("edit_jacket_order", "TQ-1", jacket.pk),
        url("delete_jacket_order", "TQ-1", jacket.pk),
    ]
    for page in pages:
        for response in (helper.get(page), helper.post(page)):
            assert response.status_code == 403, page
            assert "Secret Club" not in words(response)
    assert TeamOrder.objects.count() == JacketOrder.objects.count() == 1


def test_the_start_page_leads_a_helper_to_the_lists_of_today(helper: Client) -> None:
    assert helper.get(reverse("home")).headers["Location"] == reverse("production:today")


def test_an_empty_start_page_says_what_to_do_next(maker: Client) -> None:
    assert url("new_team_order") in words(maker.get(reverse("home")))


def test_the_start_page_asks_no_more_for_more_orders(
    maker: Client, django_assert_num_queries
) -> None:
    for number in range(3):
        make_jacket_order(make_team_order(f"TQ-{number}"))
    # session, user, groups; forms to close; the clubs on offer; is there any, any deleted; count of
    # rows, the rows
    with django_assert_num_queries(9):
        page = words(maker.get(reverse("home")))
    assert all(f"TQ-{number}" in page for number in range(3))


def test_orders_are_filtered_sorted_and_paged(maker: Client) -> None:
    club = make_club("Lowmarsh")
    make_team_order("LM-1", club=club)
    for number in range(30):
        make_team_order(f"TQ-{number:02}")
    found = words(maker.get(reverse("home"), {"club": club.pk}))
    assert "LM-1" in found and "TQ-00" not in found
    assert "TQ-29" in words(maker.get(reverse("home"), {"sort": "-code"}))
    assert "TQ-29" in words(maker.get(reverse("home"), {"sort": "code", "page": "2"}))
    assert "TQ-07" in words(maker.get(reverse("home"), {"text": "q-07"}))
    assert (
        maker.get(reverse("home"), {"page": "x", "sort": "nope", "state": "no"}).status_code == 200
    )


def test_htmx_gets_the_table_alone_and_caches_know(maker: Client) -> None:
    make_team_order("TQ-1")
    part = maker.get(reverse("home"), headers={"HX-Request": "true"})
    assert "TQ-1" in words(part) and "<html" not in words(part)
    assert "HX-Request" in part.headers["Vary"]
    restored = maker.get(
        reverse("home"),
        headers={"HX-Request": "true", "HX-History-Restore-Request": "true"},
    )
    assert "<html" in words(restored)


def test_sorting_starts_again_at_the_first_page(maker: Client) -> None:
    for number in range(30):
        make_team_order(f"TQ-{number:02}")
    page = words(maker.get(reverse("home"), {"page": 2}))
    assert 'href="?sort=code"' in page and 'aria-current="page"' in page


@pytest.mark.parametrize("sign", ["=1+1", "+1", "-1", "@x", "\t=1"])
def test_no_exported_cell_is_a_formula(maker: Client, sign: str) -> None:
    make_team_order("TQ-1", title=f"{sign} title", club=make_club("plain"))
    content = maker.get(reverse("home"), {"_export": "csv"}).content.decode()
    assert next(csv.DictReader(StringIO(content)))["Title"] == f"'{sign} title"
    sheet = load_workbook(BytesIO(maker.get(reverse("home"), {"_export": "xlsx"}).content)).active
    assert sheet is not None
    assert [cell.data_type for cell in sheet[2]] == ["s", "s", "s", "s", "n", "s"]


def test_an_export_holds_every_row_that_fits_and_no_dashes(maker: Client) -> None:
    order = make_team_order("TQ-1")
    for number in range(30):
        make_jacket_order(order, f"Member {number}", own={"YK": "oat"} if number == 7 else None)
    content = maker.get(url("team_order", "TQ-1"), {"_export": "csv"}).content.decode()
    rows = list(csv.DictReader(StringIO(content)))
    assert len(rows) == 30
    assert rows[7]["Own colors"] == "YK oat"
    assert (rows[0]["Note"], rows[0]["Own colors"]) == ("", "")


@pytest.mark.parametrize("unknown", ["json", "yaml", "", "../x"])
def test_other_export_formats_are_not_found(maker: Client, unknown: str) -> None:
    assert maker.get(reverse("home"), {"_export": unknown}).status_code == 404


def test_a_new_order_makes_its_club_and_code(maker: Client) -> None:
    make_team_order("TQ-99A")
    response = maker.post(url("new_team_order"), order_form())
    order = TeamOrder.objects.get(code="TQ-99B")
    assert response.headers["Location"] == order.get_absolute_url()
    assert order.club.contact == "the coach"
    assert order.palette.count() == 2


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("deadline", "2001-01-01", "The deadline is past"),
        ("new_club", "", "Choose a club or name a new one."),
        ("new_club", "LOWMARSH", "LOWMARSH is known; choose it from the list."),
        ("code", "no blanks", "A code is made of letters"),
        ("title", "two\x00parts", "Null characters are not allowed."),
        ("palette", [], "This field is required."),
    ],
)
def test_a_bad_order_is_told_by_the_field(
    maker: Client, field: str, value: object, message: str
) -> None:
    make_club("Lowmarsh")
    response = maker.post(url("new_team_order"), order_form(**{field: value}))
    assert response.status_code == 200
    assert message in " ".join(
        error for errors in response.context["form"].errors.values() for error in errors
    )
    assert not TeamOrder.objects.exists() and Club.objects.count() == 1


def test_a_code_is_suggested_but_an_own_one_stays(maker: Client) -> None:
    asked = {"new_club": "Tern Quay Rowing Club", "deadline": "2099-03-14"}
    first = words(maker.get(url("suggest_code"), asked))
    assert 'value="TQ-99A"' in first
    taken_over = asked | {"code": "TQ-99A", "suggested": "TQ-99A", "new_club": "Lowmarsh Paddlers"}
    assert 'value="LP-99A"' in words(maker.get(url("suggest_code"), taken_over))
    own = asked | {"code": "MINE", "suggested": "TQ-99A"}
    assert 'value="MINE"' in words(maker.get(url("suggest_code"), own))


def test_a_past_deadline_may_stay_when_the_rest_is_edited(maker: Client) -> None:
    past = timezone.localdate() - timedelta(days=3)
    order = make_team_order("TQ-1", deadline=past)
    form = order_form(
        club=order.club.pk, new_club="", code="TQ-1", deadline=past.isoformat(), title="new"
    )
    assert maker.post(url("edit_team_order", "TQ-1"), form).status_code == 302
    assert TeamOrder.objects.get().title == "new"


def test_an_order_is_deleted_after_being_asked(maker: Client) -> None:
    make_jacket_order(make_team_order("TQ-1"))
    assert "1 jacket go with it" in words(maker.get(url("delete_team_order", "TQ-1")))
    assert TeamOrder.objects.count() == 1
    assert maker.post(url("delete_team_order", "TQ-1")).headers["Location"] == reverse("home")
    assert not TeamOrder.objects.exists()


def test_an_order_page_shows_its_facts_and_way_on(maker: Client) -> None:
    order = make_team_order("TQ-1", club=make_club("Tern Quay", contact="the coach"))
    assert reverse("production:new_run") not in words(maker.get(order.get_absolute_url()))
    make_jacket_order(order, "Wren <b>")
    page = words(maker.get(order.get_absolute_url()))
    assert f"{reverse('production:new_run')}?order=TQ-1" in page
    assert "the coach" in page and "Wren &lt;b&gt;" in page


def test_an_order_page_asks_no_more_for_more_jackets(
    maker: Client, django_assert_max_num_queries
) -> None:
    order = make_team_order("TQ-1")
    make_colorway(order)
    for number in range(20):
        make_jacket_order(order, f"M {number}", own={"YK": "oat"})
    with django_assert_max_num_queries(28):
        maker.get(order.get_absolute_url())


def test_an_unknown_order_is_not_found(maker: Client) -> None:
    assert maker.get(url("team_order", "NOPE")).status_code == 404
    assert maker.post(url("edit_team_order", "NOPE")).status_code == 404


def colorway_form(blocking: object, **overrides: object) -> dict[str, Any]:
    color = make_fabric_color("spruce")
    return {
        "name": "Harbor",
        "zipper_color": "spruce",
        "topstitch_thread": "",
        "fill_YK": color.pk,
        "fill_BD": color.pk,
    } | overrides


def test_a_colorway_starts_with_its_blocking(maker: Client) -> None:
    make_team_order("TQ-1")
    make_blocking("Two Halves")
    page = url("new_colorway", "TQ-1")
    assert "?blocking=two-halves" in words(maker.get(page))
    assert "fill_YK" in words(maker.get(f"{page}?blocking=two-halves"))
    assert maker.get(f"{page}?blocking=nope").status_code == 404


def test_a_colorway_is_saved_with_every_block(maker: Client) -> None:
    make_team_order("TQ-1")
    blocking, _ = make_blocking("Two Halves"), make_zipper("spruce")
    page = f"{url('new_colorway', 'TQ-1')}?blocking=two-halves"
    bad = maker.post(page, colorway_form(blocking, fill_BD=""))
    assert bad.context["form"].errors["fill_BD"] and not Colorway.objects.exists()
    maker.post(page, colorway_form(blocking))
    assert Colorway.objects.get().fills.count() == 2


def test_showing_a_colorway_saves_nothing(maker: Client) -> None:
    make_team_order("TQ-1")
    blocking, _ = make_blocking("Two Halves"), make_zipper("spruce")
    page = f"{url('new_colorway', 'TQ-1')}?blocking=two-halves"
    shown = maker.post(page, colorway_form(blocking, fill_BD="", show="1"))
    assert 'data-fills="YK"' in words(shown)
    assert not shown.context["form"].errors and not Colorway.objects.exists()


def test_a_color_outside_the_palette_is_refused(maker: Client) -> None:
    order = make_team_order("TQ-1", palette=("spruce",))
    colorway, _ = make_colorway(order), make_zipper("spruce")
    form = colorway_form(colorway.blocking, fill_BD=make_fabric_color("teal").pk)
    response = maker.post(url("edit_colorway", "TQ-1", colorway.pk), form)
    assert response.context["form"].errors["fill_BD"]
    assert maker.get(url("edit_colorway", "TQ-1", 999)).status_code == 404


def test_a_colorway_in_use_says_so_and_stays(maker: Client) -> None:
    jacket = make_jacket_order(make_team_order("TQ-1"))
    response = maker.post(url("delete_colorway", "TQ-1", jacket.colorway.pk), follow=True)
    assert "Harbor is the colorway of 1 jacket;" in words(response)
    assert Colorway.objects.count() == 1


def jacket_form(made_in: Colorway, **overrides: object) -> dict[str, Any]:
    return {
        "member": "Wren Calder",
        "size": made_in.blocking.pattern.sizes.get(code="M").pk,
        "colorway": made_in.pk,
        "name_on_jacket": "WREN",
        "note": "",
    } | overrides


def test_a_jacket_is_added_with_an_own_color(maker: Client) -> None:
    colorway = make_colorway(make_team_order("TQ-1"))
    form = jacket_form(colorway, own_YK=make_fabric_color("oat").pk, own_BD="")
    response = maker.post(url("new_jacket_order", "TQ-1"), form)
    assert response.headers["Location"] == url("team_order", "TQ-1")
    jacket = JacketOrder.objects.get()
    assert [(own.block.code, own.fabric_color.name) for own in jacket.choices.all()] == [
        ("YK", "oat")
    ]


def test_a_chosen_colorway_shows_its_blocks_before_saving(maker: Client) -> None:
    order = make_team_order("TQ-1")
    make_colorway(order, "Harbor")
    other = make_colorway(order, "Dawn", blocking=make_blocking("One", blocks=("WH",)))
    assert "own_" not in words(maker.get(url("new_jacket_order", "TQ-1")))
    shown = maker.post(url("new_jacket_order", "TQ-1"), {"colorway": other.pk, "show": "1"})
    assert 'name="own_WH"' in words(shown) and not shown.context["form"].errors
    assert not JacketOrder.objects.exists()


@pytest.mark.parametrize(
    ("field", "value"),
    [("member", ""), ("member", "WREN"), ("size", ""), ("colorway", "999"), ("note", "x" * 201)],
)
def test_a_bad_jacket_is_told_by_the_field(maker: Client, field: str, value: str) -> None:
    colorway = make_colorway(make_team_order("TQ-1"))
    make_jacket_order(colorway.team_order, "Wren")
    response = maker.post(url("new_jacket_order", "TQ-1"), jacket_form(colorway, **{field: value}))
    assert response.context["form"].errors[field]
    assert f'id="id_{field}_error"' in words(response)
    assert JacketOrder.objects.count() == 1


def test_a_jacket_is_edited_shown_and_deleted(maker: Client) -> None:
    jacket = make_jacket_order(make_team_order("TQ-1"), "Wren", own={"YK": "oat"})
    page = url("edit_jacket_order", "TQ-1", jacket.pk)
    assert "selected" in words(maker.get(page)) and 'name="own_YK"' in words(maker.get(page))
    maker.post(page, jacket_form(jacket.colorway, member="Wren C."))
    assert JacketOrder.objects.get().member == "Wren C."
    shown = words(maker.get(url("jacket_order", "TQ-1", jacket.pk)))
    assert "member Wren to Wren C." in shown
    maker.post(url("delete_jacket_order", "TQ-1", jacket.pk))
    assert not JacketOrder.objects.exists()


def test_names_that_read_alike_are_one_member(maker: Client) -> None:
    colorway = make_colorway(make_team_order("TQ-1"))
    page = url("new_jacket_order", "TQ-1")
    maker.post(page, jacket_form(colorway, member="Zoé  Lee "))
    assert JacketOrder.objects.get().member == "Zoé Lee"
    for alike in ("ZOÉ LEE", "Zoe\u0301 Lee", " Zoé\u00a0Lee", "Zoé\u200b Lee", "\u202eZoé Lee"):
        response = maker.post(page, jacket_form(colorway, member=alike))
        assert "has a jacket in this order already" in words(response), alike
    assert maker.post(page, jacket_form(colorway, member="\u200b")).context["form"].errors["member"]
    assert JacketOrder.objects.count() == 1


def test_names_in_any_script_are_kept_whole(maker: Client) -> None:
    colorway = make_colorway(make_team_order("TQ-1"))
    for name in ("שרה לוי", "😀 Émile", "👩\u200d🚀 Ann", "می\u200cخواهم"):
        maker.post(url("new_jacket_order", "TQ-1"), jacket_form(colorway, member=name))
        assert JacketOrder.objects.filter(member=name).exists(), name


def test_the_only_colorway_is_chosen_already(maker: Client) -> None:
    colorway = make_colorway(make_team_order("TQ-1"))
    page = words(maker.get(url("new_jacket_order", "TQ-1")))
    assert f'<option value="{colorway.pk}" selected>' in page and 'name="own_YK"' in page


def test_the_next_jacket_starts_with_the_colorway_of_the_last(maker: Client) -> None:
    order = make_team_order("TQ-1")
    make_colorway(order, "Dawn")
    colorway = make_colorway(order, "Harbor")
    page = url("new_jacket_order", "TQ-1")
    response = maker.post(page, jacket_form(colorway, another="1"), follow=True)
    assert response.redirect_chain == [(f"{page}?colorway={colorway.pk}", 302)]
    assert f'<option value="{colorway.pk}" selected>' in words(response)
    assert maker.get(f"{page}?colorway=nope").status_code == 200


def test_own_colors_for_blocks_that_are_not_there_are_not_lost_in_silence(maker: Client) -> None:
    order = make_team_order("TQ-1")
    colorway = make_colorway(order, blocking=make_blocking("One", blocks=("WH",)))
    form = jacket_form(colorway, own_YK=make_fabric_color("oat").pk)
    response = maker.post(url("new_jacket_order", "TQ-1"), form)
    assert "Harbor has no block YK." in words(response) and 'name="own_WH"' in words(response)
    assert not JacketOrder.objects.exists()


def opened(maker: Client, page: str) -> str:
    """The mark that an edit page carries of what it was opened on."""
    return str(maker.get(page).context["form"].seen)


@pytest.mark.parametrize("what", ["order", "colorway", "jacket"])
def test_a_second_page_does_not_write_over_the_first_unasked(maker: Client, what: str) -> None:
    make_zipper("spruce")
    jacket = make_jacket_order(make_team_order("TQ-1", club=make_club("Tern Quay")), "Wren")
    page, form = {
        "order": (
            url("edit_team_order", "TQ-1"),
            order_form(club=jacket.team_order.club.pk, new_club="", code="TQ-1"),
        ),
        "colorway": (
            url("edit_colorway", "TQ-1", jacket.colorway.pk),
            colorway_form(jacket.colorway.blocking),
        ),
        "jacket": (url("edit_jacket_order", "TQ-1", jacket.pk), jacket_form(jacket.colorway)),
    }[what]
    field = "title" if what == "order" else "name" if what == "colorway" else "note"
    mark = opened(maker, page)
    assert maker.post(page, form | {field: "first", "seen": mark}).status_code == 302
    told = maker.post(page, form | {field: "second", "seen": mark})
    assert "This was changed on another page meanwhile." in words(told)
    assert 'value="second"' in words(told)
    assert opened(maker, page) == told.context["form"].seen != mark
    again = {field: "second", "seen": told.context["form"].seen}
    assert maker.post(page, form | again).status_code == 302


def test_showing_a_colorway_keeps_the_mark_that_it_was_opened_on(maker: Client) -> None:
    colorway, _ = make_colorway(make_team_order("TQ-1")), make_zipper("spruce")
    page = url("edit_colorway", "TQ-1", colorway.pk)
    form = colorway_form(colorway.blocking, seen=opened(maker, page), name="Dawn")
    maker.post(page, form)
    shown = maker.post(page, form | {"show": "1", "name": "Dusk"})
    assert shown.context["form"].seen == form["seen"]


def test_a_jacket_of_another_order_is_not_found(maker: Client) -> None:
    jacket = make_jacket_order(make_team_order("TQ-1"))
    make_team_order("TQ-2")
    for page in ("jacket_order", "edit_jacket_order", "delete_jacket_order"):
        assert maker.get(url(page, "TQ-2", jacket.pk)).status_code == 404


def upload(text: str | bytes, name: str = "crew.csv") -> dict[str, Any]:
    content = text.encode() if isinstance(text, str) else text
    return {"file": SimpleUploadedFile(name, content)}


def test_a_roster_is_judged_shown_and_then_stored(maker: Client) -> None:
    order = make_team_order("TQ-1")
    make_colorway(order)
    page = url("roster", "TQ-1")
    checked = maker.post(page, upload('member,size,colorway\n"Wren ""W"" <i>",M,Harbor\n'))
    assert not JacketOrder.objects.exists()
    rows = {"rows": checked.context["rows"], "name": "crew.csv"}
    assert maker.post(page, rows).headers["Location"] == order.get_absolute_url()
    assert JacketOrder.objects.get().member == 'Wren "W" <i>'


def test_a_bad_roster_offers_nothing_to_store(maker: Client) -> None:
    make_colorway(make_team_order("TQ-1"))
    text = "member,size,colorway\nWren,M,Harbor\nPip,Q,Harbor\n"
    response = maker.post(url("roster", "TQ-1"), upload(text))
    assert "1 of 2 rows cannot be taken" in words(response)
    assert "found &quot;Q&quot;; accepted: S, M, L, 8" in words(response)
    assert 'name="rows"' not in words(response)


@pytest.mark.parametrize(
    ("file", "message"),
    [
        (upload("", "crew.csv"), "The submitted file is empty."),
        (upload(b"\x00\x01", "crew.csv"), "is not a CSV file"),
        ({}, "Choose a file, or paste the cells of a sheet below."),
    ],
)
def test_an_unreadable_roster_is_told_by_the_field(
    maker: Client, file: dict[str, Any], message: str
) -> None:
    make_colorway(make_team_order("TQ-1"))
    response = maker.post(url("roster", "TQ-1"), file)
    assert message in " ".join(response.context["form"].errors["file"])


@pytest.mark.parametrize(
    "rows",
    [
        "{",
        "[]",
        '{"header":["member"],"rows":[]}',
        '{"header":["member","size","colorway"],"rows":[{"number":2,"cells":["x"]}]}',
        '{"header":["member","size","colorway"],"rows":[{"number":2,"cells":["x","Q","Harbor"]}]}',
    ],
)
def test_rows_that_were_tampered_with_store_nothing(maker: Client, rows: str) -> None:
    make_colorway(make_team_order("TQ-1"))
    response = maker.post(url("roster", "TQ-1"), {"rows": rows, "name": "x"}, follow=True)
    assert "Not done:" in words(response)
    assert not JacketOrder.objects.exists()


def test_a_frozen_order_refuses_changes_with_a_clear_word(maker: Client) -> None:
    jacket = make_jacket_order(make_team_order("TQ-1"), "Wren")
    TeamOrder.objects.update(state=TeamOrder.State.IN_PRODUCTION)
    for name, args in [
        ("edit_team_order", ()),
        ("delete_team_order", ()),
        ("new_colorway", ()),
        ("edit_colorway", (jacket.colorway.pk,)),
        ("delete_colorway", (jacket.colorway.pk,)),
        ("new_jacket_order", ()),
        ("edit_jacket_order", (jacket.pk,)),
        ("delete_jacket_order", (jacket.pk,)),
        ("roster", ()),
    ]:
        for method in (maker.get, maker.post):
            response = method(url(name, "TQ-1", *args), follow=True)
            assert response.redirect_chain == [(url("team_order", "TQ-1"), 302)], name
            assert "A change after the freeze needs a supplement." in words(response)
    page = words(maker.get(url("team_order", "TQ-1")))
    assert (
        "Frozen:" in page
        and "made in run" not in page
        and url("new_jacket_order", "TQ-1") not in page
    )
    assert maker.get(url("jacket_order", "TQ-1", jacket.pk)).status_code == 200


def test_a_frozen_order_leads_to_its_run(maker: Client) -> None:
    order = make_jacket_order(make_team_order("TQ-1")).team_order
    TeamOrder.objects.update(state=TeamOrder.State.IN_PRODUCTION)
    run = Run.objects.create(code="R-0007", deadline=order.deadline, snapshot={}, plan={})
    RunOrder.objects.create(run=run, team_order=order)
    assert f'href="{run.get_absolute_url()}"' in words(maker.get(order.get_absolute_url()))


def test_the_story_of_deleted_orders_is_offered_once_there_is_one(maker: Client) -> None:
    assert url("deleted_orders") not in words(maker.get(reverse("home")))
    make_team_order("TQ-1")
    maker.post(url("delete_team_order", "TQ-1"))
    assert url("deleted_orders") in words(maker.get(reverse("home")))
    assert "TQ-1" in words(maker.get(url("deleted_orders")))


def test_changes_are_listed_by_page(maker: Client) -> None:
    order = make_team_order("TQ-1")
    for number in range(120):
        order.amendments.create(words=f"change {number}")
    assert "change 119" in words(maker.get(url("amendments", "TQ-1")))
    assert "change 0 " in words(maker.get(url("amendments", "TQ-1"), {"page": 2}))


@pytest.mark.parametrize("page", ["/nowhere/", "/orders/NOPE/"])
def test_a_missing_page_speaks_our_words(maker: Client, page: str) -> None:
    response = maker.get(page)
    assert response.status_code == 404 and "Go to the start page" in words(response)


def test_an_outdated_form_says_what_to_do(db: None) -> None:
    client = Client(enforce_csrf_checks=True)
    response = client.post("/log-in/", {"username": "x", "password": "y"})
    assert response.status_code == 403 and "The form is out of date" in words(response)

"""The pattern pages and the pictures on them."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from patterns.models import Blocking, FabricColor
from patterns.pictures import blank_svgs, colorway_svgs
from patterns.queries import draft_checks
from patterns.services import install_shipped
from tests.factories import make_helper, make_maker

PAGE = reverse("patterns:blockings")


@pytest.fixture
def boathouse(db: None) -> Blocking:
    install_shipped()
    return Blocking.objects.get(code="boathouse")


@pytest.fixture
def maker(client: Client, db: None) -> Client:
    client.force_login(make_maker())
    return client


def page_of(blocking: Blocking) -> str:
    return reverse("patterns:blocking", args=[blocking.code])


def words(response: Any) -> str:
    return unescape(response.content.decode())


def test_a_stranger_is_sent_to_the_log_in(client: Client, boathouse: Blocking) -> None:
    for page in (PAGE, page_of(boathouse)):
        assert client.get(page).headers["Location"] == f"/log-in/?next={page}"


def test_a_helper_may_look_at_the_blocks(client: Client, boathouse: Blocking) -> None:
    client.force_login(make_helper())
    assert client.get(page_of(boathouse)).status_code == 200


def test_without_a_blocking_the_page_says_where_one_comes_from(maker: Client) -> None:
    assert "manage.py start" in words(maker.get(PAGE))


def test_each_blocking_is_shown_with_a_picture(maker: Client, boathouse: Blocking) -> None:
    page = words(maker.get(PAGE))
    for blocking in Blocking.objects.all():
        assert page_of(blocking) in page and f"{blocking.name}, front" in page


def test_a_blocking_is_drawn_in_each_size(maker: Client, boathouse: Blocking) -> None:
    for size in boathouse.pattern.sizes.all():
        response = maker.get(page_of(boathouse), {"size": size.code})
        page = words(response)
        assert f"Blocks in size {size.code}" in page
        assert f'value="{size.code}" selected' in page
        for block in boathouse.blocks.all():
            assert f"{block.code} {block.name}, size {size.code}" in page
        assert all(check.holds for check in response.context["checks"]), size


def test_an_unknown_size_falls_back_to_the_middle_one(maker: Client, boathouse: Blocking) -> None:
    sizes = list(boathouse.pattern.sizes.all())
    middle = sizes[len(sizes) // 2]
    for asked in ({}, {"size": "gigantic"}):
        assert f"Blocks in size {middle.code}" in words(maker.get(page_of(boathouse), asked))


def test_an_unknown_blocking_is_not_found(maker: Client) -> None:
    assert maker.get(reverse("patterns:blocking", args=["nope"])).status_code == 404


def test_the_draft_of_the_stored_measures_agrees_with_itself(
    maker: Client, boathouse: Blocking
) -> None:
    size = boathouse.pattern.sizes.get(code="M")
    checks = draft_checks(size)
    assert len(checks) > 20
    assert words(maker.get(page_of(boathouse), {"size": "M"})).count(">held<") == len(checks)


def described(svg: str) -> str:
    (told,) = re.findall(r"<desc[^>]*>(.*?)</desc>", svg)
    return unescape(told)


def test_a_picture_names_the_color_of_every_block_seen_in_words(boathouse: Blocking) -> None:
    colors = list(FabricColor.objects.filter(code__in=["spruce", "marigold", "oat"]))
    blocks = [block.code for block in boathouse.blocks.all()]
    fills = {code: colors[place % 3] for place, code in enumerate(blocks)}
    told = " ".join(described(svg) for _, svg in colorway_svgs(boathouse, fills))
    hidden = {"PL"}  # the placket's outside lies behind the zipper; the list of colors names it
    for code in fills.keys() - hidden:
        assert f"{code}: {fills[code].name}" in told
    assert "no color" not in told


def test_a_picture_says_which_block_has_no_color_yet(boathouse: Blocking) -> None:
    oat = FabricColor.objects.get(code="oat")
    views = dict(colorway_svgs(boathouse, {"CO": oat}))
    assert list(views) == ["Front", "Back", "Opened front"]
    assert "CO: oat" in described(views["Front"]) and "CU: no color" in described(views["Front"])
    assert oat.hex_color in views["Front"]
    assert all(oat.hex_color not in svg for _, svg in blank_svgs(boathouse))


def test_a_color_s_name_cannot_break_out_of_the_picture(boathouse: Blocking) -> None:
    FabricColor.objects.filter(code="oat").update(name="</desc><script>")
    svg = dict(colorway_svgs(boathouse, {"CO": FabricColor.objects.get(code="oat")}))["Front"]
    assert "<script" not in svg and "CO: </desc><script>" in described(svg)


def test_pictures_keep_to_the_content_security_policy(boathouse: Blocking) -> None:
    spruce = FabricColor.objects.get(code="spruce")
    for _, svg in colorway_svgs(boathouse, {"CO": spruce}, zipper_hex="#112233", uid="x"):
        assert "style=" not in svg and "<style" not in svg and " on" not in svg.split("<desc")[0]


def test_ids_of_two_pictures_on_one_page_differ(boathouse: Blocking) -> None:
    both = [svg for uid in ("a", "b") for _, svg in colorway_svgs(boathouse, {}, uid=uid)]
    ids = [found for svg in both for found in re.findall(r' id="([^"]+)"', svg)]
    assert len(ids) == len(set(ids)) > 0

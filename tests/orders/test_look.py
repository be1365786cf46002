"""The real jacket in an order's colors, and swatches that say their color in words."""

from __future__ import annotations

import pytest
from django.test import Client

from orders import queries
from orders.templatetags.cloth import chip
from patterns.models import Blocking, FabricColor
from patterns.services import install_shipped
from tests.factories import make_colorway, make_jacket_order, make_maker, make_team_order


@pytest.mark.django_db
def test_a_member_s_own_color_is_seen_in_the_picture(client: Client) -> None:
    install_shipped()
    order = make_team_order("TQ-1", palette=())
    order.palette.set(FabricColor.objects.filter(code__in=["spruce", "marigold"]))
    make_colorway(order, blocking=Blocking.objects.get(code="boathouse"))
    jacket = make_jacket_order(order, own={"CO": "marigold"})
    marigold = FabricColor.objects.get(code="marigold")
    plain, own = (
        queries.look_of_colorway(queries.colorways_of(order).get(), choices, uid="jacket")
        for choices in ((), jacket.choices.all())
    )
    assert [view for view, _ in own.pictures] == ["Front", "Back", "Opened front"]
    assert marigold.hex_color not in plain.pictures[0][1]
    assert marigold.hex_color in own.pictures[0][1]
    assert [(color.name, blocks) for color, blocks in own.legend][1] == (
        "marigold",
        ["CO Collar"],
    )
    client.force_login(make_maker())
    page = client.get(f"/orders/TQ-1/jackets/{jacket.pk}/").content.decode()
    assert "own choice" in page and page.count("<svg") >= 4


def test_a_chip_names_its_color_and_escapes_it() -> None:
    color = FabricColor(name="<i>oat", hex_color="#e6d9bd", hatch=FabricColor.Hatch.DOTS)
    assert "&lt;i&gt;oat" in chip(color)
    assert "style=" not in chip(color) and 'fill="#e6d9bd"' in chip(color)

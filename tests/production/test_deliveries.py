"""Jackets handed over together: all or none, once, with a trace; taken back and erased."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps as django_apps
from django.core import serializers
from django.utils import timezone

from orders.models import JacketOrder, TeamOrder
from production.errors import MovedOnError, StepRefusedError
from production.handing_over.deliveries import hand_over
from production.handing_over.signature import SignatureError, read_strokes, svg_path
from production.members.privacy import erase_member, erase_order, names_left
from production.members.privacy_export import export_member
from production.models import (
    CheckPoint,
    DeliveredJacket,
    Delivery,
    Inspection,
    InspectionFault,
    Jacket,
    Pin,
    StageEvent,
    Tap,
)
from production.scenario import demo
from production.tracking import record
from tests.production.run_factories import make_person, make_run, make_team_order

pytestmark = pytest.mark.django_db

STROKES = [[[0.1, 0.5], [0.4, 0.25]], [[0.5, 0.5]]]


@pytest.fixture
def ana():
    make_run(jackets=3)
    return make_person("ana")


def ready(*numbers: int, by) -> list[Jacket]:
    codes = [f"TO-1-{number:02d}" for number in numbers]
    for code in codes:
        for stage in ("cut", "sew", "finish"):
            record(code, "done", stage, by)
    return list(Jacket.objects.filter(code__in=codes))


def handed(jackets: list[Jacket], by, **values) -> Delivery:
    asked: dict[str, Any] = {
        "received_by": "Mira Holm",
        "signed": "screen",
        "signature": STROKES,
        "note": "",
        "form_key": uuid4(),
    }
    order = TeamOrder.objects.get(code="TO-1")
    return hand_over(order, jackets, by=by, **(asked | values))


def test_a_part_is_handed_over_and_the_rest_follows(ana):
    delivery = handed(ready(1, 2, by=ana), ana)
    assert (delivery.number, delivery.signed, delivery.signature) == (1, "screen", STROKES)
    rows = delivery.jackets.order_by("pk")
    assert [(row.jacket.code, row.event.kind, row.event.stage) for row in rows] == [
        ("TO-1-01", "done", "hand_over"),
        ("TO-1-02", "done", "hand_over"),
    ]
    assert all(row.event.at == delivery.at and row.event.by == ana for row in rows)
    order = TeamOrder.objects.get(code="TO-1")
    assert order.state == "in_production" and order.handed_over_on is None
    assert order.amendments.first().words == (
        "delivery 1: 2 jackets handed over, signed on the screen; 1 to follow"
    )


def test_the_last_part_settles_the_order_and_starts_the_days_that_data_is_kept(ana):
    handed(ready(1, 2, by=ana), ana)
    second = handed(ready(3, by=ana), ana, signed="none", signature=[])
    order = TeamOrder.objects.get(code="TO-1")
    assert second.number == 2
    assert order.state == "handed_over" and order.handed_over_on is not None
    assert order.amendments.first().words == "delivery 2: 1 jacket handed over, not signed"


def test_the_same_form_again_is_the_delivery_that_it_made(ana):
    jackets, key = ready(1, by=ana), uuid4()
    first = handed(jackets, ana, form_key=key)
    assert handed(jackets, ana, form_key=key) == first
    assert Delivery.objects.count() == DeliveredJacket.objects.count() == 1


def test_the_same_form_with_other_jackets_is_refused_and_hands_over_none(ana):
    jackets, key = ready(1, 2, by=ana), uuid4()
    handed(jackets[:1], ana, form_key=key)
    with pytest.raises(StepRefusedError, match="already sent with other jackets, as delivery 1"):
        handed(jackets[1:], ana, form_key=key)
    assert Jacket.objects.get(code="TO-1-02").stage == "hand_over"
    assert DeliveredJacket.objects.count() == 1


def test_a_jacket_that_moved_meanwhile_refuses_the_whole_by_its_name(ana):
    jackets = ready(1, 2, by=ana)
    record("TO-1-02", "send_back", "sew", ana, reason="zipper wave")
    events = StageEvent.objects.count()
    with pytest.raises(MovedOnError, match=r"TO-1-02 \(Member 02\) waits for sewing since ana"):
        handed(jackets, ana)
    assert not Delivery.objects.exists() and StageEvent.objects.count() == events


def test_one_handed_over_alone_meanwhile_refuses_too(ana):
    jackets = ready(1, 2, by=ana)
    record("TO-1-01", "done", "hand_over", ana)
    with pytest.raises(MovedOnError, match=r"TO-1-01 \(Member 01\) is handed over"):
        handed(jackets, ana)


def test_jackets_of_another_order_are_refused(ana):
    mine = ready(1, by=ana)
    order = make_team_order("TO-2", jackets=1)
    with pytest.raises(StepRefusedError, match="not in order TO-2"):
        hand_over(
            order, mine, received_by="", signed="none", signature=[], note="", by=ana, form_key=None
        )


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"signature": []}, "Nothing is drawn"),
        ({"signed": "paper"}, "another way of signing"),
        ({"signed": "thumb", "signature": []}, "no way of signing"),
        ({"received_by": "x" * 81}, "81 letters"),
        ({"note": "a\x00b"}, "control signs"),
    ],
)
def test_what_is_half_said_is_refused(ana, values, words):
    with pytest.raises(StepRefusedError, match=words):
        handed(ready(1, by=ana), ana, **values)
    assert not Delivery.objects.exists()


def test_none_chosen_is_refused(ana):
    with pytest.raises(StepRefusedError, match="No jacket is chosen"):
        handed([], ana)


def test_one_taken_back_can_be_handed_over_again_and_its_row_stays(ana):
    jackets = ready(1, 2, 3, by=ana)
    first = handed(jackets, ana)
    record("TO-1-01", "undo", "hand_over", ana)
    assert TeamOrder.objects.get(code="TO-1").state == "in_production"
    second = handed(jackets[:1], ana)
    assert (first.jackets.count(), second.number, second.jackets.count()) == (3, 2, 1)
    assert TeamOrder.objects.get(code="TO-1").state == "handed_over"


@pytest.mark.parametrize(
    "text",
    [
        "[[[0,0],[1,1]",
        "{}",
        '"name"',
        "[1]",
        "[[1]]",
        "[[[0.1]]]",
        "[[[0.1, 0.2, 0.3]]]",
        "[[[0.1, 1.2]]]",
        "[[[NaN, 0.1]]]",
        "[[[true, 0.1]]]",
        "[" * 100_000,
    ],
)
def test_what_is_no_signature_is_refused(text):
    with pytest.raises(SignatureError, match=r"sign( once)? (more|shorter)"):
        read_strokes(text)


def test_a_signature_without_end_is_refused():
    with pytest.raises(SignatureError, match="more than 100 strokes or 5000 points"):
        read_strokes(str([[[0, 0]] * 51] * 99))
    with pytest.raises(SignatureError, match="more than 100 strokes"):
        read_strokes(str([[[0, 0]]] * 101))
    with pytest.raises(SignatureError, match="more than 100 strokes"):
        read_strokes(" " * 200_000 + "[]")


def test_strokes_become_a_path_and_a_dot_is_seen():
    assert read_strokes("") == []
    assert svg_path(read_strokes("[[[0.12345678,0.5],[1,0]],[[0.5,0.5]],[]]")) == (
        "M61.8 100.0L500.0 0.0M250.0 100.0L250.0 100.0"
    )


def erased_and_received(ana, **values) -> tuple[TeamOrder, Delivery]:
    delivery = handed(ready(1, by=ana), ana, **values)
    order = delivery.team_order
    record("TO-1-01", "send_back", "sew", ana, reason="hem for Member 01")
    jacket = Jacket.objects.get(code="TO-1-01")
    check = Inspection.objects.create(
        jacket=jacket, passed=False, points=[], note="ask Member 01", at=timezone.now()
    )
    point = CheckPoint.objects.create(code="hem", words="hem even")
    check.faults.create(point=point, words="as Member 01 said")
    Pin.objects.create(jacket=jacket, stage="sew", day=timezone.localdate(), words="for Member 01")
    Tap.objects.create(
        key=uuid4(),
        way="page",
        code=jacket.code,
        jacket=jacket,
        action="done",
        outcome="refused",
        words="sent back: hem for Member 01",
        at=timezone.now(),
    )
    JacketOrder.objects.filter(jacket=jacket).update(member="Wren Calder")
    for model, field in (
        (Inspection, "note"),
        (InspectionFault, "words"),
        (Pin, "words"),
        (Tap, "words"),
        (StageEvent, "reason"),
        (Jacket, "mend_reason"),
    ):
        for pk, words in model.objects.values_list("pk", field):
            model.objects.filter(pk=pk).update(**{field: words.replace("Member 01", "Wren Calder")})
    return order, delivery


def test_who_received_and_every_word_of_the_floor_is_erased_with_the_order(ana):
    order, delivery = erased_and_received(ana, note="Mira fetched them for Wren Calder")
    erase_order(order, ana)
    delivery.refresh_from_db()
    assert (delivery.received_by, delivery.signed, delivery.signature) == ("", "none", [])
    assert delivery.note == "signature erased"
    stored = serializers.serialize(
        "json", [row for model in django_apps.get_models() for row in model._default_manager.all()]
    )
    assert "Wren" not in stored and "Mira" not in stored
    assert not names_left(order)
    erase_order(order, ana)
    delivery.refresh_from_db()
    assert delivery.note == "signature erased"


def test_a_signature_given_after_an_erasing_is_found_and_goes_too(ana):
    order = TeamOrder.objects.get(code="TO-1")
    erase_order(order, ana)
    assert not names_left(order)
    handed(ready(1, by=ana), ana)
    assert names_left(order)
    erase_order(order, ana)
    assert not names_left(order)


def test_one_members_erasing_leaves_another_receiver_and_takes_the_own_signature(ana):
    _, first = erased_and_received(ana, note="for Wren Calder")
    second = handed(ready(2, by=ana), ana, received_by="Wren Calder")
    line = JacketOrder.objects.get(member="Wren Calder")
    erase_member(line, ana)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.received_by, first.signature, first.note) == (
        "Mira Holm",
        STROKES,
        "for Member 1",
    )
    assert (second.received_by, second.signed, second.signature) == ("Member 1", "none", [])
    assert second.note == "signature erased"
    for model in (Inspection, InspectionFault, Pin, Tap):
        assert "Wren" not in serializers.serialize("json", model.objects.all())


def test_a_member_is_told_of_deliveries_and_checks_and_of_no_one_elses_signature(ana):
    _, first = erased_and_received(ana)
    line = JacketOrder.objects.get(member="Wren Calder")
    jacket = export_member(line)["jacket"]
    assert jacket["deliveries"] == [
        {
            "number": 1,
            "at": first.at.isoformat(),
            "taken_back": None,
            "received_by": None,
            "signed": "screen",
            "signature": None,
        }
    ]
    assert jacket["checks"][-1]["faults"] == ["as Wren Calder said"]
    Delivery.objects.update(received_by="Wren Calder")
    own = export_member(line)["jacket"]["deliveries"][0]
    assert (own["received_by"], own["signature"]) == ("Wren Calder", STROKES)
    json.dumps(own)


def test_the_demo_clears_what_holds_on_to_its_jackets(ana):
    erased_and_received(ana)
    event = StageEvent.objects.filter(kind="done").first()
    Tap.objects.create(
        key=uuid4(),
        way="page",
        code="TO-1-01",
        jacket=event.jacket,
        action="done",
        outcome="recorded",
        event=event,
        words="",
        at=timezone.now(),
    )
    Inspection.objects.update(after_event=event)
    demo._clear(["Test Club"])
    assert not Jacket.objects.exists() and not TeamOrder.objects.exists()

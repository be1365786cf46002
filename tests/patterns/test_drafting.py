"""The drafted jacket fits together in every size, and refuses what no body has."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from patterns.geometry.bodies import BODY_RANGES_MM, EASE_RANGES_MM
from patterns.geometry.drafting import BODIES, Body, DraftedJacket, Ease, draft
from patterns.geometry.drafting_checks import draft_checks
from patterns.geometry.outline import (
    Edge,
    EdgeKind,
    Outline,
    Pairing,
    PatternError,
    bounds,
    distance_mm,
    signed_area_mm2,
)
from patterns.geometry.seams import jacket_seams

#: Notches that meet a seam instead of another notch: their code, and the code of that seam.
NOTCHES_ON_SEAMS = {"sh": "shoulder", "cs": "shoulder"}

MEDIUM = next(body for body in BODIES if body.code == "M")

# European standard EN 13402-3:2004, men's letter codes, chest in cm: quoted from memory.
LETTER_CHESTS_CM = {
    "XS": (78, 86),
    "S": (86, 94),
    "M": (94, 102),
    "L": (102, 110),
    "XL": (110, 118),
    "2XL": (118, 129),
    "3XL": (129, 141),
}
# One clothing retailer's boys' size guide, height -> chest in cm: a tertiary source.
BOYS_CHEST_CM = {126: 63, 138: 69, 150: 76, 162: 84}


@pytest.fixture(scope="module", params=BODIES, ids=lambda body: body.code)
def body(request: pytest.FixtureRequest) -> Body:
    size: Body = request.param
    return size


@pytest.fixture(scope="module")
def jacket(body: Body) -> DraftedJacket:
    return draft(body, Ease())


def changed(name: str, value: float) -> Body:
    measurements: dict[str, Any] = {name: value}
    return replace(MEDIUM, **measurements)


def piece_of(jacket: DraftedJacket, code: str) -> Outline:
    return next(piece for piece in jacket.pieces if piece.code == code)


def sleeve_bounds(jacket: DraftedJacket) -> tuple[float, float, float, float]:
    return bounds(piece_of(jacket, "SL").ring)


def failures(jacket: DraftedJacket) -> list[str]:
    return [f"{check.name}: {check.detail}" for check in jacket.checks if not check.holds]


def from_underarm_mm(edge: Edge, notch_point, *, underarm_first: bool) -> float:
    """Length along the edge from its underarm end to a notch that lies on one of its segments."""
    line = edge.points if underarm_first else edge.points[::-1]
    walked = 0.0
    for a, b in pairwise(line):
        if math.isclose(
            distance_mm(a, notch_point) + distance_mm(notch_point, b), distance_mm(a, b)
        ):
            return walked + distance_mm(a, notch_point)
        walked += distance_mm(a, b)
    raise AssertionError("the notch lies off its edge")


def notch_mm(piece: Outline, code: str, edge: str, *, underarm_first: bool) -> float:
    notch = next(n for n in piece.notches if n.code == code and n.edge == edge)
    return from_underarm_mm(piece.edge(edge), notch.point, underarm_first=underarm_first)


# -- sizes -----------------------------------------------------------------------------------


def test_sizes_run_from_youth_to_adult_and_grow():
    assert [body.code for body in BODIES] == [
        *("YS", "YM", "YL", "YXL"),
        *("XS", "S", "M", "L", "XL", "2XL", "3XL"),
    ]
    for group in ("youth", "adult"):
        sizes = [body for body in BODIES if body.age_group == group]
        for name in BODY_RANGES_MM:
            values = [getattr(body, name) for body in sizes]
            assert values == sorted(set(values)), name


def test_adult_chests_are_the_middle_of_the_letter_ranges():
    chests = {body.code: body.chest_mm for body in BODIES if body.age_group == "adult"}
    assert chests == {code: 5 * (low + high) for code, (low, high) in LETTER_CHESTS_CM.items()}


def test_youth_chests_follow_the_height_chart():
    youth = {body.height_mm: body.chest_mm for body in BODIES if body.age_group == "youth"}
    assert youth == {10 * height: 10 * chest for height, chest in BOYS_CHEST_CM.items()}


# -- every size ------------------------------------------------------------------------------


def test_every_check_holds_in_every_size(jacket: DraftedJacket):
    assert len(jacket.checks) > 20
    assert failures(jacket) == []


def test_pieces_have_the_names_and_edges_of_the_contract(jacket: DraftedJacket):
    found = {
        piece.code: (piece.name, piece.pairing, {edge.name for edge in piece.edges})
        for piece in jacket.pieces
    }
    placket = {"zipper_side", "top", "free_side", "bottom"}
    pair, fold, single = Pairing.PAIR, Pairing.FOLD, Pairing.SINGLE
    assert found == {
        "FR": (
            "Front",
            pair,
            {"neckline", "center_front", "hem", "side", "armhole", "shoulder"},
        ),
        "BK": (
            "Back",
            fold,
            {"neckline", "shoulder", "armhole", "side", "hem", "center_back"},
        ),
        "SL": ("Sleeve", pair, {"cap", "front_underarm", "wrist", "back_underarm"}),
        "CO": ("Collar", fold, {"neck", "end", "inner_end", "inner_neck", "center_back"}),
        "PL": ("Placket", single, placket),
        "PI": ("Placket inside", single, placket),
        "CU": ("Cuff", pair, {"sleeve_edge", "end_a", "inner_edge", "end_b"}),
    }


def test_pieces_lie_in_the_draft_frame(jacket: DraftedJacket):
    front, back, sleeve, collar, placket, inside, _ = (bounds(p.ring) for p in jacket.pieces)
    assert front[0] == pytest.approx(0.0) and placket[2] == pytest.approx(0.0)
    assert back[2] == pytest.approx(0.0) and collar[2] == pytest.approx(0.0)
    assert inside[0] == pytest.approx(0.0)
    assert sleeve[0] < 0 < sleeve[2]
    front_seam = piece_of(jacket, "SL").edge("front_underarm")
    assert all(x < 0 for x, _ in front_seam.points)
    for piece in jacket.pieces:
        assert signed_area_mm2(piece.ring) > 0
        (x, top), (same_x, bottom) = piece.grainline
        assert x == same_x and top > bottom  # the nap runs down the garment


def test_grainlines_lie_inside_their_pieces(jacket: DraftedJacket):
    from shapely import LineString, Polygon

    for piece in jacket.pieces:
        assert Polygon(piece.ring).covers(LineString(piece.grainline)), piece.code


def test_only_body_hems_are_hems_and_only_folded_pieces_have_a_fold(jacket: DraftedJacket):
    kinds = {
        (piece.code, edge.name): edge.kind
        for piece in jacket.pieces
        for edge in piece.edges
        if edge.kind is not EdgeKind.SEAM
    }
    assert kinds == {
        ("FR", "hem"): EdgeKind.HEM,
        ("BK", "hem"): EdgeKind.HEM,
        ("BK", "center_back"): EdgeKind.FOLD,
        ("CO", "center_back"): EdgeKind.FOLD,
    }


def test_girths_are_the_body_with_its_ease(body: Body, jacket: DraftedJacket):
    ease = Ease()
    chest = 2 * sum(
        abs(piece_of(jacket, code).edge("armhole").points[end][0])
        for code, end in (("FR", 0), ("BK", -1))
    )
    assert chest == pytest.approx(body.chest_mm + ease.chest_mm)
    assert jacket.hem_girth_mm == pytest.approx(body.hip_mm + ease.hip_mm)
    # The neck and the wrist are curves, flattened to 0.2 mm.
    assert jacket.cuff_girth_mm == pytest.approx(body.wrist_mm + ease.wrist_mm, abs=0.2)
    neck = 2 * piece_of(jacket, "CO").edge("neck").length_mm
    assert neck == pytest.approx(body.neck_mm + ease.neck_mm, abs=0.2)


def test_sleeve_reaches_from_the_nape_over_the_arm(body: Body, jacket: DraftedJacket):
    front, sleeve, cuff = (piece_of(jacket, code) for code in ("FR", "SL", "CU"))
    neck_half = front.edge("shoulder").points[1][0]
    top = max(y for _, y in sleeve.ring)
    wrist = max(y for _, y in sleeve.edge("wrist").points)
    cuff_depth = cuff.edge("end_a").length_mm / 2
    reach = neck_half + front.edge("shoulder").length_mm + top - wrist + cuff_depth
    wanted = body.shoulder_width_mm / 2 + body.arm_mm
    assert wanted + 10 <= reach <= wanted + 32  # our own allowance, less the arc of the wrist


def test_zipper_runs_from_the_hem_to_the_top_of_the_collar(jacket: DraftedJacket):
    fold = next(mark for mark in piece_of(jacket, "CO").marks if mark.code == "fold")
    stand = fold.points[0][1]
    center_front = piece_of(jacket, "FR").edge("center_front").length_mm
    assert jacket.zipper_mm == pytest.approx(center_front + stand)


# -- notches ---------------------------------------------------------------------------------


def test_armhole_notches_lie_equally_far_from_the_underarm(jacket: DraftedJacket):
    front, back, sleeve = (piece_of(jacket, code) for code in ("FR", "BK", "SL"))
    assert notch_mm(front, "af", "armhole", underarm_first=True) == pytest.approx(
        notch_mm(sleeve, "af", "cap", underarm_first=False)
    )
    assert notch_mm(back, "ab", "armhole", underarm_first=False) == pytest.approx(
        notch_mm(sleeve, "ab", "cap", underarm_first=True)
    )


def test_side_and_sleeve_seam_notches_meet(jacket: DraftedJacket):
    front, back, sleeve = (piece_of(jacket, code) for code in ("FR", "BK", "SL"))
    assert notch_mm(front, "si", "side", underarm_first=False) == pytest.approx(
        notch_mm(back, "si", "side", underarm_first=True)
    )
    assert notch_mm(sleeve, "ua", "front_underarm", underarm_first=True) == pytest.approx(
        notch_mm(sleeve, "ua", "back_underarm", underarm_first=False)
    )


def test_placket_notches_meet_the_center_front_notch(jacket: DraftedJacket):
    heights = {
        piece.code: notch.point[1]
        for piece in jacket.pieces
        for notch in piece.notches
        if notch.code == "cf"
    }
    assert set(heights) == {"FR", "PL", "PI"}
    assert heights["PL"] == pytest.approx(heights["FR"])
    assert heights["PI"] == pytest.approx(heights["FR"])


def test_collar_notch_meets_the_shoulder_seam(jacket: DraftedJacket):
    collar, back = piece_of(jacket, "CO"), piece_of(jacket, "BK")
    notch = next(n for n in collar.notches if n.code == "cs")
    assert -notch.point[0] == pytest.approx(back.edge("neckline").length_mm)


def test_every_notch_has_its_partner_or_meets_a_seam(jacket: DraftedJacket):
    seams = {seam.code for seam in jacket_seams(0.0)}
    assert set(NOTCHES_ON_SEAMS.values()) <= seams
    codes = [notch.code for piece in jacket.pieces for notch in piece.notches]
    for code in set(codes):
        alone = codes.count(code) == 1
        assert alone == (code in NOTCHES_ON_SEAMS), code


def test_back_armhole_notches_are_double_and_all_others_single(jacket: DraftedJacket):
    counts = {(n.code, n.count) for piece in jacket.pieces for n in piece.notches}
    assert {code for code, count in counts if count == 2} == {"ab"}
    assert {count for _, count in counts} == {1, 2}


# -- any body --------------------------------------------------------------------------------


@st.composite
def plausible_bodies(draw: st.DrawFn) -> Body:
    """A shipped size with every measurement up to a twentieth off its own way."""
    base = draw(st.sampled_from(BODIES))
    measured = {name: getattr(base, name) * draw(st.floats(0.95, 1.05)) for name in BODY_RANGES_MM}
    return replace(base, **measured)


plausible_eases = st.builds(
    Ease,
    chest_mm=st.floats(100.0, 200.0),  # common practice for a fleece jacket, no source
    hip_mm=st.floats(90.0, 200.0),
    neck_mm=st.floats(40.0, 90.0),
    wrist_mm=st.floats(60.0, 120.0),
    cap_mm=st.floats(0.0, 20.0),
)


@settings(max_examples=50, deadline=None)
@given(plausible_bodies(), plausible_eases)
def test_every_check_holds_for_plausible_bodies(body: Body, ease: Ease):
    assert failures(draft(body, ease)) == []


@given(
    st.fixed_dictionaries({k: st.floats(*v) for k, v in BODY_RANGES_MM.items()}),
    st.fixed_dictionaries({k: st.floats(*v) for k, v in EASE_RANGES_MM.items()}),
)
def test_an_odd_body_is_refused_or_drafted_soundly(measured, eased):
    body = Body("odd", "Odd", "adult", **measured)
    try:
        jacket = draft(body, Ease(**eased))
    except PatternError as refusal:
        assert "odd" in str(refusal) and "_mm" in str(refusal)
    else:
        assert failures(jacket) == []


@settings(max_examples=20, deadline=None)
@given(plausible_bodies())
def test_more_chest_ease_widens_body_and_sleeve(body: Body):
    slim, loose = (draft(body, Ease(chest_mm=mm)) for mm in (110.0, 190.0))
    for code in ("FR", "BK"):
        assert piece_of(loose, code).area_mm2 > piece_of(slim, code).area_mm2
    # The sleeve grows wider but shorter, for the shoulder drops.
    biceps = [right - left for left, _, right, _ in map(sleeve_bounds, (slim, loose))]
    assert biceps[1] > biceps[0]


# -- refusals --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", BODY_RANGES_MM)
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf, 1e6])
def test_impossible_measurement_is_named_with_what_is_accepted(name: str, value: float):
    low, high = BODY_RANGES_MM[name]
    with pytest.raises(PatternError, match=f"M: {name} is .*{low:.0f} to {high:.0f} mm"):
        draft(changed(name, value), Ease())


@pytest.mark.parametrize("name", EASE_RANGES_MM)
@pytest.mark.parametrize("value", [-1.0, math.nan, 1e4])
def test_impossible_ease_is_named(name: str, value: float):
    with pytest.raises(PatternError, match=f"ease {name} is "):
        draft(MEDIUM, replace(Ease(), **{name: value}))


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("neck_mm", 640.0),
        ("hip_mm", 1800.0),
        ("shoulder_width_mm", 740.0),
        ("shoulder_width_mm", 210.0),
        ("arm_mm", 260.0),
    ],
)
def test_measurement_that_does_not_go_with_the_others_is_refused(name: str, value: float):
    with pytest.raises(PatternError, match=f"{name} is {value:g} mm; .* is accepted"):
        draft(changed(name, value), Ease())


def test_chest_too_small_for_the_neck_is_refused():
    with pytest.raises(PatternError, match="neck_mm is 384 mm; for this body 125 to 300 mm"):
        draft(replace(MEDIUM, chest_mm=500.0), Ease())


def test_range_told_for_the_shoulder_is_the_range_that_is_accepted():
    with pytest.raises(PatternError, match="shoulder_width_mm") as refusal:
        draft(replace(MEDIUM, shoulder_width_mm=740.0), Ease())
    widest = float(str(refusal.value).split(" to ")[1].split()[0])
    assert failures(draft(replace(MEDIUM, shoulder_width_mm=widest - 1.0), Ease())) == []
    with pytest.raises(PatternError, match="shoulder_width_mm"):
        draft(replace(MEDIUM, shoulder_width_mm=widest + 1.0), Ease())


def test_unknown_age_group_is_refused():
    with pytest.raises(PatternError, match="age_group"):
        draft(replace(MEDIUM, age_group="infant"), Ease())


# -- the checks can fail ---------------------------------------------------------------------


def stretched(piece: Outline, factor: float) -> Outline:
    edges = tuple(
        replace(edge, points=tuple((x * factor, y) for x, y in edge.points)) for edge in piece.edges
    )
    notches = tuple(
        replace(notch, point=(notch.point[0] * factor, notch.point[1])) for notch in piece.notches
    )
    return replace(piece, edges=edges, notches=notches)


@pytest.mark.parametrize(
    ("code", "failing"),
    [
        ("SL", {"Armhole seams", "Cuff seams", "Front half of the cap"}),
        ("CO", {"Neck seam"}),
        ("CU", {"Cuff seams"}),
        ("BK", {"Shoulder seams", "Neck seam"}),
    ],
)
def test_a_piece_made_wider_fails_its_checks(code: str, failing: set[str]):
    jacket = draft(MEDIUM, Ease())
    pieces = [stretched(p, 1.01) if p.code == code else p for p in jacket.pieces]
    checks = draft_checks(pieces, Ease().cap_mm, jacket.zipper_mm)
    failed = {check.name.split(":")[0] for check in checks if not check.holds}
    assert failing <= failed


def test_a_check_says_by_how_much_it_fails():
    jacket = draft(MEDIUM, Ease())
    checks = draft_checks(jacket.pieces, Ease().cap_mm, jacket.zipper_mm + 25.0)
    off = {check.name: check.difference_mm for check in checks if not check.holds}
    assert set(off) == {
        "Center front and collar stand take the zipper",
        "Placket is as long as the zipper",
        "Placket inside is as long as the zipper",
    }
    assert all(mm == pytest.approx(-25.0) for mm in off.values())


def test_a_kinked_armhole_fails_its_check():
    jacket = draft(MEDIUM, Ease())
    front = piece_of(jacket, "FR")
    armhole = front.edge("armhole")
    straight = replace(armhole, points=(armhole.points[0], armhole.points[-1]))
    edges = tuple(straight if edge is armhole else edge for edge in front.edges)
    notches = tuple(notch for notch in front.notches if notch.edge != "armhole")
    kinked = replace(front, edges=edges, notches=notches)
    pieces = [kinked if p.code == "FR" else p for p in jacket.pieces]
    checks = draft_checks(pieces, Ease().cap_mm, jacket.zipper_mm)
    failed = {check.name for check in checks if not check.holds}
    assert "Armhole runs smoothly over the side seam" in failed
    assert "Armhole runs smoothly over the shoulder seam" in failed

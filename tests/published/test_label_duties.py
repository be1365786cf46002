"""Reminders of safety and labelling against what published rules say. Each source stands beside its
check; the program's words sum them up and defer to current law."""

from __future__ import annotations

import pytest

from production.planning.labels.care import ClothCare, care_of
from production.planning.labels.fibers import Exempt, exempt
from production.planning.labels.label_duties import DEFER, duties
from production.planning.labels.label_facts import DutyFacts, SizeFacts, age_at

ADULT = SizeFacts("M", is_youth=False, height_mm=1760)
POLYESTER = (("Fleece", "100 % polyester"),)


def youth(*heights_cm: float | None) -> tuple[SizeFacts, ...]:
    return tuple(
        SizeFacts(f"Y{cm or ''}", is_youth=True, height_mm=None if cm is None else round(cm * 10))
        for cm in heights_cm
    )


def told(market: str, *sizes: SizeFacts, fabrics=POLYESTER) -> dict[str, str]:
    """What each reminder says, by topic."""
    facts = DutyFacts(market, sizes, fabrics)
    return {duty.topic: f"{duty.words} {duty.here}" for duty in duties(facts)}


@pytest.mark.parametrize(
    ("height_cm", "years"), [(102, 4), (114, 6), (126, 8), (138, 10), (150, 12), (162, 14)]
)
def test_ages_by_height(height_cm, years):
    """One clothing retailer's boys' size guide, stored copy read 2026-11-25: a tertiary source, one
    maker's chart and no standard."""
    assert age_at(height_cm * 10) == years


def test_no_drawstring_at_hood_and_neck_in_sizes_2t_to_12():
    """16 CFR 1120.3(b); ASTM F1816 (cpsc.gov FAQ; UL summary of F1816-18). That a size's number is
    about the age is from memory."""
    topic = "Drawstrings at hood and neck"
    words = told("us", *youth(126, 150, 162), ADULT)[topic]
    assert "None in children's upper outerwear of sizes 2T to 12" in words
    assert "Y126, Y150" in words and "Y162" not in words and "M" not in words.split()
    assert topic not in told("us", *youth(162), ADULT)


def test_waist_drawstrings_in_sizes_2t_to_16():
    """16 CFR 1120.3(b); ASTM F1816: at most 3 in (75 mm) outside the channel at fullest width; no
    toggles or knots at free ends; bar tack if continuous. Scope: ASTM F1816-18."""
    topic = "Drawstrings at waist and bottom"
    words = told("us", *youth(162), ADULT)[topic]
    for said in ("2T to 16", "3 in (75 mm)", "fullest width", "toggles or knots", "bar tack"):
        assert said in words
    assert "fully retractable drawstrings are exempt" in words
    assert topic not in told("us", ADULT)


def test_cords_in_the_eu_by_134_cm_and_14_years():
    """EN 14682 (tukes.fi): none in the head and neck area up to 7 years or 134 cm; from 7 to 14 no
    drawstrings with free ends there; the standard covers to 14 years."""
    topic = "Cords on children's clothing"
    words = told("eu", *youth(134, 135, 162, 174))[topic]
    none, ends = words.split("No cord at head and neck")[1].split("No free ends there")
    assert "Y134" in none and "Y135" not in none
    assert "Y135" in ends and "Y162" in ends and "Y174" not in words
    assert topic not in told("eu", ADULT)


def test_a_youth_size_without_a_height_may_be_of_any_age():
    assert "Y" in told("eu", *youth(None))["Cords on children's clothing"]
    assert "Tracking label" in told("us", *youth(None))


@pytest.mark.parametrize(
    ("fiber", "verdict"),
    [
        ("100 % polyester", Exempt.YES),
        ("100% recycled polyester", Exempt.YES),
        ("80 % polyester, 20 % wool", Exempt.YES),
        ("50 % acrylic, 30 % modacrylic, 20 % olefin", Exempt.YES),
        ("50 % polyamide, 50 % nylon", Exempt.YES),
        ("60 % cotton, 40 % polyester", Exempt.NO),
        ("99 % polyester, 1 % cotton", Exempt.NO),
        ("95 % polyester, 5 % elastane", Exempt.NO),
        ("polyester", Exempt.UNTOLD),
        ("90 % polyester", Exempt.UNTOLD),
        ("100 % polyester/acrylic", Exempt.UNTOLD),
        ("100 % dralon", Exempt.UNTOLD),
        ("", Exempt.UNTOLD),
    ],
)
def test_fibers_exempt_from_flammability_testing(fiber, verdict):
    """16 CFR 1610.1(d) (CPSC staff talk, Sept 2016, docslib 2103666): raised-surface fabric wholly
    of acrylic, modacrylic, nylon, olefin, polyester or wool, or blends of these, is exempt.
    Cotton-containing fleece is not covered. That polyamide is nylon is from memory."""
    assert exempt(fiber) is verdict


def test_flammability_classes_and_what_they_mean_for_the_fabric():
    """16 CFR 1610.4 (checkoutapi.com copy; the class 3 figure from lanartex.it)."""
    words = told("us", ADULT, fabrics=(*POLYESTER, ("Soft", "60 % cotton, 40 % polyester")))
    for said in ("3.5 s", "above 7.0 s", "4.0 to 7.0 s", "below 4.0 s", "2.6 oz/yd²"):
        assert said in words["Flammability"]
    assert "Cotton-containing fleece is not covered" in words["Flammability"]
    assert "Fleece (100 % polyester) has only fibers of this list" in words["Flammability"]
    assert "Soft (60 % cotton, 40 % polyester) is not covered" in words["Flammability"]


def test_childrens_products_are_those_for_12_and_under():
    """CPSIA 2008 §103(a) (crowell.com; forum copy of CPSC text). Lead: CPSIA §101, 100 ppm found at
    third hand; 16 CFR 1303, 90 ppm from memory. Textiles: 16 CFR 1500.91 (section number from
    memory); 80 FR 61729 (2015)."""
    children = told("us", *youth(150), ADULT)
    assert "maker, date, batch or run" in children["Tracking label"]
    assert "100 ppm total in accessible substrate" in children["Lead"]
    assert "90 ppm" in children["Lead"]
    assert "zippers" in children["Textiles and lead"]
    topics = {"Tracking label", "Lead", "Textiles and lead", "Small-batch register"}
    assert topics <= children.keys()
    assert not topics & told("us", *youth(162), ADULT).keys()


def test_no_figure_is_stated_of_the_small_batch_register():
    """Its thresholds change: they are to be looked up with the CPSC."""
    words = told("us", *youth(126))["Small-batch register"]
    assert "Look up" in words and not any(char.isdigit() for char in words)


def test_labels_of_fiber_and_care_count_for_adults_too():
    """Textile Act; 16 CFR 303 (textileworld.com). 16 CFR 423; FTC 'Clothes Captioning'."""
    words = told("us", ADULT)
    assert "country of origin" in words["Fiber label"] and "RN or name" in words["Fiber label"]
    assert "100 % polyester" in words["Fiber label"]
    assert "reasonable basis" in words["Care label"]


def test_youth_jackets_are_not_sleepwear():
    """16 CFR 1615/1616 (part numbers found)."""
    assert "sleepwear" in told("us", *youth(162))["Not sleepwear"]
    assert "Not sleepwear" not in told("us", ADULT)


def test_where_no_market_is_said_both_count_and_elsewhere_no_rule_is_claimed():
    sizes = (*youth(126), ADULT)
    both = duties(DutyFacts("", sizes, POLYESTER))
    assert {duty.market for duty in both} == {"eu", "us", ""}
    elsewhere = duties(DutyFacts("other", sizes, POLYESTER))
    assert {duty.market for duty in elsewhere} == {"other", ""}
    assert "No rule of this market is on file" in elsewhere[0].words


def test_every_reminder_names_its_source_and_all_defer_to_the_law():
    for market in ("", "eu", "us", "other"):
        for duty in duties(DutyFacts(market, (*youth(126, 162), ADULT), POLYESTER)):
            assert duty.source and duty.origin and duty.here
    assert "accredited laboratory" in DEFER and "does not certify" in DEFER


def test_care_symbols_stand_in_the_order_of_iso_3758():
    """ISO 3758 (from memory): wash, bleach, dry, iron, professional care."""
    care = care_of([ClothCare("Fleece", "100 % polyester", 40, True, True)])
    assert [sign.kind for sign in care.signs] == ["wash", "bleach", "tumble", "iron", "clean"]
    assert "in this order: wash, bleach, dry, iron, professional care" in (
        told("eu", ADULT)["Care symbols"].lower()
    )


def test_a_jacket_takes_the_most_careful_care_of_its_fabrics():
    """Polyester melts under a hot iron (common practice)."""
    warm = ClothCare("Fleece", "100 % polyester", 60, True, True)
    cool = ClothCare("Rib", "100 % wool", 30, False, False)
    wash, bleach, dry, iron, clean = care_of([warm, cool]).signs
    assert (wash.figure, wash.crossed) == ("30", False)
    assert bleach.crossed and dry.crossed and iron.crossed and clean.crossed
    assert "melts" in iron.words
    assert "melts" in care_of([ClothCare("X", "100 % spandex", 30, True, False)]).signs[3].words
    alone = care_of([warm, warm])
    assert alone.fibers == (("Fleece", "100 % polyester"),)
    assert alone.signs[3].dots == 1 and "heat melts it" in alone.signs[3].words
    assert care_of([ClothCare("X", "100 % wool", 0, False, False)]).signs[0].crossed
    with pytest.raises(ValueError, match="name its fabrics"):
        care_of([])

"""Published rules of safety and labelling for jackets, market by market, each with its source.

The words sum up dated copies; the law may have changed since.
"""

from __future__ import annotations

from collections.abc import Sequence

from production.planning.labels.fibers import Exempt, exempt
from production.planning.labels.label_facts import EU, MEMORY, US, Duty, DutyFacts, listed

NO_CORD = "The jacket that the program ships has none."


def eu_duties(facts: DutyFacts) -> list[Duty]:
    return [*_eu_cords(facts), _eu_fibers(facts), _eu_maker()]


def _eu_cords(facts: DutyFacts) -> list[Duty]:
    youth = facts.youth(up_to=14)
    small = [size for size in youth if size.height_mm is None or size.height_mm <= 1340]
    bigger = [size for size in youth if size not in small]
    here = []
    if small:
        here.append(f"No cord at head and neck: {listed(small)}.")
    if bigger:
        here.append(f"No free ends there: {listed(bigger)}.")
    if not here:
        return []
    return [
        Duty(
            "Cords on children's clothing",
            EU,
            "Up to 7 years or 134 cm: no cords in the head and neck area. From 7 to 14 years: no "
            "drawstrings with free ends there. The standard covers children up to 14 years.",
            f"{' '.join(here)} {NO_CORD}",
            "EN 14682 (tukes.fi)",
        )
    ]


def _eu_fibers(facts: DutyFacts) -> Duty:
    return Duty(
        "Fiber label",
        EU,
        "Textiles that are sold carry their fiber content by percent, in the language of the "
        "country.",
        _fabrics(facts.fabrics),
        "Regulation (EU) No 1007/2011",
        MEMORY,
    )


def _eu_maker() -> Duty:
    return Duty(
        "Maker and batch",
        EU,
        "Goods for consumers name their maker with an address, and can be told apart by type or "
        "batch.",
        "The run's code and the day of the delivery serve as a batch.",
        "Regulation (EU) 2023/988 on general product safety",
        MEMORY,
    )


def us_duties(facts: DutyFacts) -> list[Duty]:
    return [
        *_us_cords(facts),
        *_us_children(facts),
        _us_flammability(facts),
        _us_fibers(facts),
        _us_care(),
    ]


def _us_cords(facts: DutyFacts) -> list[Duty]:
    source = "16 CFR 1120.3(b); ASTM F1816 (cpsc.gov FAQ; UL summary of F1816-18)"
    found = []
    if neck := facts.youth(up_to=12):
        found.append(
            Duty(
                "Drawstrings at hood and neck",
                US,
                "None in children's upper outerwear of sizes 2T to 12.",
                f"Here: {listed(neck)}, if a cord is added. {NO_CORD}",
                source,
            )
        )
    if waist := facts.youth(up_to=16):
        found.append(
            Duty(
                "Drawstrings at waist and bottom",
                US,
                "Sizes 2T to 16: at most 3 in (75 mm) outside the channel with the garment at its "
                "fullest width; no toggles or knots at free ends; stitched through (bar tack) if "
                "it is one continuous string. Jackets and sweatshirts are meant; fully retractable "
                "drawstrings are exempt.",
                f"Here: {listed(waist)}, if a cord is added. {NO_CORD}",
                f"{source}; ASTM F1816-18 scope (webstore.ansi.org)",
            )
        )
    return found


def _us_children(facts: DutyFacts) -> list[Duty]:
    """What counts for children's products, those for 12 years and under."""
    children = facts.youth(up_to=12)
    found = []
    if children:
        here = f"Here: {listed(children)}."
        found = [
            Duty(
                "Tracking label",
                US,
                "Children's products (12 and under) carry permanent marks, to the extent "
                "practicable: maker, date, batch or run.",
                f"{here} The run's code and the day of the delivery serve as batch and date.",
                "CPSIA 2008 §103(a) (crowell.com; forum copy of CPSC text)",
            ),
            Duty(
                "Lead",
                US,
                "100 ppm total in accessible substrate; 90 ppm in paint or coating.",
                here,
                "CPSIA §101; 16 CFR 1303",
                "100 ppm found at third hand; 90 ppm from memory: look both up",
            ),
            Duty(
                "Textiles and lead",
                US,
                "Most dyed and undyed textiles were determined not to exceed the limit; zippers, "
                "snaps and prints are not automatically covered.",
                "Ask the supplier of the zippers for a certificate.",
                "16 CFR 1500.91; 80 FR 61729 (2015)",
                "FR citation found; section number from memory",
            ),
            Duty(
                "Small-batch register",
                US,
                "Less third-party testing for small makers who qualify and register; the thresholds"
                " change.",
                "Look up with the CPSC whether you qualify before you rely on it.",
                "CPSC",
                MEMORY,
            ),
        ]
    if any(size.is_youth for size in facts.sizes):
        found.append(
            Duty(
                "Not sleepwear",
                US,
                "Children's sleepwear has a rule of its own.",
                "Do not sell these jackets as sleepwear.",
                "16 CFR 1615/1616",
            )
        )
    return found


def _us_flammability(facts: DutyFacts) -> Duty:
    return Duty(
        "Flammability",
        US,
        "Plain surface: class 1 at 3.5 s or more. Raised surface: class 1 above 7.0 s, or 0 to 7 s "
        "as a flash without base burn; class 2 4.0 to 7.0 s with base burn; class 3 below 4.0 s "
        "with base burn, not for clothing. Exempt from testing is raised-surface fabric wholly of "
        "acrylic, modacrylic, nylon, olefin, polyester or wool or blends of these, and plain fabric"
        " of 2.6 oz/yd² or more. Cotton-containing fleece is not covered by the fiber exemption.",
        " ".join(_flammability_of(name, fiber) for name, fiber in facts.fabrics)
        or "No fabric is known yet.",
        "16 CFR 1610.4 (checkoutapi.com copy; class 3 figure from lanartex.it); 16 CFR 1610.1(d) "
        "(CPSC staff talk, Sept 2016, docslib 2103666)",
    )


def _flammability_of(name: str, fiber: str) -> str:
    verdict = exempt(fiber)
    if verdict is Exempt.YES:
        return f"{name} ({fiber}) has only fibers of this list."
    if verdict is Exempt.NO:
        return (
            f"{name} ({fiber}) is not covered by the fiber exemption: have it tested by an "
            "accredited laboratory, or ask its supplier for a test report."
        )
    return (
        f"Whether {name} is exempt cannot be told from '{fiber}': write its fibers with their "
        "percent, 100 % in all."
    )


def _us_fibers(facts: DutyFacts) -> Duty:
    return Duty(
        "Fiber label",
        US,
        "Fiber content, country of origin, and the maker (RN or name).",
        _fabrics(facts.fabrics),
        "Textile Act; 16 CFR 303 (textileworld.com)",
    )


def _us_care() -> Duty:
    return Duty(
        "Care label",
        US,
        "Permanent care instructions with a reasonable basis.",
        "The care card follows what the workroom says of its fabrics: wash a sample first.",
        '16 CFR 423; FTC "Clothes Captioning"',
    )


def _fabrics(fabrics: Sequence[tuple[str, str]]) -> str:
    if not fabrics:
        return "No fabric is known yet."
    return "; ".join(f"{name}: {fiber}" for name, fiber in fabrics) + "."

"""Reminders of safety and labelling for jackets by age group and market.

They sum up what published rules say and name their sources. The program reminds, it does not
certify.
"""

from __future__ import annotations

from production.planning.labels.label_facts import EU, MEMORY, OTHER, US, Duty, DutyFacts, listed
from production.planning.labels.label_rules import eu_duties, us_duties

DEFER = (
    "A summary only: go by current law, local rules, the club's rules, and an accredited laboratory"
    " or licensed practice. The program reminds; it does not certify."
)


def duties(facts: DutyFacts) -> tuple[Duty, ...]:
    """What applies to these jackets, market by market; those of both where none is said."""
    markets = (facts.market,) if facts.market else (EU, US)
    found: list[Duty] = []
    if EU in markets:
        found += eu_duties(facts)
    if US in markets:
        found += us_duties(facts)
    if OTHER in markets:
        found.append(_elsewhere(facts))
    return (*found, _care_symbols())


def _elsewhere(facts: DutyFacts) -> Duty:
    youth = [size for size in facts.sizes if size.is_youth]
    return Duty(
        "Rules of your market",
        OTHER,
        "No rule of this market is on file here. Look up: labels of fiber, care, origin and maker; "
        "flammability; and for children's clothing cords, lead and tracking labels.",
        f"Youth sizes: {listed(youth)}." if youth else "No youth size is made.",
        "none",
        "no source",
    )


def _care_symbols() -> Duty:
    return Duty(
        "Care symbols",
        "",
        "In this order: wash, bleach, dry, iron, professional care. ASTM D5489 has those of the US."
        " In some countries the symbols are protected.",
        "Symbols may be protected; check before printing on sold goods.",
        "ISO 3758; ASTM D5489",
        MEMORY,
    )

"""Days of the orders: which there are, by month, and as an iCalendar file checked by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

from hypothesis import given
from hypothesis import strategies as st

from orders import calendar as days
from orders.models import Club, TeamOrder

TODAY = date(2027, 2, 10)


def an_order(**overrides: object) -> TeamOrder:
    values = {
        "pk": 7,
        "code": "TQ-27A",
        "title": "Spring jackets",
        "deadline": date(2027, 3, 14),
        "club": Club(name="Tern Quay"),
    }
    return TeamOrder(**values | overrides)


def told(order: TeamOrder) -> list[tuple[str, str, bool]]:
    return [(str(one.day), one.kind, one.late) for one in days.entries_of([order], TODAY)]


def test_an_order_has_a_closing_day_and_a_deadline() -> None:
    order = an_order(closes_on=date(2027, 2, 1))
    assert told(order) == [
        ("2027-02-01", "form closes", False),
        ("2027-03-14", "deadline", False),
    ]


def test_a_handed_over_order_shows_when_and_is_not_late() -> None:
    order = an_order(
        state="handed_over", deadline=date(2027, 1, 5), handed_over_on=date(2027, 1, 3)
    )
    assert told(order) == [
        ("2027-01-03", "handed over", False),
        ("2027-01-05", "deadline", False),
    ]


def test_a_deadline_is_late_from_the_day_after() -> None:
    assert told(an_order(deadline=TODAY)) == [("2027-02-10", "deadline", False)]
    yesterday = TODAY - timedelta(days=1)
    assert told(an_order(deadline=yesterday)) == [("2027-02-09", "deadline", True)]


def test_a_cancelled_order_has_no_days() -> None:
    assert told(an_order(state="cancelled", closes_on=TODAY)) == []


def test_months_run_on_over_the_year_s_end_empty_ones_included() -> None:
    entries = days.entries_of([an_order(deadline=date(2028, 1, 31))], TODAY)
    found = days.months(entries, date(2027, 11, 1), TODAY, count=4)
    assert [(str(month.first), len(month.entries)) for month in found] == [
        ("2027-11-01", 0),
        ("2027-12-01", 0),
        ("2028-01-01", 1),
        ("2028-02-01", 0),
    ]
    assert found[3].days == 29  # 2028 is a leap year
    assert days.next_month(date(2027, 3, 31), -6) == date(2026, 9, 1)


def test_the_tape_has_a_tick_a_day_and_a_pin_a_day_with_entries() -> None:
    entries = days.entries_of([an_order(), an_order(pk=8, code="TQ-27B")], TODAY)
    march = days.months(entries, date(2027, 3, 1), TODAY, count=1)[0].tape()
    assert (march["width"], len(march["ticks"])) == (31 * 24, 31)
    assert march["pins"] == [14 * 24 - 12]
    # 1 March 2027 is a Monday, so the first weekend is the 6th and 7th.
    assert [tick["number"] for tick in march["ticks"] if tick["long"]] == [1, 8, 15, 22, 29]
    assert march["rest"][:2] == [5 * 24, 6 * 24]
    assert march["today"] is None


#: Written out by hand from RFC 5545: 3.1 (CRLF ends a line; folded at 75 octets, no letter
#: cut in two), 3.3.11 (backslash, semicolon and comma are escaped), 3.6.1 (VEVENT), 3.8.2.4 (DATE).
BY_HAND = (
    b"BEGIN:VCALENDAR\r\n"
    b"VERSION:2.0\r\n"
    b"PRODID:-//Jacket Muster//Calendar//EN\r\n"
    b"BEGIN:VEVENT\r\n"
    b"UID:order-7-form-closes@jacket-muster\r\n"
    b"DTSTAMP:20270210T073000Z\r\n"
    b"DTSTART;VALUE=DATE:20270301\r\n"
    b"SUMMARY:TQ-27A form closes: Caps\\, coats\\; back\\\\front for the youngest \xc5\x81\r\n"
    b" \xc4\x99cka (Tern Quay)\r\n"
    b"URL:https://muster.example/orders/TQ-27A/\r\n"
    b"TRANSP:TRANSPARENT\r\n"
    b"END:VEVENT\r\n"
    b"BEGIN:VEVENT\r\n"
    b"UID:order-7-deadline@jacket-muster\r\n"
    b"DTSTAMP:20270210T073000Z\r\n"
    b"DTSTART;VALUE=DATE:20270314\r\n"
    b"SUMMARY:TQ-27A deadline: Caps\\, coats\\; "
    b"back\\\\front for the youngest \xc5\x81\xc4\x99ck\r\n"
    b" a (Tern Quay)\r\n"
    b"URL:https://muster.example/orders/TQ-27A/\r\n"
    b"TRANSP:TRANSPARENT\r\n"
    b"END:VEVENT\r\n"
    b"END:VCALENDAR\r\n"
)


def test_the_icalendar_file_is_as_written_by_hand() -> None:
    order = an_order(
        title="Caps, coats; back\\front for the youngest Łęcka", closes_on=date(2027, 3, 1)
    )
    made_at = datetime(2027, 2, 10, 8, 30, tzinfo=timezone(timedelta(hours=1)))
    text = days.as_icalendar(
        days.entries_of([order], TODAY), made_at, {7: "https://muster.example/orders/TQ-27A/"}
    )
    assert text.encode() == BY_HAND


@given(st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=200))
def test_folded_lines_are_short_and_unfold_to_what_they_were(title: str) -> None:
    order = an_order(title=title)
    entries = days.entries_of([order], TODAY)
    lines = days.as_icalendar(entries, datetime(2027, 1, 1, tzinfo=UTC), {7: "x"}).split("\r\n")
    assert all(len(line.encode()) <= 75 for line in lines)
    unfolded = "\r\n".join(lines).replace("\r\n ", "")
    summary = next(line for line in unfolded.split("\r\n") if line.startswith("SUMMARY:"))
    plain = summary.replace("\\,", ",").replace("\\;", ";").replace("\\\\", "\\")
    assert plain == f"SUMMARY:{entries[0].words}"

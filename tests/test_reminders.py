"""When a strip is smelled again."""

from datetime import datetime

import pytest

from recommender.output.reminders import calendar, due, next_line


@pytest.mark.parametrize(
    ("read", "left"),
    [([], [1, 8, 24]), ([0.0], [1, 8, 24]), ([0.9], [8, 24]), ([1.5, 7.0], [24]), ([3], [8, 24]), ([30], [])],
)
def test_an_hour_is_due_until_it_or_a_later_one_was_smelled(read, left):
    assert due(read) == left


def test_what_is_next_is_worded_by_the_clock():
    assert next_line(0.25, []) == "Next: smell it 60 min after dipping, in 45 min."
    assert next_line(2.0, []).startswith("Smell it now")
    assert next_line(30.0, [1, 8, 25]) == "It has been smelled at 1 h, at 8 h and after a day."


def test_the_calendar_follows_its_standard():
    """RFC 5545: CRLF line ends (3.1), at most 75 octets a line, UTC times (3.3.5), escapes (3.3.11)."""
    text = calendar("Rain, on; stone\\wet " + "ü" * 40 + "@2", 3, datetime(2026, 3, 1, 22, 30))
    assert text.endswith("END:VCALENDAR\r\n")
    assert "\n" not in text.replace("\r\n", "")
    lines = text.split("\r\n")
    assert all(len(line.encode()) <= 75 for line in lines)
    whole = text.replace("\r\n ", "").split("\r\n")
    assert [line for line in whole if line.startswith("DTSTART")] == [
        "DTSTART:20260301T233000Z", "DTSTART:20260302T063000Z", "DTSTART:20260302T223000Z",
    ]  # fmt: skip
    assert len({line for line in whole if line.startswith("UID:")}) == 3
    assert r"SUMMARY:Smell the strip of Rain\, on\; stone\\wet" in next(x for x in whole if "SUMMARY" in x)
    assert whole.count("BEGIN:VALARM") == whole.count("END:VALARM") == 3

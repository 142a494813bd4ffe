"""The practice day starts at 04:00 by the wall clock of the zone."""

import datetime as dt

import pytest

from midifret.book.day import practice_day
from midifret.terms import BadInput


@pytest.mark.parametrize(
    ("time_utc", "zone", "day"),
    [
        # Madrid is UTC+1 in winter and UTC+2 in summer (IANA tz database).
        ("2026-01-15T02:59", "Europe/Madrid", "2026-01-14"),
        ("2026-01-15T03:00", "Europe/Madrid", "2026-01-15"),
        ("2026-07-15T01:59", "Europe/Madrid", "2026-07-14"),
        ("2026-07-15T02:00", "Europe/Madrid", "2026-07-15"),
        # The clocks go forward at 02:00 local on 29 March 2026, back at 03:00 on 25 October.
        ("2026-03-29T01:59", "Europe/Madrid", "2026-03-28"),
        ("2026-03-29T02:00", "Europe/Madrid", "2026-03-29"),
        ("2026-10-25T02:59", "Europe/Madrid", "2026-10-24"),
        ("2026-10-25T03:00", "Europe/Madrid", "2026-10-25"),
        # Kathmandu is UTC+5:45, Honolulu UTC-10 all year.
        ("2026-01-14T22:14", "Asia/Kathmandu", "2026-01-14"),
        ("2026-01-14T22:15", "Asia/Kathmandu", "2026-01-15"),
        ("2026-01-01T13:59", "Pacific/Honolulu", "2025-12-31"),
        ("2026-01-01T14:00", "Pacific/Honolulu", "2026-01-01"),
    ],
)
def test_day(time_utc: str, zone: str, day: str) -> None:
    time = dt.datetime.fromisoformat(time_utc).replace(tzinfo=dt.UTC)
    assert practice_day(time, zone) == dt.date.fromisoformat(day)


@pytest.mark.parametrize("zone", ["Nowhere/Else", "", "../etc", "/etc/passwd", "a\0b"])
def test_unknown_zone(zone: str) -> None:
    with pytest.raises(BadInput, match="time zone"):
        practice_day(dt.datetime(2026, 1, 1, tzinfo=dt.UTC), zone)


def test_a_time_without_zone_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="UTC"):
        practice_day(dt.datetime(2026, 1, 1), "UTC")

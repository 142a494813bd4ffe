"""The practice day: from 04:00 local time to the next 04:00."""

import datetime as dt
import zoneinfo

from midifret.terms import BadInput

DAY_STARTS_AT = dt.time(4)  # who plays past midnight is still in the evening before


def local_time(time_utc: dt.datetime, zone: str) -> dt.datetime:
    """Return an aware time in the zone with that IANA name. Raises BadInput for an unknown zone."""
    try:
        place = zoneinfo.ZoneInfo(zone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        raise BadInput(
            f"there is no time zone {zone!r}", allowed="an IANA name, for example Europe/Madrid"
        ) from None
    return time_utc.astimezone(place)


def practice_day(time_utc: dt.datetime, zone: str) -> dt.date:
    """Return the practice day that an aware time falls in, by the wall clock of the zone.

    Raises ValueError for a time without a zone of its own, BadInput for an unknown zone.
    """
    if time_utc.tzinfo is None:
        raise ValueError("a time in UTC must say so")
    local = local_time(time_utc, zone)
    before_start = local.time() < DAY_STARTS_AT
    return local.date() - dt.timedelta(days=1) if before_start else local.date()

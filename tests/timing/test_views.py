"""What was measured on the terminal and what on the stand: each holds for itself, and the other is told."""

import datetime as dt

from midifret.terms import Place
from midifret.terms.calibration import CalibrationPart, Caveat, Measurement, Reaction, Reading, ViewKind
from midifret.timing import calibrate

NOW = dt.datetime(2026, 5, 1, 18, tzinfo=dt.UTC)
OPEN = dict(zip(range(6, 0, -1), (40, 45, 50, 55, 59, 64), strict=True))


def measured(
    part: CalibrationPart, view: ViewKind, time_s: float, *, days_ago: float = 1, guitar: str = "g"
) -> Measurement:
    readings = []
    for n in range(30):
        string = 6 - n % 6
        fret = 0 if part is CalibrationPart.REACTION else 1 + n % 12
        spread_s = 0.01 * (n % 5 - 2)
        readings.append(Reading(time_s + spread_s + 0.02 * fret, OPEN[string] + fret, Place(string, fret)))
    when = NOW - dt.timedelta(days=days_ago)
    return Measurement(part, guitar, "p", when, tuple(readings), view=view)


def response_s(measurements: list[Measurement], view: ViewKind) -> tuple[float, frozenset[Caveat]]:
    found = calibrate(measurements, guitar="g", port="p", now=NOW, view=view)
    assert isinstance(found.reaction, Reaction)
    return round(found.reaction.response_s.value, 2), found.times.caveats


TERMINAL = measured(CalibrationPart.REACTION, ViewKind.TERMINAL, 0.30, days_ago=1)
STAND = measured(CalibrationPart.REACTION, ViewKind.STAND, 0.34, days_ago=5)


def test_each_view_has_its_own_reaction_even_where_the_other_is_newer() -> None:
    assert response_s([TERMINAL, STAND], ViewKind.TERMINAL) == (0.30, frozenset())
    assert response_s([TERMINAL, STAND], ViewKind.STAND) == (0.34, frozenset())


def test_the_other_one_is_used_and_told_where_there_is_no_own() -> None:
    assert response_s([TERMINAL], ViewKind.STAND) == (0.30, {Caveat.OTHER_VIEW})
    assert response_s([STAND], ViewKind.TERMINAL) == (0.34, {Caveat.OTHER_VIEW})


def test_the_guitar_comes_before_the_view() -> None:
    other = measured(CalibrationPart.REACTION, ViewKind.STAND, 0.4, guitar="other")
    assert response_s([TERMINAL, other], ViewKind.STAND) == (0.30, {Caveat.OTHER_VIEW})


def test_hands_that_were_shown_on_another_view_are_told() -> None:
    on_terminal = measured(CalibrationPart.HANDS, ViewKind.TERMINAL, 0.5)
    on_stand = measured(CalibrationPart.HANDS, ViewKind.STAND, 0.5, days_ago=9)
    assert response_s([STAND, on_terminal], ViewKind.STAND)[1] == {Caveat.OTHER_VIEW}
    assert response_s([STAND, on_terminal, on_stand], ViewKind.STAND)[1] == frozenset()


def test_intervals_of_walks_are_seen_nowhere() -> None:
    found = calibrate([TERMINAL], guitar="g", port="p", now=NOW, view=ViewKind.STAND)
    assert Caveat.OTHER_VIEW not in found.times.interval(0.5, 40, 45).caveats

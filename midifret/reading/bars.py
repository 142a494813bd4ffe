"""Bars and beats of a score: where each begins, and how long a beat is."""

from bisect import bisect_right
from fractions import Fraction

from midifret.terms.score import BarStart, MeterChange, Score

_COMMON_TIME = MeterChange(Fraction(0), 4, 4)  # where a score says nothing [common practice, no source]


def bars_of(score: Score) -> tuple[BarStart, ...]:
    """Return where each bar begins, in the order of playing.

    A score that does not say has a bar wherever the number of its notes changes, and where none has a number
    one for every meter's length.
    """
    if score.bars:
        return score.bars
    found: list[BarStart] = []
    for note in score.notes:
        if not found or (note.bar, note.played) != (found[-1].number, found[-1].played):
            found.append(BarStart(note.onset_quarter, note.bar, note.played))
    if len(found) > 1 or not score.notes or score.notes[0].bar:
        return tuple(found)
    meter = meter_of(score)
    length = Fraction(4 * meter.beats, meter.beat_type)
    first, last = score.notes[0].onset_quarter, score.notes[-1].onset_quarter
    count = int((last - first) / length) + 1
    return tuple(BarStart(first + number * length, str(number + 1)) for number in range(count))


def bar_at(bars: tuple[BarStart, ...], onset_quarter: Fraction) -> int:
    """Return the index of the bar that an onset lies in; what comes before the first belongs to it."""
    return max(0, bisect_right(bars, onset_quarter, key=lambda bar: bar.onset_quarter) - 1)


def meter_of(score: Score) -> MeterChange:
    """Return the meter that a score begins with."""
    return score.meters[0] if score.meters else _COMMON_TIME


def beat_quarter(meter: MeterChange) -> Fraction:
    """Return how many quarter notes a beat is.

    Six, nine and twelve eighths or sixteenths go in beats of three [common practice, no source].
    """
    grouped = meter.beat_type >= 8 and meter.beats > 3 and meter.beats % 3 == 0
    return Fraction(4 * (3 if grouped else 1), meter.beat_type)


def beats_a_bar(meter: MeterChange) -> int:
    """Return how many beats a bar has, at least 1."""
    return max(1, int(Fraction(4 * meter.beats, meter.beat_type) / beat_quarter(meter)))

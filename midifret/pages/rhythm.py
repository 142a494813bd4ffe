"""How a time in a bar is written: values with dots, ties at strong points, tuplets."""

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm

# In quarter notes, the shortest value that is drawn, a hundred-and-twenty-eighth [ours].
SHORTEST = Fraction(1, 32)
# Parts of a tuplet; above it the rhythm is drawn on the grid of the shortest value [ours].
MOST_PARTS = 15
_BREVE = Fraction(8)


@dataclass(frozen=True, slots=True)
class Value:
    """A written value. base: 1 a whole, 4 a quarter, 8 an eighth ...; 0 a breve. dots: 0 or 1."""

    base: int
    dots: int = 0


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter, and where its bar is strong.

    beats, beat_type: 6, 8 for six-eight. Lengths are in quarter notes.
    """

    beats: int
    beat_type: int

    @property
    def unit(self) -> Fraction:
        """What the lower number stands for."""
        return Fraction(4, self.beat_type)

    @property
    def bar(self) -> Fraction:
        """Length of a bar."""
        return self.unit * self.beats

    @property
    def compound(self) -> bool:
        """Beats of three: 6/8, 9/8, 12/8 and their like."""
        return self.beats % 3 == 0 and self.beats > 3 and self.beat_type >= 8

    @property
    def beat(self) -> Fraction:
        """Length of a beat as it is counted."""
        if self.compound or (self.beats == 3 and self.beat_type >= 8):
            return 3 * self.unit
        return self.unit

    @property
    def groups(self) -> tuple[Fraction, ...]:
        """Where beams are broken, from the start of the bar; the bar's end is left out.

        Beats, but 5/8 as 3+2 and 7/8 as 2+2+3 [common practice, no source].
        """
        if self.beat_type >= 8 and self.beats % 3 and self.beats > 4 and self.beats % 2:
            twos = (self.beats - 3) // 2
            sizes = [3, 2] if self.beats == 5 else [*[2] * twos, 3]
            points, at = [], Fraction(0)
            for size in sizes:
                points.append(at)
                at += size * self.unit
            return tuple(points)
        return tuple(self.beat * i for i in range(-(-self.bar // self.beat)))

    def level(self, point: Fraction) -> int:
        """How strong a point of the bar is: 0 its start, 1 a half of it, 2 a beat, 3 and more its parts."""
        if point % self.bar == 0:
            return 0
        if self.beats % 4 == 0 and point == self.bar / 2:
            return 1
        if point in self.groups:
            return 2
        step, level = (self.unit, 3) if self.beat != self.unit else (self.unit / 2, 3)
        while point % step and level < 9:
            step, level = step / 2, level + 1
        return level


@dataclass(frozen=True, slots=True)
class Piece:
    """One written value in a bar; several with one `source` are tied.

    start, end: in the bar. source: number of the span that it is a part of. tuplet: (parts, in the time of),
    None for a plain value; group: pieces of one tuplet share its number.
    """

    start: Fraction
    end: Fraction
    value: Value
    source: int
    tuplet: tuple[int, int] | None = None
    group: int = 0


@dataclass(frozen=True, slots=True)
class Span:
    """What is to be written: a note or a rest from start to end in its bar."""

    start: Fraction
    end: Fraction
    rest: bool


def value_of(length: Fraction) -> Value | None:
    """The value that lasts so many quarter notes, or None where there is none of at most one dot."""
    for dots, share in ((0, Fraction(1)), (1, Fraction(3, 2))):
        base = length / share
        if base == _BREVE:
            return Value(0, dots)
        if SHORTEST <= base <= 4 and (4 / base).denominator == 1 and _power_of_two(int(4 / base)):
            return Value(int(4 / base), dots)
    return None


def written(spans: list[Span], meter: Meter) -> tuple[list[Piece], bool]:
    """Write the spans of one voice in one bar, which fill it without a gap.

    Returns the pieces in order and whether they stand where the spans do: False where a rhythm had to be
    drawn on the grid of the shortest value. Raises ValueError where even that has no room for them.
    """
    try:
        return _pieces(spans, meter), True
    except _NotWritten:
        return _pieces(_on_grid(spans), meter), False


class _NotWritten(ValueError):
    """A rhythm with no written form among ours."""


def _on_grid(spans: list[Span]) -> list[Span]:
    """Move every start and end to the grid of the shortest value; each span keeps some length."""
    moved = []
    at = spans[0].start
    last = spans[-1].end
    for index, span in enumerate(spans):
        left = len(spans) - index - 1
        end = SHORTEST * round(span.end / SHORTEST)
        end = min(max(end, at + SHORTEST), last - left * SHORTEST)
        moved.append(Span(at, end if left else last, span.rest))
        at = end
    if any(span.end <= span.start for span in moved) or not _plain(last):
        raise _NotWritten
    return moved


def _pieces(spans: list[Span], meter: Meter) -> list[Piece]:
    cut: list[tuple[Span, int]] = []
    for source, span in enumerate(spans):
        cut += [(part, source) for part in _cut_at_beats(span, meter)]
    pieces: list[Piece] = []
    index = group = 0
    while index < len(cut):
        span, source = cut[index]
        if _plain(span.start) and _plain(span.end):
            pieces += [
                Piece(start, end, value, source)
                for start, end, value in _split(span.start, span.end, meter, rest=span.rest)
            ]
            index += 1
            continue
        last = index
        while last < len(cut) and not _plain(cut[last][0].end):
            last += 1
        if last == len(cut) or not _plain(span.start):
            raise _NotWritten
        group += 1
        pieces += _tuplet(cut[index : last + 1], group)
        index = last + 1
    return pieces


def _cut_at_beats(span: Span, meter: Meter) -> list[Span]:
    """Part a span at a beat where it begins or ends inside a tuplet and reaches into plain values."""
    points = []
    if not _plain(span.start) and (span.rest or _plain(span.end)):
        points.append((span.start // meter.beat + 1) * meter.beat)
    if not _plain(span.end) and (span.rest or _plain(span.start)):
        points.append((span.end // meter.beat) * meter.beat)
    edges = [span.start, *sorted({p for p in points if span.start < p < span.end}), span.end]
    return [Span(a, b, span.rest) for a, b in pairwise(edges)]


def _tuplet(parts: list[tuple[Span, int]], group: int) -> list[Piece]:
    """Write a run that closes on a plain point as one tuplet: 3 in the time of 2, 5 or 7 of 4 ..."""
    whole = lcm(*((span.end - parts[0][0].start).denominator for span, _ in parts))
    odd = whole
    while odd % 2 == 0:
        odd //= 2
    if odd == 1 or odd > MOST_PARTS:
        raise _NotWritten
    time_of = 1 << (odd.bit_length() - 1)
    pieces = []
    for span, source in parts:
        at = span.start
        for length in _lengths((span.end - span.start) * odd / time_of):
            end = at + length * time_of / odd
            value = value_of(length)
            assert value is not None
            pieces.append(Piece(at, end, value, source, (odd, time_of), group))
            at = end
    return pieces


def _lengths(length: Fraction) -> list[Fraction]:
    """Part a length into values, longest first. Raises _NotWritten where it cannot be done."""
    found = []
    while length:
        value = next(
            (
                base * share
                for base in (Fraction(4) / 2**n for n in range(8))
                for share in (Fraction(3, 2), Fraction(1))
                if base * share <= length
            ),
            None,
        )
        if value is None:
            raise _NotWritten
        found.append(value)
        length -= value
    return found


def _split(
    start: Fraction, end: Fraction, meter: Meter, *, rest: bool
) -> list[tuple[Fraction, Fraction, Value]]:
    """Part a plain span so that strong points of the bar are seen [common practice, no source].

    A value may cross one point that is stronger than its own start by one level (a half note on the second of
    four beats, a quarter between two eighths); a rest, a dotted value on a weaker point and whatever lies
    across beats of three may not.
    """
    value = value_of(end - start)
    inside = _points(start, end, meter)
    own = meter.level(start)
    stronger = [(meter.level(point), point) for point in inside if meter.level(point) < own]
    if value is not None:
        allowed = not stronger
        if stronger and not rest and not meter.compound and len(stronger) == 1:
            level = stronger[0][0]
            allowed = own - level <= 1 and (value.dots == 0 or level > 1)
        if rest and value.dots and not meter.compound and meter.level(start) > 0:
            allowed = False
        if allowed:
            return [(start, end, value)]
    if not inside:
        raise _NotWritten
    _, point = (
        min(stronger) if stronger else min((meter.level(p), _unlike(start, end, p), p) for p in inside)[::2]
    )
    return _split(start, point, meter, rest=rest) + _split(point, end, meter, rest=rest)


def _unlike(start: Fraction, end: Fraction, point: Fraction) -> int:
    """Prefer a parting into two values over one into more, and the longer one first."""
    first, second = value_of(point - start), value_of(end - point)
    if first is None or second is None:
        return 2
    return 0 if point - start >= end - point else 1


def _points(start: Fraction, end: Fraction, meter: Meter) -> list[Fraction]:
    """The points of the bar inside a span, as finely as the span itself needs."""
    step = Fraction(1, max(1, lcm(start.denominator, end.denominator)))
    while step > meter.unit / 2 and step > SHORTEST:
        step /= 2
    first = start // step * step + step
    return [first + step * i for i in range(int((end - first) / step) + 1) if first + step * i < end]


def _plain(point: Fraction) -> bool:
    return _power_of_two(point.denominator) and point % SHORTEST == 0


def _power_of_two(number: int) -> bool:
    return number & (number - 1) == 0

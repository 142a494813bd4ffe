"""What leads over bar lines: an upbeat before the first bar, and ties into the next one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from midifret.melody.chance import Chance
from midifret.melody.level import bar_quarters, beat_quarters, is_compound
from midifret.melody.line import SAME, follows_weight, interval_class, move_weight
from midifret.melody.tones import Kind, Tone
from midifret.melody.weigh import Note

# An upbeat leads to the first note mostly from the dominant, or is the tonic, or lies a step away [common
# practice, no source; weights ours].
_UPBEAT = {4: 1.0, 0: 0.6}
_OTHER_UPBEAT = 0.25
_LONGEST_TIED = Fraction(4)  # quarter notes of both together; longer ones stop the line [ours]
_TIED_ON = Fraction(2)  # the second of two tied notes is no longer than this [ours]


@dataclass(frozen=True, slots=True)
class Line:
    """A melody with what leads over its bar lines.

    notes, tones: as planned, the upbeat apart. tied: numbers of notes, from 0, that go on the one before.
    upbeat: its tone, None for none. upbeat_quarters: its length, by which the last note is shorter.
    """

    notes: tuple[Note, ...]
    tones: tuple[Tone, ...]
    tied: frozenset[int] = frozenset()
    upbeat: Tone | None = None
    upbeat_quarters: Fraction = Fraction(0)


def tied_over_bars(line: Line, meter: tuple[int, int], share: float, chance: Chance) -> Line:
    """Tie so large a share of the notes that come again over a bar line to the one before.

    The last note of a melody and the first of a phrase are struck, and so is what follows a rest.
    """
    bar = bar_quarters(meter)
    tied: set[int] = set()
    for n in range(1, len(line.notes)):
        before, note = line.notes[n - 1], line.notes[n]
        meets = before.bar + 1 == note.bar and before.at + before.length == bar and note.at == 0
        if not meets or line.tones[n - 1] is not line.tones[n] or note.first or note.last:
            continue
        if before.length + note.length > _LONGEST_TIED or note.length > _TIED_ON:
            continue
        if {before.length.denominator, note.length.denominator} & {3, 6, 12}:
            continue  # a tie out of a triplet is for no level here
        if n - 1 not in tied and chance.yes(share):
            tied.add(n)
    return Line(line.notes, line.tones, frozenset(tied), line.upbeat, line.upbeat_quarters)


def with_upbeat(
    line: Line,
    meter: tuple[int, int],
    row: Sequence[Tone],
    intervals: Mapping[int, float],
    most_semitones: int,
    chance: Chance,
) -> Line:
    """Begin a beat before the first bar, where the last note is long enough to make up for it.

    In compound meters an eighth. The line stays within its range; unchanged where no tone leads on.
    """
    length = Fraction(1, 2) if is_compound(meter) else beat_quarters(meter)
    usual = sum((note.length for note in line.notes), Fraction(0)) / len(line.notes)
    last = line.notes[-1].length - length
    if last < max(Fraction(1), usual) or line.notes[0].at:
        return line
    midis = [tone.midi for tone in line.tones]
    following = interval_class(line.tones[0], line.tones[1]) if len(line.tones) > 1 else SAME
    weights: dict[int, float] = {}
    for number, tone in enumerate(row):
        wide = max(*midis, tone.midi) - min(*midis, tone.midi)
        if tone.kind is not Kind.OF_KEY or wide > most_semitones:
            continue
        kind = interval_class(tone, line.tones[0])
        weight = move_weight(tone, line.tones[0], intervals) * follows_weight(kind, following)
        weights[number] = weight * _UPBEAT.get(tone.degree, _OTHER_UPBEAT)
    if not any(weights.values()):
        return line
    return Line(line.notes, line.tones, line.tied, row[chance.weighted(weights)], length)

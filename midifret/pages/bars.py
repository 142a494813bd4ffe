"""A score laid out in bars, voices, written values, ties, beams and accidentals: what is engraved."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from midifret.pages.rhythm import SHORTEST, Meter, Piece, Span, Value, written
from midifret.terms import BadInput
from midifret.terms.score import BarStart, Directions, Score, ScoreNote

# Order in which a key signature grows [common practice]: sharps from F up in fifths, flats from B down.
_SHARPS = "FCGDAEB"
MOST_LAYERS = 4
MOST_NOTES = 10_000  # 40 pages; their PNGs take 1.3 GB of memory together [measured]
_USUAL_METER = Meter(4, 4)
NO_SIGNS = Directions()


@dataclass(frozen=True, slots=True)
class Head:
    """A notehead. ident: unique on the page; first: it is where the note is struck.

    tied_on, tied_back: to the next and from the last head of the same note. shown: the sign beside it, an
    alteration from -2 to 2, None for no sign.
    """

    note: ScoreNote
    ident: str
    first: bool
    tied_on: bool
    tied_back: bool
    shown: int | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """A chord, a note or a rest in a voice.

    start, end: in its bar, in quarter notes. heads: from the lowest up, empty for a rest. hidden: a rest that
    takes room and is not drawn. whole: a rest that fills its bar. graces: before it, in order. tuplet: as
    (parts, in the time of). begins, ends: whether it does here. beam: "", "begin", "continue", "end".
    """

    ident: str
    start: Fraction
    end: Fraction
    value: Value
    heads: tuple[Head, ...] = ()
    hidden: bool = False
    whole: bool = False
    graces: tuple[Head, ...] = ()
    tuplet: tuple[int, int] | None = None
    begins: bool = False
    ends: bool = False
    beam: str = ""


@dataclass(frozen=True, slots=True)
class Layer:
    """One voice in a bar, or a part of it.

    number: on the page, from 1, the same in all bars. voice: as the score numbers it. stem: "up", "down" or
    "" where it stands alone.
    """

    number: int
    voice: int
    stem: str
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar. number: as printed. meter, fifths: what holds in it; new_meter, new_key: it is shown here.

    signs: of repeats, endings and jumps, as printed at it.
    """

    number: str
    start_quarter: Fraction
    length: Fraction
    meter: Meter
    fifths: int
    new_meter: bool
    new_key: bool
    layers: tuple[Layer, ...]
    pick_up: bool = False
    signs: Directions = NO_SIGNS


@dataclass(frozen=True, slots=True)
class Laid:
    """A score in bars. heads: ids of the heads of each note, by its number, the struck one first.

    warnings: what is drawn otherwise than it sounds, in words.
    """

    score: Score
    bars: tuple[Bar, ...]
    heads: dict[int, tuple[str, ...]]
    warnings: tuple[str, ...]


def lay_out(score: Score, signs: Sequence[Directions] = ()) -> Laid:
    """Lay a score out in bars.

    signs: of repeats, one for each of its bars; empty for none.
    Raises BadInput where it has no note or more than 10,000.
    """
    name = score.source or score.title or "the score"
    if not score.notes:
        raise BadInput(f"{name}: there is no note to engrave", allowed="a score with at least one note")
    if len(score.notes) > MOST_NOTES:
        raise BadInput(
            f"{name}: {len(score.notes):,} notes are too many for one page file",
            allowed=f"at most {MOST_NOTES:,}: choose bars",
        )
    frames = _frames(score)
    warnings: list[str] = []
    rows = _layers(score, warnings)
    bars = []
    for index, frame in enumerate(frames):
        made = _bar_layers(index, frame, rows, warnings)
        sign = signs[index] if signs else NO_SIGNS
        bars.append(replace(frame, layers=_with_accidentals(made, frame.fifths), signs=sign))
    heads: dict[int, list[str]] = defaultdict(list)
    for bar in bars:
        for _, head in heads_of(bar):
            heads[head.note.n].append(head.ident)
    return Laid(score, tuple(bars), {n: tuple(ids) for n, ids in heads.items()}, tuple(warnings))


def heads_of(bar: Bar) -> Iterator[tuple[Event, Head]]:
    """Every head of a bar with the event that it stands in, graces first."""
    for layer in bar.layers:
        for event in layer.events:
            for head in (*event.graces, *event.heads):
                yield event, head


# ------------------------------------------------------------------------------------------------ bars


def _frames(score: Score) -> list[Bar]:
    """The bars without their notes."""
    starts = score.bars or _bars_from_meters(score)
    end = max((note.end_quarter for note in score.notes), default=Fraction(0))
    end = max(end, starts[-1].onset_quarter)
    meters = {change.onset_quarter: Meter(change.beats, change.beat_type) for change in score.meters}
    keys = {change.onset_quarter: change.fifths for change in score.keys}
    meter, fifths = _USUAL_METER, 0
    frames: list[Bar] = []
    for index, begin in enumerate(starts):
        at = begin.onset_quarter
        past = [when for when in meters if when <= at]
        now = meters[max(past)] if past else meter
        past = [when for when in keys if when <= at]
        key = keys[max(past)] if past else fifths
        if index + 1 < len(starts):
            length = starts[index + 1].onset_quarter - at
        else:
            length = begin.duration_quarter or now.bar
            if (
                begin.duration_quarter is None
                and score.bars
                and frames
                and frames[0].pick_up
                and end - at <= now.bar - frames[0].length
            ):
                length = now.bar - frames[0].length
            if end - at > length:  # whatever hangs over is drawn to the end of a beat
                length = -((at - end) // now.unit) * now.unit
        frames.append(
            Bar(
                begin.number,
                at,
                length,
                now,
                key,
                new_meter=bool(score.meters) and (index == 0 or now != meter),
                new_key=index == 0 or key != fifths,
                layers=(),
                pick_up=index == 0 and length < now.bar and len(starts) > 1,
            )
        )
        meter, fifths = now, key
    return frames


def _bars_from_meters(score: Score) -> tuple[BarStart, ...]:
    """Where nobody says: bars of the meter, after the pick-up that fits the notes' own bar numbers best."""
    changes = sorted(score.meters, key=lambda change: change.onset_quarter)
    first = Meter(changes[0].beats, changes[0].beat_type) if changes else _USUAL_METER
    labelled = [(note.onset_quarter, (note.bar, note.played)) for note in score.notes if note.bar]
    until = changes[1].onset_quarter if len(changes) > 1 else None
    steps = [
        (a, b)
        for (a, label), (b, other) in pairwise(labelled)
        if label != other and a < b and (until is None or b <= until)
    ]
    pick_up = Fraction(0)
    if steps:
        candidates = sorted({Fraction(0), *(b % first.bar for _, b in steps[:200])})
        pick_up = max(candidates, key=lambda p: (sum(_line_in(a, b, p, first.bar) for a, b in steps), -p))
    end = max(note.end_quarter for note in score.notes)
    onsets = [Fraction(0)] if pick_up else []
    at, meter = pick_up, first
    while at < end or not onsets:
        onsets.append(at)
        for change in changes:
            if change.onset_quarter <= at:
                meter = Meter(change.beats, change.beat_type)
        later = [change.onset_quarter for change in changes if at < change.onset_quarter < at + meter.bar]
        at = min([at + meter.bar, *later])
    names: dict[int, tuple[str, int]] = {}
    for onset, label in labelled:
        names.setdefault(bisect_right(onsets, onset) - 1, label)
    shift = 0 if pick_up else 1
    return tuple(
        BarStart(onset, *names.get(index, (str(index + shift), 1))) for index, onset in enumerate(onsets)
    )


def _line_in(a: Fraction, b: Fraction, first: Fraction, length: Fraction) -> bool:
    """Whether a bar begins after a and not after b."""
    return (b - first) // length > (a - first) // length


# ---------------------------------------------------------------------------------------------- voices


@dataclass(frozen=True, slots=True)
class _Chord:
    start: Fraction
    end: Fraction
    notes: tuple[ScoreNote, ...]
    graces: tuple[ScoreNote, ...] = ()


@dataclass(frozen=True, slots=True)
class _Row:
    """Chords one after another. rests: they are drawn between them."""

    voice: int
    chords: list[_Chord]
    rests: bool


def _layers(score: Score, warnings: list[str]) -> list[_Row]:
    """The rows of chords that become layers, the highest voice first; one whose notes overlap takes two."""
    by_voice: dict[int, list[ScoreNote]] = defaultdict(list)
    for note in score.notes:
        by_voice[note.voice].append(note)
    ordered = sorted(by_voice, key=lambda voice: (-_mean_midi(by_voice[voice]), voice))
    rows: list[_Row] = []
    for rank, voice in enumerate(ordered):
        room = max(1, min(2, MOST_LAYERS - len(rows) - (len(ordered) - rank - 1)))
        made = _rows(_chords(by_voice[voice]), room, warnings)
        rows += [_Row(voice, chords, rests=place == 0) for place, chords in enumerate(made)]
    return rows


def _mean_midi(notes: Sequence[ScoreNote]) -> float:
    return sum(note.midi for note in notes) / len(notes)


def _chords(notes: Sequence[ScoreNote]) -> list[_Chord]:
    """Notes of one voice that begin and end together, in order; grace notes before what they lead to."""
    sounding: dict[tuple[Fraction, Fraction], list[ScoreNote]] = defaultdict(list)
    graces: dict[Fraction, list[ScoreNote]] = defaultdict(list)
    for note in notes:
        if note.duration_quarter:
            sounding[note.onset_quarter, note.end_quarter].append(note)
        else:
            graces[note.onset_quarter].append(note)
    chords = []
    for (start, end), together in sorted(sounding.items(), key=lambda item: (item[0][0], -item[0][1])):
        together.sort(key=lambda note: (note.midi, note.n))
        chords.append(_Chord(start, end, tuple(together), tuple(graces.pop(start, ()))))
    for start, alone in sorted(graces.items()):  # lead to nothing: drawn as short notes
        for index, note in enumerate(alone):
            at = start + SHORTEST * index
            chords.append(_Chord(at, at + SHORTEST, (note,)))
    return sorted(chords, key=lambda chord: chord.start)


def _rows(chords: list[_Chord], room: int, warnings: list[str]) -> list[list[_Chord]]:
    """Share overlapping chords among at most `room` rows, the lower ones below; the rest is drawn shorter."""
    rows: list[list[_Chord]] = [[] for _ in range(room)]
    for index, chord in enumerate(chords):
        free = [row for row in rows if not row or row[-1].end <= chord.start]
        if free:
            row = free[-1] if len(free) > 1 and _lies_below(chords, index) else free[0]
            row.append(chord)
            continue
        row = min(rows, key=lambda row: (row[-1].start == chord.start, row[-1].end))
        last = row[-1]
        if chord.start > last.start:
            row[-1] = replace(last, end=chord.start)
            warnings.append(f"{_where(last)}: a long note is drawn shorter than it sounds")
            row.append(chord)
        else:
            notes = sorted((*last.notes, *chord.notes), key=lambda note: (note.midi, note.n))
            row[-1] = replace(last, notes=tuple(notes), graces=last.graces + chord.graces)
            warnings.append(f"{_where(last)}: notes of several lengths are drawn as one chord")
    return [row for row in rows if row]


def _where(chord: _Chord) -> str:
    """Where a chord begins, in words."""
    bar = chord.notes[0].bar
    return f"bar {bar}" if bar else f"quarter {float(chord.start):g}"


def _lies_below(chords: Sequence[_Chord], index: int) -> bool:
    """Whether something higher begins while the chord sounds."""
    chord = chords[index]
    top = chord.notes[-1].midi
    for other in chords[index + 1 :]:
        if other.start >= chord.end:
            return False
        if other.notes[-1].midi > top:
            return True
    return False


def _bar_layers(
    index: int,
    bar: Bar,
    rows: Sequence[_Row],
    warnings: list[str],
) -> list[Layer]:
    """The layers of a bar; a voice that is silent in all of it is left out, unless all are."""
    made = []
    found = [(number, row, _inside(row.chords, bar)) for number, row in enumerate(rows, 1)]
    for number, row, inside in [each for each in found if each[2]] or found[:1]:
        events, true = _events(inside, bar, f"b{index + 1}v{number}", rests=row.rests)
        if not true:
            warnings.append(f"bar {bar.number}: a rhythm is drawn on the nearest 128th notes")
        made.append(Layer(number, row.voice, "", tuple(events)))
    return _stemmed(made)


def _stemmed(layers: list[Layer]) -> list[Layer]:
    """Stems of the upper half up, of the lower half down, the middle of three down; one alone as it falls.

    Inner layers show no rests: they would stand in the notes of the others [common practice, no source].
    """
    if len(layers) == 1:
        return layers
    upper = len(layers) // 2
    made = []
    for rank, layer in enumerate(layers):
        events = layer.events
        if 0 < rank < len(layers) - 1:
            events = tuple(replace(event, hidden=event.hidden or not event.heads) for event in events)
        made.append(replace(layer, stem="up" if rank < upper else "down", events=events))
    return made


def _inside(chords: list[_Chord], bar: Bar) -> list[_Chord]:
    """The chords that sound in a bar. Chords of a row do not overlap, so that both ends are in order."""
    end = bar.start_quarter + bar.length
    first = bisect_right(chords, bar.start_quarter, key=lambda chord: chord.end)
    last = bisect_left(chords, end, key=lambda chord: chord.start)
    return chords[first:last]


def _events(chords: list[_Chord], bar: Bar, prefix: str, *, rests: bool) -> tuple[list[Event], bool]:
    """Write the chords of one layer in one bar, with rests between; pick-ups are written at the bar's end."""
    if not chords:
        return [Event(f"{prefix}r", Fraction(0), bar.length, Value(1), whole=True, hidden=not rests)], True
    shift = bar.meter.bar - bar.length if bar.pick_up else Fraction(0)
    spans: list[Span] = []
    owners: list[_Chord | None] = []
    at = Fraction(0)
    for chord in chords:
        start = max(Fraction(0), chord.start - bar.start_quarter)
        end = min(bar.length, chord.end - bar.start_quarter)
        if start > at:
            spans.append(Span(at + shift, start + shift, rest=True))
            owners.append(None)
        spans.append(Span(start + shift, end + shift, rest=False))
        owners.append(chord)
        at = end
    if at < bar.length:
        spans.append(Span(at + shift, bar.length + shift, rest=True))
        owners.append(None)
    try:
        pieces, true = written(spans, bar.meter)
    except ValueError as error:
        raise BadInput(
            f"bar {bar.number}: {len(chords)} notes in {bar.length} quarter notes cannot be written",
            allowed="values down to a 128th, bars that end on one",
        ) from error
    groups = [piece.group for piece in pieces]
    pieces = [replace(piece, start=piece.start - shift, end=piece.end - shift) for piece in pieces]
    made = []
    for number, piece in enumerate(pieces):
        owner = owners[piece.source]
        before = number > 0 and groups[number - 1] == piece.group
        after = number + 1 < len(pieces) and groups[number + 1] == piece.group
        event = Event(
            f"{prefix}e{number + 1}",
            piece.start,
            piece.end,
            piece.value,
            hidden=owner is None and not rests,
            tuplet=piece.tuplet,
            begins=piece.tuplet is not None and not before,
            ends=piece.tuplet is not None and not after,
        )
        if owner is not None:
            event = replace(event, **_heads(owner, piece, pieces, number, bar))  # type: ignore[arg-type]
        made.append(event)
    return _beamed(made, bar, shift), true


def _heads(
    chord: _Chord, piece: Piece, pieces: Sequence[Piece], number: int, bar: Bar
) -> dict[str, tuple[Head, ...]]:
    begun_before = chord.start < bar.start_quarter
    first = not begun_before and (number == 0 or pieces[number - 1].source != piece.source)
    last_here = number + 1 == len(pieces) or pieces[number + 1].source != piece.source
    tied_on = not last_here or chord.end > bar.start_quarter + bar.length
    at = "" if first else f"_{bar.start_quarter + piece.start}".replace("/", "-")
    heads = tuple(Head(note, f"n{note.n}{at}", first, tied_on, not first) for note in chord.notes)
    graces = tuple(Head(note, f"n{note.n}", True, False, False) for note in chord.graces) if first else ()
    return {"heads": heads, "graces": graces}


# ----------------------------------------------------------------------------------- beams, accidentals


def _beamed(events: list[Event], bar: Bar, shift: Fraction) -> list[Event]:
    """Beam what is shorter than a quarter within each group of the bar, tuplets by themselves.

    In 2/4 and 4/4 the eighths of half a bar stand under one beam [common practice, no source].
    """
    points = bar.meter.groups
    halves = bar.meter.beat_type == 4 and bar.meter.beats % 2 == 0

    def group(event: Event) -> tuple[int, bool, int]:
        at = event.start + shift
        index = bisect_right(points, at) - 1
        if halves and index >= 0:
            pair = index - index % 2
            same = [e for e in events if pair <= bisect_right(points, e.start + shift) - 1 <= pair + 1]
            if all(e.value.base == 8 and e.value.dots == 0 and not e.tuplet for e in same):
                index = pair
        return index, event.tuplet is not None, 0

    made = list(events)
    run: list[int] = []

    def close() -> None:
        if len(run) > 1:
            for place, index in enumerate(run):
                word = "begin" if place == 0 else "end" if place == len(run) - 1 else "continue"
                made[index] = replace(made[index], beam=word)
        run.clear()

    last: tuple[int, bool, int] | None = None
    for index, event in enumerate(events):
        flagged = event.heads and event.value.base >= 8
        key = group(event)
        if run and (not flagged or key != last or event.begins):
            close()
        if flagged:
            run.append(index)
            last = key
        if event.ends:
            close()
    close()
    return made


def _with_accidentals(layers: list[Layer], fifths: int) -> tuple[Layer, ...]:
    """Give each head the sign that it needs: one holds for its line to the end of the bar, in all voices.

    A head tied back needs none. What the key says holds in every octave [common practice].
    """
    key = key_alters(fifths)
    held: dict[tuple[str, int], int] = {}
    tied: dict[tuple[str, int], int] = {}
    shown: dict[str, int | None] = {}
    order: list[tuple[Fraction, int, Head]] = []
    for rank, layer in enumerate(layers):
        for event in layer.events:
            order += [(event.start, rank * 2, head) for head in event.graces]
            order += [(event.start, rank * 2 + 1, head) for head in event.heads]
    for _, _, head in sorted(order, key=lambda item: item[:2]):
        pitch = head.note.pitch
        line = (pitch.step, pitch.octave)
        if head.tied_back:
            tied[line] = pitch.alter
            shown[head.ident] = None
            continue
        now = held.get(line, key[pitch.step])
        again = line not in held and tied.get(line, pitch.alter) != pitch.alter
        shown[head.ident] = pitch.alter if pitch.alter != now or again else None
        held[line] = pitch.alter
    return tuple(
        replace(
            layer,
            events=tuple(
                replace(
                    event,
                    heads=_signed(event.heads, shown),
                    graces=_signed(event.graces, shown),
                )
                for event in layer.events
            ),
        )
        for layer in layers
    )


def _signed(heads: Iterable[Head], shown: dict[str, int | None]) -> tuple[Head, ...]:
    return tuple(replace(head, shown=shown[head.ident]) for head in heads)


def key_alters(fifths: int) -> dict[str, int]:
    """What a key signature does to each step: 2 sharps raise F and C."""
    raised = _SHARPS[: max(0, fifths)]
    lowered = _SHARPS[::-1][: max(0, -fifths)]
    return {step: (step in raised) - (step in lowered) for step in _SHARPS}

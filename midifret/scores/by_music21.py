"""MusicXML, MEI, ABC and Humdrum kern read by music21; only the reading process imports this."""

import warnings as python_warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from music21 import (
    bar,
    chord,
    clef,
    converter,
    harmony,
    key,
    meter,
    note,
    spanner,
    stream,
    tempo,
)

from midifret.scores import abc, kern, mei, musicxml
from midifret.scores.faults import ScoreFault
from midifret.scores.jumps import ending_numbers
from midifret.scores.limits import MOST_BARS, MOST_PARTS
from midifret.scores.musicxml import NoteFacts, PartFacts, note_number
from midifret.scores.octave import is_guitar
from midifret.scores.position_words import position_words
from midifret.scores.tablature import with_tablature
from midifret.scores.together import together
from midifret.scores.written import (
    WrittenBar,
    WrittenKey,
    WrittenMark,
    WrittenMeter,
    WrittenNote,
    WrittenPart,
    WrittenScore,
    WrittenTempo,
)
from midifret.terms.score import Directions

_STEPS = "CDEFGAB"
_MOST_WARNINGS = 12
# Under a slur of more notes lies a phrase and no row of hammer-ons and pull-offs [ours].
_MOST_SLURRED = 6


def from_musicxml(root: Any) -> WrittenScore:
    """Read a MusicXML document."""
    prepared = musicxml.prepare(root)
    score, said = _parsed(prepared.text, "musicxml")
    said = [*prepared.warnings, *said]
    facts: dict[Any, NoteFacts] = dict(prepared.notes)
    parts: list[WrittenPart] = []
    streams = _parts(score)
    for own, staves in _by_part(prepared.parts, streams):
        read = [_part(staff, own, index, facts, said) for index, staff in enumerate(staves, start=1)]
        own_parts = with_tablature(read)
        if len(own_parts) > 1 and is_guitar(own.name):
            own_parts = _one_part(own_parts, f"the {len(own_parts)} staves of {own.name}", said)
        parts += own_parts
        if own.transpositions:
            _say(said, f"{own.name or 'a part'} changes its transposition: the first one holds for all of it")
    return _score("MusicXML", score, parts, said)


def _by_part(
    facts: list[PartFacts], streams: list[stream.Part]
) -> Iterable[tuple[PartFacts, list[stream.Part]]]:
    """Put the library's parts, one for each staff, beside those of the document."""
    rest = list(streams)
    for own in facts:
        count = 1
        while (
            count < len(rest) and isinstance(rest[0], stream.PartStaff) and _same_part(rest[0], rest[count])
        ):
            count += 1
        yield own, rest[:count]
        rest = rest[count:]


def _same_part(first: stream.Part, other: stream.Part) -> bool:
    head = str(first.id).rpartition("-Staff")[0]
    return bool(head) and str(other.id).rpartition("-Staff")[0] == head


def from_mei(root: Any) -> WrittenScore:
    """Read an MEI document."""
    prepared = mei.prepare(root)
    score, said = _parsed(prepared.text, "mei")
    said = [*prepared.warnings, *said]
    parts = []
    for index, staff in enumerate(_parts(score)):
        name = prepared.names[index] if index < len(prepared.names) else ""
        own = PartFacts(name, directions=prepared.directions, measures=prepared.measures)
        if index < len(prepared.transposed) and (moved := prepared.transposed[index]):
            own.diatonic[0], own.chromatic[0] = moved
        if index < len(prepared.tunings) and prepared.tunings[index]:
            own.tuning_midis[1] = prepared.tunings[index]
        part = _part(staff, own, 1, prepared.notes, said, slurs=_slurs([score]))
        marks = [mark for _, number, mark in prepared.marks if number in ("", str(index + 1))]
        for found in part.notes:
            if (mark := prepared.marks_at.get(found.ident)) is not None:
                marks.append(replace(mark, bar=found.bar, onset_quarter=found.onset_quarter))
        marks.sort(key=lambda mark: (mark.bar, mark.onset_quarter))
        parts.append(replace(part, marks=tuple(marks)))
    written = _score("MEI", score, parts, said)
    return replace(written, title=prepared.title, composer=prepared.composer)


def from_abc(text: str, tune: int | None) -> WrittenScore:
    """Read one tune of an ABC file."""
    all_tunes = abc.tunes(text)
    if tune is None and len(all_tunes) > 1:
        names = "; ".join(f"{n} {title}" for n, (title, _) in enumerate(all_tunes[:20], start=1))
        more = "; ..." if len(all_tunes) > 20 else ""
        raise ScoreFault(f"the file holds {len(all_tunes)} tunes", f"say which one: {names}{more}")
    if tune is not None and tune > len(all_tunes):
        raise ScoreFault(f"there is no tune {tune} in the file", f"1 to {len(all_tunes)}")
    chosen = all_tunes[(tune or 1) - 1][1]
    prepared = abc.prepare(chosen)
    score, said = _parsed(prepared.text, "abc")
    said = [*prepared.warnings, *said]
    parts = []
    voices = list(prepared.names)
    for index, voice_stream in enumerate(_parts(score)):
        voice = voices[index] if index < len(voices) else ""
        own = PartFacts(prepared.names.get(voice, ""))
        shift = prepared.chromatics.get(voice, prepared.chromatics.get(""))
        if shift is not None:
            own.chromatic[0], own.diatonic[0] = shift, round(7 * shift / 12)
        part = _part(voice_stream, own, 1, {}, said)
        named = prepared.clefs.get(voice, prepared.clefs.get(""))
        parts.append(replace(part, clefs=(named,) if named else ("treble",), clef_octave=0))
    for group in abc.on_one_staff(chosen, prepared):
        inside = [p for voice, p in zip(voices, parts, strict=False) if voice in group]
        if len(inside) == len(group) > 1:
            one = _one_part(inside, f"the voices {', '.join(group)}", said)
            if len(one) == 1:
                at = parts.index(inside[0])
                parts = [p for p in parts if p not in inside]
                parts.insert(at, one[0])
                voices = [v for v in voices if v not in group[1:]]
    return replace(_score("ABC", score, parts, said), title=prepared.title, composer=prepared.composer)


def from_kern(text: str) -> WrittenScore:
    """Read a Humdrum file with **kern spines."""
    kern.check_length(text)
    said: list[str] = []
    if any(line.startswith("*>[") for line in text.splitlines()):
        _say(said, "the order of sections (*>[...]) is not followed: each section is read once")
    score, more = _parsed(text, "humdrum")
    said += more
    parts = [_part(spine, PartFacts(""), 1, {}, said) for spine in _parts(score)]
    if len(parts) > 1 and kern.on_one_staff(text):
        parts = _one_part(parts, f"the {len(parts)} spines of one staff", said)
    return _score("Humdrum kern", score, parts, said)


def _one_part(parts: list[WrittenPart], what: str, said: list[str]) -> list[WrittenPart]:
    """Make one part of several of one staff or instrument, and say so; as they were where they do not fit."""
    try:
        joined = together(parts)
    except ValueError as error:
        _say(said, f"{what} stay apart: {error}")
        return parts
    _say(said, f"{what} are read as the voices of one part")
    return [joined]


def _say(said: list[str], text: str) -> None:
    if text not in said and len(said) < _MOST_WARNINGS:
        said.append(text)


def _parsed(text: str, kind: str) -> tuple[Any, list[str]]:
    """Let the library read a text; it writes no cache, as it is handed no file."""
    said: list[str] = []
    with python_warnings.catch_warnings(record=True) as caught:
        python_warnings.simplefilter("always")
        try:
            with _without_beams():
                score = converter.parseData(text, format=kind)
        except (MemoryError, RecursionError):
            raise
        except Exception as error:  # the library raises nearly everything on files it cannot read
            words = " ".join(str(error).split())[:300]
            name = {"musicxml": "MusicXML", "mei": "MEI", "abc": "ABC", "humdrum": "Humdrum"}[kind]
            raise ScoreFault(f"this {name} cannot be read ({type(error).__name__}: {words})") from None
    for warning in caught:
        _say(said, " ".join(str(warning.message).split())[:200])
    return score, said


@contextmanager
def _without_beams() -> Iterator[None]:
    """Keep the library from beaming an ABC tune: nothing needs it, and its time grows with the square."""
    beaming = stream.Stream.makeBeams
    stream.Stream.makeBeams = lambda self, **_: self  # type: ignore[method-assign]
    try:
        yield
    finally:
        stream.Stream.makeBeams = beaming  # type: ignore[method-assign]


def _parts(score: Any) -> list[Any]:
    parts = list(score.parts) if hasattr(score, "parts") else []
    if not parts and isinstance(score, stream.Part):
        parts = [score]
    if not parts:
        raise ScoreFault("there is no part in this score")
    if len(parts) > MOST_PARTS:
        raise ScoreFault(f"the score has {len(parts)} parts", f"at most {MOST_PARTS}")
    return parts


def _score(kind: str, score: Any, parts: list[WrittenPart], said: list[str]) -> WrittenScore:
    metadata = score.metadata
    title = (metadata.bestTitle or metadata.movementName or "") if metadata is not None else ""
    composer = (metadata.composer or "") if metadata is not None else ""
    shared = _shared_directions(parts)
    if shared is not None:
        parts = [_with_directions(part, shared) for part in parts]
    return WrittenScore(kind, _one_line(title), _one_line(composer), tuple(parts), tuple(said))


def _one_line(text: str) -> str:
    return " ".join(str(text).split())[:200]


def _shared_directions(parts: list[WrittenPart]) -> list[Directions] | None:
    """Join what the parts say about repeats: words like Da capo often stand over the top part alone."""
    if len({len(part.bars) for part in parts}) != 1:
        return None
    joined = []
    for bars in zip(*(part.bars for part in parts), strict=True):
        all_ = [b.directions for b in bars]
        joined.append(
            Directions(
                any(d.repeat_start for d in all_),
                max(d.repeat_end for d in all_),
                next((d.endings for d in all_ if d.endings), ()),
                any(d.segno for d in all_),
                any(d.coda for d in all_),
                any(d.fine for d in all_),
                next((d.jump for d in all_ if d.jump), ""),
            )
        )
    return joined


def _with_directions(part: WrittenPart, directions: list[Directions]) -> WrittenPart:
    bars = tuple(replace(b, directions=d) for b, d in zip(part.bars, directions, strict=True))
    return replace(part, bars=bars)


def _fraction(value: Any) -> Fraction:
    # The library keeps dyadic times as floats and all others as fractions with a small denominator.
    return Fraction(value).limit_denominator(65_536)


def _part(
    part: Any,
    own: PartFacts,
    staff: int,
    facts: dict[Any, NoteFacts],
    said: list[str],
    slurs: "tuple[set[int], set[int]] | None" = None,
) -> WrittenPart:
    measures = list(part.getElementsByClass(stream.Measure))
    if not measures and part.notesAndRests:
        part = part.makeMeasures()  # ABC without bar lines
        measures = list(part.getElementsByClass(stream.Measure))
    if not measures:
        raise ScoreFault(
            f"the part {own.name or part.partName or 'without a name'} has no bars", "notes in bars"
        )
    if len(measures) > MOST_BARS:
        raise ScoreFault(f"the score has more than {MOST_BARS:,} bars")
    onsets = [_fraction(measure.offset) for measure in measures]
    bars = _bars(part, measures, onsets, own)
    slurred = _slurs([part]) if slurs is None else slurs
    ordered: list[tuple[Any, int, Fraction, str]] = []
    unpitched = 0
    for index, measure in enumerate(measures):
        voices: list[Any] = list(measure.voices)
        for container in [measure, *voices]:
            name = str(container.id) if container in voices else ""
            shift = _fraction(container.offset) if container in voices else Fraction(0)
            for element in container.notes:
                if isinstance(element, harmony.Harmony):
                    continue
                if isinstance(element, note.Unpitched) or not element.pitches:
                    unpitched += 1
                    continue
                ordered.append((element, index, shift + _fraction(element.offset), name))
    notes = [
        written
        for element, index, onset, name in ordered
        for written in _notes(element, index, onset, name, facts, slurred)
    ]
    notes = _numbered_voices(notes)
    clefs = list(part.recurse().getElementsByClass(clef.Clef))
    tab = any(isinstance(c, clef.TabClef) for c in clefs)
    octaves = [c.octaveChange or 0 for c in clefs]
    return WrittenPart(
        name=_one_line(own.name or part.partName or ""),
        bars=bars,
        notes=tuple(notes),
        clefs=tuple(dict.fromkeys(_clef_name(c) for c in clefs)),
        clef_octave=0 if tab else next((o for o in octaves if o), 0),
        diatonic=own.diatonic.get(staff, own.diatonic.get(0)),
        chromatic=own.chromatic.get(staff, own.chromatic.get(0)),
        unpitched=unpitched,
        marks=_marks(part, measures),
        meters=_meters(measures),
        keys=_keys(measures),
        tempos=_tempos(measures),
        tuning_midis=own.tuning_midis.get(staff, next(iter(own.tuning_midis.values()), ())),
        capo=own.capo,
    )


def _clef_name(found: Any) -> str:
    if isinstance(found, clef.TabClef):
        return "TAB"
    if isinstance(found, clef.PercussionClef):
        return "percussion"
    octave = {-1: " 8 below", 1: " 8 above"}.get(found.octaveChange or 0, "")
    return f"{found.sign or '?'}{found.line or ''}{octave}"


def _bars(part: Any, measures: list[Any], onsets: list[Fraction], own: PartFacts) -> tuple[WrittenBar, ...]:
    bars = []
    theirs = own.directions if len(own.directions) == len(measures) else None
    numbers = own.measures if len(own.measures) == len(measures) else None
    endings = {} if theirs is not None else _endings(part)
    one_less = int(_counted_from_nought(measures))
    for index, measure in enumerate(measures):
        if index + 1 < len(measures):
            length = onsets[index + 1] - onsets[index]
        else:
            length = _fraction(measure.highestTime)
            if not length:
                length = _fraction(measure.barDuration.quarterLength)
        here = theirs[index] if theirs is not None else _directions(measure, endings.get(id(measure), ()))
        printed = numbers[index] if numbers is not None else ""
        counted = f"{measure.number + one_less}{measure.numberSuffix or ''}"
        bars.append(WrittenBar(printed or counted, onsets[index], length, here))
    return tuple(bars)


def _counted_from_nought(measures: list[Any]) -> bool:
    """Whether the library numbers a whole first bar 0, as it does in ABC where a repeat begins there."""
    if not measures or measures[0].number != 0:
        return False
    return _fraction(measures[0].highestTime) >= _fraction(measures[0].barDuration.quarterLength)


def _endings(part: Any) -> dict[int, tuple[int, ...]]:
    found = {}
    for bracket in part.recurse().getElementsByClass(spanner.RepeatBracket):
        numbers = tuple(bracket.numberRange) or ending_numbers(str(bracket.number))
        for measure in bracket.getSpannedElements():
            found[id(measure)] = numbers
    return found


def _directions(measure: Any, endings: tuple[int, ...]) -> Directions:
    left, right = measure.leftBarline, measure.rightBarline
    start = isinstance(left, bar.Repeat) and left.direction == "start"
    end = isinstance(right, bar.Repeat) and right.direction == "end"
    return Directions(start, min(right.times or 2, 16) if end else 0, endings)


def _notes(
    element: Any,
    index: int,
    onset: Fraction,
    voice: str,
    facts: dict[Any, NoteFacts],
    slurred: tuple[set[int], set[int]],
) -> list[WrittenNote]:
    notes = list(element.notes) if isinstance(element, chord.Chord) else [element]
    grace = bool(element.duration.isGrace)
    found = []
    for single in notes:
        color = single.style.color if single.hasStyleInformation else None
        own = facts.get(note_number(color)) or facts.get(str(single.id)) or NoteFacts(voice or "1", 1)
        tie = single.tie or element.tie
        step, alter, octave = _spelled(single.pitch)
        found.append(
            WrittenNote(
                bar=index,
                onset_quarter=onset,
                duration_quarter=Fraction(0) if grace else _fraction(element.duration.quarterLength),
                step=step,
                alter=alter,
                octave=octave,
                voice=_voice_number(voice or own.voice),
                tied_back=tie is not None and tie.type in ("stop", "continue"),
                tied_on=tie is not None and tie.type in ("start", "continue"),
                grace=grace,
                slurred=own.slurred or id(element) in slurred[0],
                harmonic=own.harmonic,
                harmonic_pitch=own.harmonic_pitch,
                finger=own.finger,
                string=own.string,
                fret=own.fret,
                ident=own.ident,
            )
        )
    return found


def _voice_number(name: str) -> int:
    digits = "".join(c for c in name if c.isdigit())
    return min(int(digits[:4]), 9999) if digits else 1


def _numbered_voices(notes: list[WrittenNote]) -> list[WrittenNote]:
    """Number voices from 1 within the part: a second staff's are often called 5 and 6, a spine's 0 and 1."""
    order = {voice: n for n, voice in enumerate(sorted({item.voice for item in notes}), start=1)}
    return [replace(item, voice=order[item.voice]) for item in notes]


def _spelled(pitch: Any) -> tuple[str, int, int]:
    alter = round(pitch.alter)
    octave = pitch.implicitOctave
    if abs(alter) > 2:
        plain = pitch.simplifyEnharmonic()
        return plain.step, round(plain.alter), plain.implicitOctave
    return pitch.step, alter, octave


def _slurs(streams: list[Any]) -> tuple[set[int], set[int]]:
    """Return the ids of what lies under a slur from the note before it, and of what begins one."""
    targets: set[int] = set()
    starts: set[int] = set()
    for part in streams:
        slurs = list(part.recurse().getElementsByClass(spanner.Slur))
        if not slurs:
            continue
        rows = _rows(part)
        place = {
            id(one): (row, n)
            for row, elements in rows.items()
            for n, element in enumerate(elements)
            for one in (element, *(element.notes if isinstance(element, chord.Chord) else ()))
        }
        for slur in slurs:
            first, last = place.get(id(slur.getFirst())), place.get(id(slur.getLast()))
            if first is None or last is None or first[0] != last[0]:
                continue
            if 1 <= last[1] - first[1] < _MOST_SLURRED:
                under = rows[first[0]][first[1] : last[1] + 1]
                starts.add(id(under[0]))
                targets |= {id(e) for before, e in pairwise(under) if _moves(before, e)}
    return targets, starts


def _rows(part: Any) -> dict[tuple[int, str], list[Any]]:
    """Return the notes of each voice in their order, rests with them."""
    rows: dict[tuple[int, str], list[Any]] = {}
    staves = list(part.parts) if isinstance(part, stream.Score) else [part]
    for number, staff in enumerate(staves):
        for measure in staff.getElementsByClass(stream.Measure):
            inner = list(measure.voices) or [measure]
            for container in inner:
                name = str(container.id) if measure.voices else "1"
                rows.setdefault((number, name), []).extend(
                    e for e in container.notesAndRests if not isinstance(e, harmony.Harmony)
                )
    return rows


def _moves(before: Any, element: Any) -> bool:
    """Whether a hammer-on or pull-off can lead from one to the other: other pitches, and no rest between."""
    return (
        bool(getattr(before, "pitches", ()))
        and bool(getattr(element, "pitches", ()))
        and ({p.midi for p in before.pitches} != {p.midi for p in element.pitches})
    )


def _marks(part: Any, measures: list[Any]) -> tuple[WrittenMark, ...]:
    marks = []
    lines = list(part.recurse().getElementsByClass(spanner.Line))
    for index, measure in enumerate(measures):
        for text in measure.recurse().getElementsByClass("TextExpression"):
            read = position_words(str(text.content))
            if read is None:
                continue
            onset = _fraction(text.getOffsetInHierarchy(measure))
            end_bar, end = _line_end(lines, part, measures, _fraction(measure.offset) + onset)
            marks.append(WrittenMark(index, onset, *read, end_bar, end))
    return tuple(marks)


def _line_end(
    lines: list[Any], part: Any, measures: list[Any], onset: Fraction
) -> tuple[int | None, Fraction | None]:
    """Return bar and onset at which the line ends that begins here, the last note under it included."""
    for line in lines:
        first, last = line.getFirst(), line.getLast()
        if first is None or last is None:
            continue
        if any(not list(end.containerHierarchy()) for end in (first, last)):
            continue  # a grace note, which the library puts another one in the place of
        if _fraction(first.getOffsetInHierarchy(part)) != onset:
            continue
        begins = _fraction(last.getOffsetInHierarchy(part))
        for index in reversed(range(len(measures))):
            if _fraction(measures[index].offset) <= begins:
                at = begins - _fraction(measures[index].offset)
                return index, at + _fraction(last.duration.quarterLength)
    return None, None


def _meters(measures: list[Any]) -> tuple[WrittenMeter, ...]:
    return tuple(
        WrittenMeter(index, _fraction(found.offset), int(found.numerator), int(found.denominator))
        for index, measure in enumerate(measures)
        for found in measure.getElementsByClass(meter.TimeSignature)
    )


def _keys(measures: list[Any]) -> tuple[WrittenKey, ...]:
    return tuple(
        WrittenKey(
            index,
            _fraction(found.offset),
            int(found.sharps or 0),
            found.mode if isinstance(found, key.Key) and found.mode in ("major", "minor") else "",
        )
        for index, measure in enumerate(measures)
        for found in measure.getElementsByClass(key.KeySignature)
    )


def _tempos(measures: list[Any]) -> tuple[WrittenTempo, ...]:
    found = []
    for index, measure in enumerate(measures):
        for mark in measure.recurse().getElementsByClass(tempo.MetronomeMark):
            if mark.number is None or mark.numberImplicit:
                continue
            bpm = mark.getQuarterBPM()
            if bpm is not None and 1 <= bpm <= 1000:
                found.append(WrittenTempo(index, _fraction(mark.getOffsetInHierarchy(measure)), float(bpm)))
    return tuple(found)

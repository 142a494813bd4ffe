"""A score, a position and a rule for open strings -> an exercise, one prompt for each note."""

from collections.abc import Mapping
from dataclasses import replace

from midifret.fingering.choices import OpenStrings
from midifret.neck import Neck, in_reach, pitch_name, roman
from midifret.neck.position import FRETS_OF_A_HAND, STRETCH_FRETS, last_position
from midifret.reading.bars import bars_of
from midifret.terms import BadInput, CueKind, Exercise, Judged, Place, Prompt, SpelledPitch, Tempo
from midifret.terms.score import Score, ScoreNote

DRILL_PREFIX = "read:"
OUT_OF_POSITION = "out of the position"
STAGE = "reading"
# What one reading may hold: beyond it a take and a screen would be read by nobody [ours].
MOST_NOTES = 20_000
_MOST_NAME = 60
_MOST_TOLD = 5
# Minutes at a stretch on one page [ours].
MINUTES = (2, 10)


def reading_exercise(
    score: Score,
    neck: Neck,
    position: int | None,
    *,
    open_strings: OpenStrings = OpenStrings.NEEDED,
    tempo: Tempo | None = None,
    fingered: Mapping[int, Place | None] | None = None,
) -> Exercise:
    """Return what is asked of somebody who reads a score in a position.

    position: the fret under the first finger, 0 the open position; None for the whole neck. fingered: the
    place of each note of a fingering, by its number; these alone are right, and shown. Notes that sound
    together at one pitch are one note. A harmonic is right on any string. A note that the position does not
    reach may be played at the frets nearest to it, and its prompt says so.
    Raises BadInput for a score without notes, with notes off the neck or none in reach, for a position that
    the neck has not, and for open strings ruled out in the open position.
    """
    if not score.notes:
        raise BadInput(f"{_named(score)} has no notes", allowed="a score with at least one note")
    if len(score.notes) > MOST_NOTES:
        raise BadInput(
            f"{_named(score)} has {len(score.notes):,} notes",
            allowed=f"up to {MOST_NOTES:,}; choose some bars of it",
        )
    if position is not None:
        _check_position(neck, position, open_strings)
    _check_on_neck(score, neck)
    read = one_of_each(score)
    given = _given_places(score, read, fingered)
    prompts = []
    reached = 0
    for note in read.notes:
        places, hint = _places(neck, None if note.harmonic else position, note.midi, open_strings)
        if note.n in given:
            places, hint = (given[note.n],), ""
        reached += not hint
        prompts.append(_prompt(note, places, hint, neck))
    if not reached:
        raise BadInput(
            f"none of the notes of {_named(score)} is in reach of {position_words(position)}",
            allowed="another position, or the music transposed",
        )
    judged = Judged.PLACE if given else Judged.PITCH if position is None else Judged.POSITION
    cue = (CueKind.STAFF, CueKind.PLACE) if given else (CueKind.STAFF,)
    by_fingering = "by the fingering shown" if given else f"in {position_words(position)}"
    return Exercise(
        name=reading_name(score, position, fingered=bool(given)),
        title=score.title or score.source or "Reading",
        stage=STAGE,
        trains=f"Reading {by_fingering}.",
        minutes=MINUTES,
        judged=judged,
        prompts=tuple(replace(prompt, judged=judged, cue=cue) for prompt in prompts),
        tempo=tempo,
        score=read,
        position=position,
        open_strings="" if position is None else open_strings.value,
    )


def one_of_each(score: Score) -> Score:
    """Return a score with each pitch once at each moment, the longest of them, numbered anew from 1."""
    kept: dict[tuple[object, int], ScoreNote] = {}
    for note in score.notes:
        key = (note.onset_quarter, note.midi)
        other = kept.get(key)
        if other is None or note.duration_quarter > other.duration_quarter:
            kept[key] = note
    notes = sorted(kept.values(), key=lambda note: (note.onset_quarter, note.midi))
    numbered = tuple(replace(note, n=n) for n, note in enumerate(notes, start=1))
    return replace(score, notes=numbered, bars=bars_of(score))


def reading_name(score: Score, position: int | None, *, fingered: bool = False) -> str:
    """The name by which the book and a take know a reading, for example `read:Minuet@V`."""
    title = " ".join((score.title or score.source or "untitled").replace("@", " ").split())[:_MOST_NAME]
    where = "fingered" if fingered else "anywhere" if position is None else position_name(position)
    return f"{DRILL_PREFIX}{title}@{where}"


def position_name(position: int) -> str:
    """A position in short: a numeral, or `open`."""
    return roman(position) or "open"


def position_words(position: int | None) -> str:
    """A position in words."""
    if position is None:
        return "any position"
    return "the open position" if position == 0 else f"position {roman(position)}"


def _prompt(note: ScoreNote, places: tuple[Place, ...], hint: str, neck: Neck) -> Prompt:
    return Prompt(
        n=note.n,
        cue=(CueKind.STAFF,),
        judged=Judged.POSITION,
        places=places,
        midis=tuple(neck.midi(place) for place in places),
        pitch=note.pitch,
        hint=hint,
    )


def _places(
    neck: Neck, position: int | None, midi: int, open_strings: OpenStrings
) -> tuple[tuple[Place, ...], str]:
    """Every place that is right for a pitch, the best first, and what is to be said of it."""
    everywhere = neck.places(midi)
    if position is None:
        return everywhere, ""
    reached = in_reach(neck, position, midi)
    places = tuple(item.place for item in reached)
    if open_strings is OpenStrings.NEVER:
        places = tuple(place for place in places if place.fret > 0)
    elif open_strings is OpenStrings.FREELY:
        places += tuple(place for place in everywhere if place.fret == 0 and place not in places)
    if places:
        return places, ""
    # By a shift: as near as the neck has it, an open string only where there is nothing else.
    top = position + FRETS_OF_A_HAND - 1 + STRETCH_FRETS
    stopped = [place for place in everywhere if place.fret > 0] or list(everywhere)

    def frets_off(place: Place) -> int:
        return max(position - place.fret, place.fret - top, 0)

    least = min(frets_off(place) for place in stopped)
    return tuple(place for place in stopped if frets_off(place) == least), OUT_OF_POSITION


def _given_places(
    score: Score, read: Score, fingered: Mapping[int, Place | None] | None
) -> Mapping[int, Place]:
    """The places of a fingering, by the number of the note that is read."""
    if fingered is None:
        return {}
    by_moment = {(note.onset_quarter, note.midi): fingered.get(note.n) for note in reversed(score.notes)}
    found = {note.n: by_moment[note.onset_quarter, note.midi] for note in read.notes}
    return {n: place for n, place in found.items() if place is not None}


def _check_position(neck: Neck, position: int, open_strings: OpenStrings) -> None:
    last = last_position(neck)
    if not 0 <= position <= last:
        raise BadInput(
            f"this neck has no position {position}: four fingers need frets {position} to "
            f"{position + FRETS_OF_A_HAND - 1}, and its last is {neck.last_fret}",
            allowed=f"0 (the open position) to {last}",
        )
    if position == 0 and open_strings is OpenStrings.NEVER:
        raise BadInput(
            "the open position cannot be read without open strings",
            allowed="--open needed or freely, or another position",
        )


def _check_on_neck(score: Score, neck: Neck) -> None:
    off = [note for note in score.notes if not neck.places(note.midi)]
    if not off:
        return
    lowest, highest = neck.compass
    told = ", ".join(f"{_octave_words(note.pitch)} in bar {note.bar or '?'}" for note in off[:_MOST_TOLD]) + (
        ", ..." if len(off) > _MOST_TOLD else ""
    )
    below, above = sum(n.midi < lowest for n in off), sum(n.midi > highest for n in off)
    sides = [f"{below} too low"] * bool(below) + [f"{above} too high"] * bool(above)
    raise BadInput(
        f"{len(off)} of {len(score.notes)} notes of {_named(score)} are not on this neck"
        f"{' (' + ', '.join(sides) + ')' if sides else ''}: {told}",
        allowed=f"notes that sound from MIDI {lowest} to {highest}; transpose the music",
    )


def _octave_words(pitch: SpelledPitch) -> str:
    return f"{pitch_name(pitch, signs=False)} (MIDI {pitch.midi})"


def _named(score: Score) -> str:
    return score.source or score.title or "the score"

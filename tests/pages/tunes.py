"""Small invented tunes, for the tests of pages."""

from fractions import Fraction

from midifret.neck import Neck, Tuning
from midifret.terms import Place, SpelledPitch
from midifret.terms.fingered import FingeredNote, FingeredScore
from midifret.terms.score import Barre, BarStart, KeyChange, MeterChange, Score, ScoreNote

STANDARD = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))


def pitch(name: str) -> SpelledPitch:
    """F#3 or Bb2, in sounding octaves."""
    return SpelledPitch(name[0], name.count("#") - name[1:].count("b"), int(name[-1]))


def note(
    n: int,
    onset: object,
    duration: object,
    name: str,
    *,
    voice: int = 1,
    bar: str = "",
    slurred: bool = False,
) -> ScoreNote:
    written = pitch(name)
    start, length = Fraction(str(onset)), Fraction(str(duration))
    return ScoreNote(n, start, length, written.midi, written, voice=voice, bar=bar, slurred=slurred)


def line(names: str, *, meter: tuple[int, int] = (4, 4), fifths: int = 0, pick_up: int = 0) -> Score:
    """A melody from words such as `E4:1/2 r:1 C4`, quarters where nothing is said; onsets follow on."""
    at, notes, length = Fraction(0), [], Fraction(1)
    for word in names.split():
        name, _, duration = word.partition(":")
        length = Fraction(duration or 1)
        if name != "r":
            notes.append(note(len(notes) + 1, at, length, name))
        at += length
    bar = Fraction(4 * meter[0], meter[1])
    starts = []
    begin, number = Fraction(0), 0 if pick_up else 1
    while begin < at:
        starts.append(BarStart(begin, str(number)))
        begin += pick_up if number == 0 else bar
        number += 1
    return Score(
        "A short tune",
        "Nobody",
        "tune.musicxml",
        tuple(notes),
        meters=(MeterChange(Fraction(0), *meter),),
        keys=(KeyChange(Fraction(0), fifths),),
        bars=tuple(starts),
    )


def two_voices() -> Score:
    """Eight bars: a melody over held basses, with a tie over a bar line, a chord and a slur."""
    notes: list[tuple[Fraction, Fraction, str, int, bool]] = []
    bass = ["A2", "D3", "E2", "A2", "F2", "C3", "E2", "A2"]
    tune = [
        "A3 C4 E4 C4", "F4 E4 D4 F4", "E4 D4 B3 G#3", "A3 C4 B3 A3",
        "C4 F4 E4 D4", "E4 G4 E4 C4", "B3 D4 G#3 B3",
    ]  # fmt: skip
    for index, (low, high) in enumerate(zip(bass, [*tune, "A3"], strict=True)):
        begin = Fraction(4 * index)
        notes.append((begin, Fraction(4 if index % 2 else 2), low, 2, False))
        if index % 2 == 0:
            notes.append((begin + 2, Fraction(2), low, 2, False))
        names = high.split()
        if index == 7:
            notes += [(begin, Fraction(4), name, 1, False) for name in ("A3", "C4", "E4")]
            continue
        for step, name in enumerate(names):
            length = Fraction(3, 2) if index == 3 and step == 3 else Fraction(1)
            if index == 4 and step == 0:
                notes.append((begin + Fraction(1, 2), Fraction(1, 2), name, 1, False))
                continue
            notes.append((begin + step, length, name, 1, index == 1 and step == 1))
    notes.sort(key=lambda item: (item[0], pitch(item[2]).midi))
    made = tuple(
        note(n, onset, length, name, voice=voice, slurred=slurred, bar=str(int(onset // 4) + 1))
        for n, (onset, length, name, voice, slurred) in enumerate(notes, 1)
    )
    return Score("Two voices", "Nobody", "two.musicxml", made, meters=(MeterChange(Fraction(0), 4, 4),))


def fingered(score: Score, position: int, neck: Neck = STANDARD) -> FingeredScore:
    """A plain fingering, not a good one: under a hand in the position, else open, else the lowest fret."""
    notes = []
    for each in score.notes:
        places = sorted(neck.places(each.midi), key=lambda place: (_far(place, position), place.fret))
        place = places[0]
        finger = 0 if place.fret == 0 else min(4, max(1, place.fret - position + 1))
        at = None if place.fret == 0 else position
        barre = None
        if finger == 1 and each.onset_quarter % 16 >= 12 and position:
            barre = Barre.FULL if each.onset_quarter < 20 else Barre.PARTIAL
        notes.append(FingeredNote(each.n, place, finger, at, barre=barre))
    return FingeredScore(tuple(notes), 0, sum(note.finger == 0 for note in notes), 0.0)


def moving(score: Score, positions: dict[int, int], neck: Neck = STANDARD) -> FingeredScore:
    """The same with a change of position: from note n on in the position that stands beside n."""
    parts: dict[int, FingeredScore] = {p: fingered(score, p, neck) for p in positions.values()}
    notes, now = [], 1
    for index, each in enumerate(score.notes):
        now = positions.get(each.n, now)
        notes.append(parts[now].notes[index])
    return FingeredScore(tuple(notes), len(positions) - 1, 0, 0.0)


def _far(place: Place, position: int) -> int:
    if position <= place.fret <= position + 4:
        return 0
    return 1 if place.fret == 0 else 2

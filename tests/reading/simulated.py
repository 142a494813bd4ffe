"""Invented scores, and people who play them with faults, so that it is known what each note stood for."""

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from midifret.neck import Neck, Tuning, spell
from midifret.reading.alignment import Aligned
from midifret.reading.build import reading_exercise
from midifret.terms import Exercise, Note, Place
from midifret.terms.score import BarStart, MeterChange, Score, ScoreNote

# Open strings of the standard tuning, music21 `instrument.Guitar().stringPitches` [ran].
NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
C_MAJOR = (0, 2, 4, 5, 7, 9, 11)


def score_of(*bars: str, beats: int = 4, title: str = "Invented") -> Score:
    """Make a score of quarter notes: `"60 62 64 65"` is a bar, `"60+64"` a chord, `-` a rest.

    Bars are as long as they have quarters, so that shorter ones may stand anywhere.
    """
    notes: list[ScoreNote] = []
    starts: list[BarStart] = []
    onset = Fraction(0)
    for number, bar in enumerate(bars, start=1):
        starts.append(BarStart(onset, str(number)))
        for slot in bar.split():
            for midi in sorted(map(int, slot.split("+"))) if slot != "-" else ():
                notes.append(
                    ScoreNote(len(notes) + 1, onset, Fraction(1), midi, spell(midi)[0], bar=str(number))
                )
            onset += 1
    meter = (MeterChange(Fraction(0), beats, 4),)
    return Score(title, "", "invented", tuple(notes), meters=meter, bars=tuple(starts))


def melody(length: int, seed: int, *, chords: float = 0.0, low: int = 45, high: int = 76) -> Score:
    """Draw a tune of quarters and eighths in C, mostly by step, some onsets chords of two to four."""
    draw = random.Random(seed)
    scale = [midi for midi in range(low, high + 1) if midi % 12 in C_MAJOR]
    at = draw.randrange(5, len(scale) - 5)
    notes: list[ScoreNote] = []
    starts: list[BarStart] = []
    onset = Fraction(0)
    for number in range(length):
        if onset >= 4 * len(starts):
            starts.append(BarStart(Fraction(4 * len(starts)), str(len(starts) + 1)))
        lasts = Fraction(1, 2) if draw.random() < 0.5 else Fraction(1)
        midis = {scale[at]}
        if draw.random() < chords:
            midis |= {midi for midi in (scale[at] - 12, scale[at] - 8, scale[at] - 5) if midi >= low}
            midis = set(sorted(midis)[-draw.randint(2, 4) :])
        for midi in sorted(midis):
            notes.append(ScoreNote(len(notes) + 1, onset, lasts, midi, spell(midi)[0], bar=str(len(starts))))
        onset += lasts
        steps = draw.choice((-1, 1, -1, 1, -2, 2, 0, -3, 4, 3, -4))
        at = min(max(at + steps, 0), len(scale) - 1)
        if number == length - 1:
            break
    return Score(f"Tune {seed}", "", "invented", tuple(notes), bars=tuple(starts))


def reading(score: Score, position: int = 5) -> Exercise:
    return reading_exercise(score, NECK, position)


@dataclass(frozen=True)
class Faults:
    """How often each fault is made, as a share of the events."""

    wrong: float = 0.0
    corrected: float = 0.0  # wrong, then right
    extra: float = 0.0
    missed: float = 0.0
    repeated: float = 0.0
    restarts: float = 0.0  # from the beginning of a bar up to three bars back
    mid_bar_restarts: float = 0.0  # two to six events back
    skips: float = 0.0  # two bars ahead


@dataclass(frozen=True)
class Played:
    """A note and what it stood for: the number of the prompt, 0 for none. kind: of what fault it is part."""

    note: Note
    n: int
    kind: str


def perform(exercise: Exercise, faults: Faults, seed: int, *, quarter_s: float = 0.5) -> list[Played]:
    """Play a reading with faults; the order within a chord is drawn too."""
    draw = random.Random(seed)
    score = exercise.score
    assert score is not None
    groups: dict[Fraction, list[int]] = {}
    for note in score.notes:
        groups.setdefault(note.onset_quarter, []).append(note.n)
    onsets = list(groups)
    bar_of = [max(i for i, bar in enumerate(score.bars) if bar.onset_quarter <= onset) for onset in onsets]
    played: list[Played] = []
    time_s = 1.0

    def pluck(midi: int, n: int, kind: str, after_s: float = 0.0) -> None:
        places = NECK.places(midi)
        if n:
            prompt = exercise.prompts[n - 1]
            places = prompt.places if prompt.midi == midi else places
        place = places[0] if places else Place(1, 0)
        number = len(played) + 1
        note = Note(number, time_s + after_s, place.string, place.fret, midi, 80, place.string - 1)
        played.append(Played(note, n, kind))

    at = 0
    restarted = 0
    while at < len(onsets):
        ns = list(groups[onsets[at]])
        draw.shuffle(ns)
        lasts = (onsets[at + 1] - onsets[at] if at + 1 < len(onsets) else Fraction(1)) * Fraction(1)
        midis = {n: score.notes[n - 1].midi for n in ns}
        fault = draw.random()
        kind = "right"

        def comes(share: float) -> bool:
            nonlocal fault
            fault -= share
            return -share <= fault < 0

        wrong_by = draw.choice((-12, -5, -2, -1, 1, 2, 5, 12))
        if comes(faults.wrong):
            wrong = draw.choice(ns)
            midis[wrong] = min(max(midis[wrong] + wrong_by, 40), 83)
            kind = "wrong"
        elif comes(faults.corrected):
            pluck(min(max(midis[ns[0]] + wrong_by, 40), 83), 0, "corrected")
            time_s += 0.6
        elif comes(faults.extra):
            pluck(draw.randrange(45, 76), 0, "extra")
            time_s += 0.2
        elif comes(faults.missed):
            ns.remove(draw.choice(ns))
            kind = "beside a missed one"
        elif comes(faults.repeated) and played:
            pluck(played[-1].note.midi, 0, "repeated")
            time_s += 0.4
        elif comes(faults.restarts) and restarted < 40 and bar_of[at] > 0:
            bar = max(0, bar_of[at] - draw.randint(0, 3))
            if bar_of.index(bar) < at:
                at, time_s, restarted = bar_of.index(bar), time_s + draw.choice((0.3, 1.5)), restarted + 1
                ns, kind = list(groups[onsets[at]]), "restart"
                midis = {n: score.notes[n - 1].midi for n in ns}
        elif comes(faults.mid_bar_restarts) and restarted < 40 and at > 6:
            at, time_s, restarted = at - draw.randint(2, 6), time_s + draw.choice((0.3, 1.5)), restarted + 1
            ns, kind = list(groups[onsets[at]]), "restart within a bar"
            midis = {n: score.notes[n - 1].midi for n in ns}
        elif comes(faults.skips) and bar_of[at] + 2 in bar_of:
            at = bar_of.index(bar_of[at] + 2)
            ns, kind = list(groups[onsets[at]]), "two bars left out"
            midis = {n: score.notes[n - 1].midi for n in ns}
        for order, n in enumerate(ns):
            pluck(
                midis[n],
                n,
                kind if kind != "wrong" or midis[n] != score.notes[n - 1].midi else "right",
                0.015 * order,
            )
        time_s += float(lasts) * quarter_s * draw.uniform(0.8, 1.25) + 0.015 * len(ns)
        at += 1
    return played


def shares(
    played: Sequence[Played], found: Sequence[Aligned], score: Score, *, settle: int = 0
) -> tuple[Counter[str], Counter[str]]:
    """Count, by kind of fault, the notes that were put where they belong, and all of them.

    A note counts as put right too where what it is taken for cannot be told from the truth: the same pitch
    struck twice in a row may be either of the two.
    """
    right: Counter[str] = Counter()
    total: Counter[str] = Counter()
    by_id = {item.note.id: item for item in found}
    for item in played:
        total[item.kind] += 1
        right[item.kind] += by_id[item.note.id].n == item.n
    return right, total

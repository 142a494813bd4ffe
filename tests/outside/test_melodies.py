"""Real music on a faulty guitar and back: tunes of music21's corpus, placed on the neck by mingus.

The tunes are reels, folk songs and chorale melodies that come with music21; which string and fret each note
is played on is chosen among the places that mingus finds, by a hand that stays where it is as long as it can.
Our own neck has no say in it. Then the converter tells what was played, and every note has to come back.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import music21
import pytest
from mingus.containers import Note as MingusNote
from mingus.extra import tunings as mingus_tunings
from music21.tablature import FretNote, GuitarFretBoard

from midifret.gear.load import shipped_guitar
from midifret.hear import Decoder, decode
from midifret.terms import Place, Wiring
from midifret.wire.converter import Converter
from midifret.wire.scenarios import named_scenario
from midifret.wire.strokes import Played, Struck

MINGUS_OCTAVE = 12  # int(mingus Note) is the MIDI number less 12 [ran]
LAST_FRET = 19  # of the guitar that comes with the program
LOWEST, HIGHEST = 40, 83  # E2 to B5 on it, frets 0 to 19 [calc]
QUARTER_S = 0.5  # 120 quarter notes a minute [ours]
# The shortest note of a tune sets its tempo: nobody repeats a note faster than 14 times a second [common
# practice, no source].
SHORTEST_S = 0.08
# However short a player makes the notes, they last so long: what lasts under about 50 ms is what converters
# make up (support notes of converters, from memory), and a step of a slide does not stay 60 ms.
LEAST_SOUNDING_S = 0.060
LOUDNESS = (45, 110)  # plucks of ordinary strength [common practice, no source]
# A note heard belongs to one played if it begins between the pluck and this after the converter told it: half
# the time between the fastest repeats. A neighbour may make a string speak a little before its pluck.
BEFORE_S, AFTER_S = 0.010, 0.035


@dataclass(frozen=True, slots=True)
class Tune:
    """Notes as (seconds from the start, duration, MIDI number)."""

    name: str
    notes: tuple[tuple[float, float, int], ...]


def _tune(name: str, score: music21.stream.Stream, transposed: int = 0) -> Tune | None:
    line = score.flatten().stripTies()
    found = [
        (float(n.offset), float(n.quarterLength), n.pitch.midi + transposed)
        for n in line.notes
        if isinstance(n, music21.note.Note) and n.quarterLength > 0  # grace notes have none
    ]
    if len(found) < 8:
        return None
    lowest, highest = min(n[2] for n in found), max(n[2] for n in found)
    octaves = [o for o in (0, -12, 12, -24, 24) if lowest + o >= LOWEST and highest + o <= HIGHEST]
    apart = [b[0] - a[0] for a, b in pairwise(found)]
    if not octaves or min(apart) <= 0:  # chords, or notes that a program wrote on top of each other
        return None
    quarter_s = max(QUARTER_S, SHORTEST_S / min(apart))
    start = found[0][0]
    notes = tuple(((at - start) * quarter_s, long * quarter_s, midi + octaves[0]) for at, long, midi in found)
    return Tune(name, notes)


def _scores() -> Iterator[tuple[str, music21.stream.Stream]]:
    """Single lines of the corpus; files are read as they are, and nothing is kept on the disk."""

    def read(path: Path) -> music21.stream.Stream:
        return music21.converter.parse(path, forceSource=True, storePickle=False)

    essen = {path.name: path for path in music21.corpus.getComposer("essenFolksong")}
    for name in ("irl.abc", "ballad10.abc", "folkHaydn.abc"):
        for number, score in enumerate(read(essen[name]).scores):
            yield f"{name} {number}", score
    for path in sorted(music21.corpus.getComposer("ryansMammoth"))[::20]:
        yield path.name, read(path)
    for number in ("bwv66.6", "bwv269", "bwv277", "bwv281", "bwv295"):
        path = next(p for p in music21.corpus.getComposer("bach") if p.name.startswith(f"{number}."))
        for part in read(path).parts:
            yield f"{number} {part.id}", part


@cache
def tunes() -> tuple[Tune, ...]:
    found = [_tune(name, score) for name, score in _scores()]
    return tuple(tune for tune in found if tune is not None)


@cache
def mingus_places(midi: int) -> tuple[Place, ...]:
    """Every place of a pitch as mingus finds it: its list has the low string first."""
    frets = mingus_tunings.get_tuning("Guitar", "standard").find_frets(
        MingusNote().from_int(midi - MINGUS_OCTAVE), LAST_FRET
    )
    strings = len(frets)
    return tuple(Place(strings - i, fret) for i, fret in enumerate(frets) if fret is not None)


def place_tune(tune: Tune, draw: random.Random) -> list[Place]:
    """Choose places near to where the hand is; it begins anywhere and moves when it has to, or at a whim."""
    hand = draw.randint(0, 14)
    chosen: list[Place] = []
    for _, _, midi in tune.notes:
        if draw.random() < 0.05:
            hand = draw.randint(0, 14)
        place = min(mingus_places(midi), key=lambda p: (abs(p.fret - hand - 1), p.string))
        if place.fret and not hand <= place.fret <= hand + 4:
            hand = max(0, place.fret - 1)
        chosen.append(place)
    return chosen


@dataclass(slots=True)
class Figures:
    """What became of all notes. wrong: the first few that did not come back."""

    meant: int = 0
    string_wrong: int = 0
    fret_wrong: int = 0
    missed: int = 0
    false: int = 0
    voided: int = 0
    wrong: list[str] = field(default_factory=list)


def play(tune: Tune, scenario: str, seed: int, figures: Figures) -> None:
    draw = random.Random(f"{seed}:{tune.name}")
    guitar = shipped_guitar()
    converter = Converter(guitar, named_scenario(scenario), seed)
    for (onset_s, long_s, _), place in zip(tune.notes, place_tune(tune, draw), strict=True):
        sounds_s = max(long_s * draw.choice((0.5, 0.8, 0.95, 1.0)), min(long_s, LEAST_SOUNDING_S))
        until_s = 1.0 + onset_s + sounds_s
        converter.stroke(Struck(1.0 + onset_s, place, draw.randint(*LOUDNESS), until_s))
    messages = converter.due(tune.notes[-1][0] + tune.notes[-1][1] + 10.0)
    decoded = decode(messages, Decoder(guitar.neck, _set_up(guitar.wiring, scenario)))
    heard = [item.note for item in decoded.notes]
    figures.voided += len(decoded.voided)
    for meant in converter.played:
        figures.meant += 1
        inside = [note for note in heard if _belongs(note.onset_s, meant)]
        best = min(
            inside, key=lambda note: (note.place != meant.place, note.midi != meant.midi), default=None
        )
        if best is None:
            figures.missed += 1
            figures.wrong.append(f"{tune.name}, seed {seed}: {meant} was missed")
            continue
        heard.remove(best)
        if best.string != meant.place.string:
            figures.string_wrong += 1
        elif best.fret != meant.place.fret:
            figures.fret_wrong += 1
        else:
            continue
        figures.wrong.append(f"{tune.name}, seed {seed}: {meant} came back as {best}")
    figures.false += len(heard)
    figures.wrong += [f"{tune.name}, seed {seed}: nobody played {note}" for note in heard]


# What `midifret setup` derives on the poor converter (tests/bench/hearing.py, measured_thresholds): a guitar
# with faults as loud as these has to be set up; the others do with what is shipped.
POOR_SOFT_VELOCITY = 48


def _set_up(wiring: Wiring, scenario: str) -> Wiring:
    if scenario != "poor":
        return wiring
    return replace(wiring, thresholds=replace(wiring.thresholds, soft_velocity=POOR_SOFT_VELOCITY))


def _belongs(onset_s: float, meant: Played) -> bool:
    return meant.onset_s - BEFORE_S <= onset_s <= max(meant.sent_s, meant.onset_s) + AFTER_S


def played(scenario: str) -> Figures:
    figures = Figures()
    for seed, tune in enumerate(tunes()):
        play(tune, scenario, seed, figures)
    print(f"{scenario}: {figures.meant} notes of {len(tunes())} tunes, voided {figures.voided}, ", end="")
    print(f"string wrong {figures.string_wrong}, fret wrong {figures.fret_wrong}, ", end="")
    print(f"missed {figures.missed}, false {figures.false}")
    print("\n".join(figures.wrong[:20]))
    return figures


def test_there_are_tunes_enough_all_over_the_neck() -> None:
    assert len(tunes()) >= 200
    places = {
        p for n, tune in enumerate(tunes()) for p in place_tune(tune, random.Random(f"{n}:{tune.name}"))
    }
    assert {place.string for place in places} == {1, 2, 3, 4, 5, 6}
    assert {place.fret for place in places} >= set(range(16))


def test_mingus_and_music21_agree_on_the_places() -> None:
    """So that the truth of this file does not hang on one library."""
    for midi in range(LOWEST, HIGHEST + 1):
        for place in mingus_places(midi):
            [pitch] = GuitarFretBoard(
                fretNotes=[FretNote(string=place.string, fret=place.fret)]
            ).getPitches()[6 - place.string : 7 - place.string]
            assert pitch.midi == midi


def test_a_clean_converter_brings_every_note_back() -> None:
    figures = played("clean")
    assert figures.wrong == []


# Of all notes, in percent: the goals of the project for each kind of converter. That no string is wrong is a
# goal for an ordinary one alone; a missed note beside which another string spoke counts as a wrong string.
@pytest.mark.parametrize(
    ("scenario", "string", "fret", "false_or_missed"),
    [
        ("ordinary", 0.0, 0.05, 0.1),
        ("poor", 0.5, 0.5, 0.5),
    ],
)
def test_goals_with_faults(scenario: str, string: float, fret: float, false_or_missed: float) -> None:
    figures = played(scenario)
    assert figures.voided > 100  # there were faults
    assert 100 * figures.string_wrong / figures.meant <= string
    assert 100 * figures.fret_wrong / figures.meant <= fret
    assert 100 * figures.missed / figures.meant <= false_or_missed
    assert 100 * figures.false / figures.meant <= false_or_missed

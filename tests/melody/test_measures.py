"""How hard music is, and where it lies: measured on music written by hand."""

from dataclasses import replace
from fractions import Fraction

import pytest

from midifret.melody import fits, hardness, measure
from midifret.melody.level import parse_cell, parse_meter
from midifret.melody.measures import Rhythm, note_rhythms
from midifret.terms import SpelledPitch
from midifret.terms.score import BarStart, KeyChange, MeterChange, Score, ScoreNote
from tests.melody.making import NECK, levels

F = Fraction
QUARTER = F(1)


def tune(names: str, length: Fraction = QUARTER, fifths: int = 0, mode: str = "") -> Score:
    """Notes of one length, named with sounding octaves: `C4 F#4`."""
    notes = []
    for n, name in enumerate(names.split(), start=1):
        alter = name.count("#") - name.count("b")
        pitch = SpelledPitch(name[0], alter, int(name[-1]))
        notes.append(ScoreNote(n, (n - 1) * length, length, pitch.midi, pitch, bar="1"))
    zero = F(0)
    return Score(
        "", "", "", tuple(notes), meters=(MeterChange(zero, 4, 4),), keys=(KeyChange(zero, fifths, mode),)
    )


def test_five_notes_by_step_are_of_the_first_level() -> None:
    found = hardness(measure(tune("C4 D4 E4 D4 C4")), levels())
    assert (found.level, found.beyond, found.because) == (1, False, ())


@pytest.mark.parametrize(
    ("score", "level", "because"),
    [
        (tune("C4 E4 G4 E4 C4 A3 C4"), 3, "a range of 10 semitones"),
        (tune("C4 F4 E4 D4 C4"), 3, "leaps of a fourth"),
        (tune("C4 D4 E4 D4 C4", F(1, 2)), 3, "eighths"),
        (tune("A3 B3 C4 B3 A3", mode="minor"), 3, "a minor key"),
        (tune("A3 B3 C4 B3 A3"), 3, "a minor key"),  # by its last note
        (tune("C4 D4 E4 D4 C4", F(1, 4)), 6, "sixteenths"),
        (tune("C4 C#4 D4 D4 E4 D4 C4 D4 E4 D4 C4 D4 C4", mode="major"), 6, "8% of the notes outside the key"),
        (tune("C4 D4 E4 D4 C4 B3", F(1, 3)), 7, "triplets"),
        (tune("Eb4 F4 G4 F4 Eb4", fifths=-3), 4, "a key of 3 signs"),
    ],
)
def test_what_asks_for_a_level_is_named(score: Score, level: int, because: str) -> None:
    found = hardness(measure(score), levels())
    assert found.level == level, found.because
    assert because in found.because


def test_several_notes_at_once_are_above_all_levels() -> None:
    score = tune("C4 D4 E4")
    chord = replace(score.notes[0], n=4, midi=64, pitch=SpelledPitch("E", 0, 4))
    found = hardness(measure(replace(score, notes=(*score.notes, chord))), levels())
    assert found.beyond
    assert found.level == len(levels()) + 1
    assert "several notes at once" in found.because


def test_one_rare_leap_in_a_long_piece_does_not_make_it_hard() -> None:
    names = "C4 D4 E4 D4 " * 30 + "C4 F4 E4 D4 C4"
    assert hardness(measure(tune(names)), levels()).level == 1


@pytest.mark.parametrize(
    ("at", "length", "beat", "found"),
    [
        (F(0), F(1), F(1), set()),
        (F(1), F(2), F(1), set()),
        (F(1, 2), F(1), F(1), {Rhythm.SYNCOPATED}),
        (F(0), F(3, 2), F(1), {Rhythm.DOTTED}),
        (F(0), F(3, 4), F(1), {Rhythm.DOTTED_EIGHTHS}),
        (F(3, 4), F(1, 4), F(1), {Rhythm.SIXTEENTHS}),
        (F(1, 3), F(1, 3), F(1), {Rhythm.TRIPLETS}),
        (F(0), F(1, 8), F(1), {Rhythm.OTHER}),
        (F(0), F(3, 2), F(3, 2), {Rhythm.COMPOUND}),
    ],
)
def test_rhythms_are_told_apart(at: Fraction, length: Fraction, beat: Fraction, found: set[Rhythm]) -> None:
    assert note_rhythms(at, length, beat) == found


def test_bars_are_counted_from_where_they_begin() -> None:
    """After a pick-up of half a beat a quarter on the first beat is no syncopation."""
    score = tune("C4 D4 E4 F4")
    notes = tuple(replace(note, onset_quarter=note.onset_quarter + F(1, 2)) for note in score.notes)
    bars = (BarStart(F(0), "0"), BarStart(F(1, 2), "1"))
    assert measure(replace(score, notes=notes, bars=bars)).rhythms == {}
    assert Rhythm.SYNCOPATED in measure(replace(score, notes=notes)).rhythms


def test_where_music_lies_is_found_on_the_neck() -> None:
    # Open strings 64 59 55 50 45 40, frets n to n+4 (facts; design: reach of a position).
    table = [range(o, o + 20) for o in (64, 59, 55, 50, 45, 40)]
    midis = {57: 3, 60: 2, 64: 5}
    found = {fit.position: fit for fit in fits(midis, NECK)}
    for position in range(20):
        frets = range(position, min(position + 5, 20))
        out = sum(
            count
            for midi, count in midis.items()
            if not any(row[f] == midi for row in table for f in frets) and midi not in {r[0] for r in table}
        )
        assert (position in found) == (out <= 0.05 * 10)


def test_one_note_in_twenty_may_be_out_of_reach() -> None:
    assert {fit.position: fit.out for fit in fits({64: 19, 41: 1}, NECK)}.get(5) == 1
    assert 5 not in {fit.position for fit in fits({64: 18, 41: 2}, NECK)}


@pytest.mark.parametrize("text", ["", "x", "r1", "0", "1/5", "1/0", "5", "2 3", "1//2", "-1"])
def test_groups_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="write"):
        parse_cell(text)


def test_groups_and_meters_are_read() -> None:
    assert parse_cell("r1/2 1/4 1/4") == (F(-1, 2), F(1, 4), F(1, 4))
    assert parse_meter(" 6/8") == (6, 8)
    with pytest.raises(ValueError, match="2/4, 3/4, 4/4, 6/8"):
        parse_meter("7/8")

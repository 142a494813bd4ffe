"""Scores laid out in bars: every note once, ties, signs, voices, pick-ups."""

from dataclasses import replace
from fractions import Fraction

import pytest
from music21 import key as m21_key
from music21 import note as m21_note
from music21 import stream as m21_stream

from midifret.pages.bars import MOST_NOTES, Laid, heads_of, key_alters, lay_out
from midifret.terms import BadInput
from midifret.terms.score import MeterChange, Score
from tests.pages.tunes import line, note, two_voices


def all_heads(laid: Laid):  # type: ignore[no-untyped-def]
    return [head for bar in laid.bars for _, head in heads_of(bar)]


@pytest.mark.parametrize("score", [two_voices(), line("E4:1/3 F4:1/3 G4:1/3 A4:6 B4:1/2 C5:1/2 r:2 E4")])
def test_every_note_is_struck_once_and_lasts_as_long_as_it_does(score: Score) -> None:
    laid = lay_out(score)
    heads = all_heads(laid)
    assert sorted(head.note.n for head in heads if head.first) == [note.n for note in score.notes]
    assert len({head.ident for head in heads}) == len(heads)
    drawn: dict[int, Fraction] = {}
    for bar in laid.bars:
        for event, head in heads_of(bar):
            drawn[head.note.n] = drawn.get(head.note.n, Fraction(0)) + event.end - event.start
    assert drawn == {note.n: note.duration_quarter for note in score.notes}
    for n, idents in laid.heads.items():
        mine = [head for head in heads if head.note.n == n]
        assert [head.ident for head in mine] == list(idents)
        assert [head.tied_back for head in mine] == [False] + [True] * (len(mine) - 1)
        assert [head.tied_on for head in mine] == [True] * (len(mine) - 1) + [False]


def test_layers_fill_their_bars() -> None:
    for bar in lay_out(two_voices()).bars:
        for layer in bar.layers:
            assert layer.events[0].start == 0
            assert layer.events[-1].end == bar.length
            assert all(a.end == b.start for a, b in zip(layer.events, layer.events[1:], strict=False))


@pytest.mark.parametrize("fifths", range(-7, 8))
def test_keys_are_those_of_an_independent_library(fifths: int) -> None:
    altered = {p.step: int(p.alter) for p in m21_key.KeySignature(fifths).alteredPitches}  # music21
    assert {step: alter for step, alter in key_alters(fifths).items() if alter} == altered


@pytest.mark.parametrize("fifths", [-3, 0, 1, 4])
def test_signs_are_those_of_an_independent_library(fifths: int) -> None:
    """Within a bar, where there are no courtesies, which are a matter of taste: music21 makeAccidentals."""
    names = "C4 C#4 C4 F#4 F4 F4 Bb3 B3 C#4 C4 E4 Eb4 Eb4 D4 D#4 D4"
    laid = lay_out(line(names, fifths=fifths, meter=(16, 4)))
    assert len(laid.bars) == 1
    bar = m21_stream.Measure([m21_key.KeySignature(fifths)])
    for name in names.split():
        bar.append(m21_note.Note(name.replace("b", "-")))
    bar.makeAccidentals(
        inPlace=True, cautionaryPitchClass=False, cautionaryNotImmediateRepeat=False, overrideStatus=True
    )
    theirs = [bool(each.pitch.accidental and each.pitch.accidental.displayStatus) for each in bar.notes]
    assert [head.shown is not None for head in all_heads(laid)] == theirs
    assert 0 < sum(theirs) < len(theirs)


def test_a_sign_holds_to_the_bar_line_and_a_tie_needs_none() -> None:
    laid = lay_out(line("F#4 F#4 G4 F#4:2 F#4 F4 G4"))
    shown = [(head.note.n, head.first, head.shown) for head in all_heads(laid)]
    assert shown == [
        (1, True, 1), (2, True, None), (3, True, None), (4, True, None), (4, False, None),
        (5, True, 1), (6, True, 0), (7, True, None),
    ]  # fmt: skip


def test_a_natural_after_a_tied_sharp_is_shown() -> None:
    laid = lay_out(line("G4 G4 G4 F#4:2 F4 G4 G4"))
    assert [head.shown for head in all_heads(laid) if head.note.n == 5] == [0]


def test_the_higher_voice_has_its_stems_up() -> None:
    score = two_voices()
    swapped = replace(score, notes=tuple(replace(n, voice=3 - n.voice) for n in score.notes))
    for each in (score, swapped):
        first = lay_out(each).bars[0]
        assert [layer.stem for layer in first.layers] == ["up", "down"]
        upper = first.layers[0].events[0].heads[0].note.midi
        assert upper > first.layers[1].events[0].heads[0].note.midi


def test_notes_of_one_voice_that_overlap_are_parted_by_height() -> None:
    notes = (note(1, 0, 4, "E2"), note(2, 0, 1, "G3"), note(3, 1, 3, "B3"))
    laid = lay_out(Score("", "", "", notes))
    upper, lower = laid.bars[0].layers
    assert [head.note.n for event in upper.events for head in event.heads if head.first] == [2, 3]
    assert [head.note.n for event in lower.events for head in event.heads] == [1]


def test_what_no_two_rows_hold_is_drawn_shorter_and_said() -> None:
    notes = (note(1, 0, 4, "E2", bar="7"), note(2, 1, 3, "G3", bar="7"), note(3, 2, 2, "B3", bar="7"))
    laid = lay_out(Score("", "", "", notes))
    assert sorted(head.note.n for head in all_heads(laid) if head.first) == [1, 2, 3]
    assert laid.warnings == ("bar 7: a long note is drawn shorter than it sounds",)


def test_a_pick_up_follows_from_the_bar_numbers() -> None:
    score = line("E4 A4:2 B4 C5:2 A4 A4:2", meter=(3, 4), pick_up=1)
    assert [bar.length for bar in lay_out(score).bars][:2] == [1, 3]
    starts = {bar.onset_quarter: bar.number for bar in score.bars}
    notes = tuple(
        replace(n, bar=starts[max(at for at in starts if at <= n.onset_quarter)]) for n in score.notes
    )
    guessed = lay_out(replace(score, bars=(), notes=notes))
    assert [(bar.start_quarter, bar.number) for bar in guessed.bars] == list(starts.items())
    assert guessed.bars[0].pick_up


def test_a_change_of_meter_is_shown_where_it_comes() -> None:
    score = replace(line("E4 E4 E4 E4 E4 E4 E4 E4 E4 E4"), bars=())
    score = replace(score, meters=(MeterChange(Fraction(0), 4, 4), MeterChange(Fraction(4), 3, 4)))
    bars = lay_out(score).bars
    assert [(bar.length, bar.new_meter) for bar in bars] == [(4, True), (3, True), (3, False)]


def test_grace_notes_come_before_what_they_lead_to() -> None:
    notes = (note(1, 0, 1, "E4"), note(2, 1, 0, "G4"), note(3, 1, 1, "A4"))
    laid = lay_out(Score("", "", "", notes))
    event = laid.bars[0].layers[0].events[1]
    assert [head.note.n for head in event.graces] == [2]
    assert [head.note.n for head in event.heads] == [3]


def test_beams_join_eighths_of_half_a_bar_and_break_at_its_middle() -> None:
    laid = lay_out(line(" ".join(["E4:1/2"] * 8)))
    beams = [event.beam for event in laid.bars[0].layers[0].events]
    assert beams == ["begin", "continue", "continue", "end"] * 2  # common practice, no source


def test_an_empty_score_and_one_too_long_are_refused() -> None:
    with pytest.raises(BadInput, match=r"empty\.xml: there is no note"):
        lay_out(Score("", "", "empty.xml", ()))
    many = tuple(note(n, n, 1, "E4") for n in range(1, MOST_NOTES + 2))
    with pytest.raises(BadInput, match="at most 10,000"):
        lay_out(Score("Long", "", "", many))

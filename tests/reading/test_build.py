"""A score, a position and a rule for open strings: what is right where, and what cannot be read."""

from dataclasses import replace
from fractions import Fraction

import pytest

from midifret.fingering.choices import OpenStrings
from midifret.neck import in_reach
from midifret.reading.bars import bar_at, bars_of, beat_quarter, beats_a_bar
from midifret.reading.build import OUT_OF_POSITION, one_of_each, position_name, reading_exercise, reading_name
from midifret.reading.events import sounds_in
from midifret.reading.kept import exercise_of_text, reading_text
from midifret.terms import BadInput, CueKind, Judged, Place
from midifret.terms.score import MeterChange, Score
from tests.reading.simulated import NECK, melody, score_of

# E4 sounds on string 1 open, 2:5, 3:9, 4:14 (facts: Lombardo & Radicioni, figure 1).
E4 = 64


def places(midi: int, position: int | None, rule: OpenStrings = OpenStrings.NEEDED) -> list[str]:
    exercise = reading_exercise(score_of(f"{midi} 60"), NECK, position, open_strings=rule)
    return [str(place) for place in exercise.prompts[0].places]


def test_a_position_says_what_is_right() -> None:
    # Position V holds frets 5 to 8, by stretching 9 (reach of a position).
    assert places(E4, 5) == ["2:5", "3:9"]
    assert places(E4, 9) == ["3:9"]
    assert places(E4, None) == ["1:0", "2:5", "3:9", "4:14", "5:19"]
    for midi in range(40, 84):
        for position in range(1, 14):
            reached = [str(item.place) for item in in_reach(NECK, position, midi)]
            if reached and midi != 60:
                exercise = reading_exercise(score_of(f"{midi}"), NECK, position)
                assert [str(place) for place in exercise.prompts[0].places] == reached


def test_the_rule_for_open_strings() -> None:
    assert places(E4, 5, OpenStrings.FREELY) == ["2:5", "3:9", "1:0"]
    assert places(E4, 5, OpenStrings.NEVER) == ["2:5", "3:9"]
    # The low E lies on the open sixth string alone: there is no other way to play it.
    assert places(40, 5, OpenStrings.NEEDED) == ["6:0"]
    assert places(40, 5, OpenStrings.NEVER) == ["6:0"]
    # The low G lies at 6:3: out of position V, and by no open string.
    assert places(43, 5, OpenStrings.NEEDED) == ["6:3"]


def test_a_note_out_of_the_position_is_marked_and_may_be_played_by_a_shift() -> None:
    exercise = reading_exercise(score_of("43 60 64"), NECK, 5)
    assert [prompt.hint for prompt in exercise.prompts] == [OUT_OF_POSITION, "", ""]


def test_a_fingering_that_is_followed_is_alone_right_and_is_shown() -> None:
    score = score_of("60+64 64")
    exercise = reading_exercise(score, NECK, None, fingered={1: Place(5, 15), 2: Place(4, 14), 3: None})
    assert [prompt.places for prompt in exercise.prompts][:2] == [(Place(5, 15),), (Place(4, 14),)]
    assert exercise.judged is Judged.PLACE
    assert exercise.prompts[0].cue == (CueKind.STAFF, CueKind.PLACE)
    assert exercise.prompts[2].places == NECK.places(64)  # what no hand can play is right anywhere


def test_a_natural_harmonic_is_right_on_any_string() -> None:
    # Over fret 7 of string 6 sounds B3, MIDI 59 (a twelfth above the open string): a converter says 6:19.
    score = score_of("59 60")
    score = replace(score, notes=(replace(score.notes[0], harmonic=True), score.notes[1]))
    exercise = reading_exercise(score, NECK, 5)
    assert Place(6, 19) in exercise.prompts[0].places
    assert exercise.prompts[1].places == (Place(3, 5),)


def test_two_voices_on_one_pitch_are_one_note() -> None:
    score = score_of("60 64")
    first = score.notes[0]
    longer = replace(first, n=2, voice=2, duration_quarter=Fraction(2))
    doubled = replace(score, notes=(first, longer, replace(score.notes[1], n=3)))
    assert [(note.n, note.midi, note.duration_quarter) for note in one_of_each(doubled).notes] == [
        (1, 60, 2),
        (2, 64, 1),
    ]


def test_names_and_numerals() -> None:
    # Roman numerals [common practice].
    told = " ".join(position_name(n) for n in (0, 1, 4, 5, 9, 12, 14, 19))
    assert told == "open I IV V IX XII XIV XIX"
    score = score_of("60", title="Minuet @ home")
    assert reading_name(score, 5) == "read:Minuet home@V"
    assert reading_name(replace(score, title=""), None) == "read:invented@anywhere"


@pytest.mark.parametrize(
    ("score", "position", "rule", "words"),
    [
        (Score("", "", "x.xml", ()), 5, OpenStrings.NEEDED, "x.xml has no notes"),
        (score_of("60"), 20, OpenStrings.NEEDED, "this neck has no position 20"),
        (score_of("60"), -1, OpenStrings.NEEDED, "this neck has no position -1"),
        (score_of("60"), 0, OpenStrings.NEVER, "the open position cannot be read without open strings"),
        (score_of("60 39 84"), 5, OpenStrings.NEEDED, "1 too low, 1 too high"),
        (
            score_of("43 41"),
            9,
            OpenStrings.NEEDED,
            "none of the notes of invented is in reach of position IX",
        ),
    ],
)
def test_what_cannot_be_read_is_told(score: Score, position: int, rule: OpenStrings, words: str) -> None:
    with pytest.raises(BadInput, match=words) as error:
        reading_exercise(score, NECK, position, open_strings=rule)
    assert error.value.allowed


def test_bars_follow_from_the_notes_where_the_score_does_not_say() -> None:
    score = score_of("60 62", "64 65")
    bare = replace(score, bars=())
    assert bars_of(bare) == score.bars
    nameless = replace(bare, notes=tuple(replace(note, bar="") for note in melody(20, 1).notes))
    assert [bar.onset_quarter for bar in bars_of(nameless)][:3] == [0, 4, 8]
    assert [bar_at(score.bars, Fraction(at)) for at in (-1, 0, 1, 2, 9)] == [0, 0, 0, 1, 1]


def test_two_places_that_the_music_strikes_together_are_known() -> None:
    # Open strings 6 and 1 are E2 and E4, MIDI 40 and 64 (facts).
    exercise = reading_exercise(score_of("40+64 60", "64 40"), NECK, 0)
    assert sounds_in(exercise, Place(6, 0), Place(1, 0))
    assert not sounds_in(exercise, Place(6, 0), Place(2, 0))
    assert not sounds_in(reading_exercise(score_of("40 64"), NECK, 0), Place(6, 0), Place(1, 0))


@pytest.mark.parametrize(
    ("beats", "kind", "quarters", "a_bar"),
    # Beats of six, nine and twelve eighths are dotted quarters [common practice, no source].
    [
        (4, 4, 1, 4),
        (3, 4, 1, 3),
        (2, 2, 2, 2),
        (6, 8, 1.5, 2),
        (9, 8, 1.5, 3),
        (12, 8, 1.5, 4),
        (3, 8, 0.5, 3),
    ],
)
def test_how_long_a_beat_is(beats: int, kind: int, quarters: float, a_bar: int) -> None:
    meter = MeterChange(Fraction(0), beats, kind)
    assert float(beat_quarter(meter)) == quarters
    assert beats_a_bar(meter) == a_bar


def test_a_reading_kept_as_text_comes_back_whole() -> None:
    for exercise in (
        reading_exercise(melody(60, 3, chords=0.3), NECK, 5),
        reading_exercise(score_of("43 60+64 64"), NECK, 5, open_strings=OpenStrings.FREELY),
        reading_exercise(score_of("60+64 64"), NECK, None, fingered={1: Place(5, 15), 2: Place(4, 14)}),
    ):
        assert exercise_of_text(reading_text(exercise), lambda _: NECK) == exercise


@pytest.mark.parametrize(
    "spoil",
    [
        lambda text: "",
        lambda text: "{}",
        lambda text: "[1]",
        lambda text: text[:-20],
        lambda text: text.replace('"version":1', '"version":2'),
        lambda text: text.replace('"C4"', '"H4"'),
        lambda text: text.replace('"3:5"', '"3:6"'),
        lambda text: text.replace('"3:5"', '"9:5"'),
        lambda text: text.replace('"1","1","E4"', '"1/0","1","E4"'),
        lambda text: text.replace('"judged":"position"', '"judged":"taste"'),
    ],
)
def test_a_text_that_was_spoilt_is_refused(spoil: object) -> None:
    text = reading_text(reading_exercise(score_of("60 64"), NECK, 5))
    spoilt = spoil(text)  # type: ignore[operator]
    assert spoilt != text
    with pytest.raises(BadInput, match="cannot be understood"):
        exercise_of_text(spoilt, lambda _: NECK)

"""What the screens say: verdicts, intervals as music21 names them, cues that give nothing away."""

from collections.abc import Callable

import music21
import pytest

from midifret.gear.guitar import Guitar, SignalBinding
from midifret.neck import Accidentals, Language, Neck, Tuning, interval_number, interval_words
from midifret.session.screen import LastAnswer, Screen
from midifret.show.words import (
    CAUTION,
    clock_words,
    cue_words,
    per_cent,
    rest_words,
    shown_names,
    signal_words,
    tempo_words,
    typed_shown,
    verdict_words,
)
from midifret.terms import CueKind, Judged, Place, Prompt, SpelledPitch, Tempo, Verdict, Wiring
from midifret.terms.control import Control


def last(verdict: Verdict, asked: tuple[Place, ...], played: Place | None, **more: object) -> LastAnswer:
    values: dict[str, object] = {
        "n": 1, "name": "G", "played_name": "A", "typed": "", "first": True, "response_s": 1.0, **more
    }  # fmt: skip
    return LastAnswer(verdict=verdict, asked=asked, played=played, **values)  # type: ignore[arg-type]


ASKED = (Place(4, 5),)


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (last(Verdict.RIGHT, ASKED, Place(4, 5)), "Right."),
        (last(Verdict.RIGHT, ASKED, Place(4, 5), first=False), "Right now: that is G."),
        (
            last(Verdict.ELSEWHERE, ASKED, Place(3, 0)),
            "Right note, other place: G was asked on string 4, fret 5.",
        ),
        (
            last(Verdict.ELSEWHERE, (Place(4, 5), Place(5, 10)), Place(3, 0)),
            "Right note, other place: G was asked on string 4 or 5.",
        ),
        (last(Verdict.OCTAVE, ASKED, Place(1, 3)), "Right name, an octave too high."),
        (last(Verdict.OCTAVE, ASKED, Place(6, 3)), "Right name, an octave too low."),
        (last(Verdict.OCTAVE, ASKED, Place(1, 15)), "Right name, two octaves too high."),
        (last(Verdict.FRET_OFF, ASKED, Place(4, 6)), "Right string, one fret too high."),
        (last(Verdict.FRET_OFF, ASKED, Place(4, 4)), "Right string, one fret too low."),
        (
            last(Verdict.STRING_OFF, ASKED, Place(3, 5)),
            "Right fret, wrong string: you played string 3, asked was 4.",
        ),
        (last(Verdict.WRONG, ASKED, Place(2, 9)), "That was A; asked was G."),
        (last(Verdict.WRONG, ASKED, None), "That was A, at no place of this guitar; asked was G."),
        (last(Verdict.WRONG, ASKED, Place(4, 5)), "This place has had its turn: find another one."),
        (last(Verdict.WRONG, ASKED, None, typed="bb"), "You typed B♭; it is G."),
        (last(Verdict.MISSED, ASKED, None), "No answer: G is on string 4, fret 5."),
        (last(Verdict.MISSED, (Place(3, 0),), None), "No answer: G is on string 3, open."),
        (last(Verdict.MISSED, (Place(3, 0), Place(4, 5), Place(5, 10)), None), "No answer; asked was G."),
    ],
)
def test_verdicts_in_words(answer: LastAnswer, words: str, neck: Neck) -> None:
    assert verdict_words(answer, neck, Language.ENGLISH) == words
    assert len(words) <= 76


@pytest.mark.parametrize("semitones", range(-36, 37))
def test_intervals_agree_with_music21(semitones: int) -> None:
    words = interval_words(semitones)
    if semitones == 0:
        assert words == "the same pitch again"
        return
    direction, _, rest = words.partition(" ")
    assert direction == ("up" if semitones > 0 else "down")
    theirs = music21.interval.Interval(abs(semitones) % 12).simpleNiceName.lower().removeprefix("perfect ")
    name = rest.split(" and ")[-1].removeprefix("a ")
    if abs(semitones) % 12 == 6:
        assert name == "tritone"  # music21 must choose between two spellings, a distance cannot
    elif abs(semitones) % 12:
        assert name == theirs
    assert ("octave" in rest) == (abs(semitones) >= 12)
    number = interval_number(semitones)
    if abs(semitones) % 12 != 6:
        assert number == music21.interval.Interval(abs(semitones)).generic.undirected


def test_a_cue_says_what_it_shows_and_no_more(prompt_of: Callable[..., Prompt]) -> None:
    f_sharp, place = SpelledPitch("F", 1, 3), Place(4, 4)

    def words(*cue: CueKind, accidentals: Accidentals = Accidentals.SHARPS, **more: object) -> str:
        return cue_words(prompt_of(1, cue, place, f_sharp, **more), Language.ENGLISH, accidentals)

    assert words(CueKind.NAME, CueKind.STRING) == "F♯ on string 4"
    assert words(CueKind.NAME, accidentals=Accidentals.BOTH) == "F♯ / G♭"
    assert words(CueKind.PLACE) == "string 4, fret 4"
    assert words(CueKind.PLACE, judged=Judged.NAME) == "name the note on string 4, fret 4"
    assert words(CueKind.STAFF) == "sharp, in space 1"
    assert words(CueKind.STRING) == "next on string 4"
    assert words(CueKind.INTERVAL, interval_semitones=4) == "up a major third"
    assert words(CueKind.NAME, judged=Judged.PITCH) == "F♯; anywhere on the neck"
    assert "the walk is yours" in words()
    assert words(CueKind.NAME, held=Place(2, 0)) == "F♯; hold string 2, open"
    assert words(CueKind.NAME, given=Place(2, 7)) == "F♯; given: string 2, fret 7"


def test_a_naming_cue_never_names(screens: dict[str, Screen]) -> None:
    screen = screens["naming"]
    assert screen.prompt is not None
    assert "F" not in cue_words(screen.prompt, screen.language, screen.accidentals)


@pytest.mark.parametrize(
    ("pitch", "language", "accidentals", "names"),
    [
        (SpelledPitch("F", 1, 3), Language.ENGLISH, Accidentals.BOTH, ("F♯", "G♭")),
        (SpelledPitch("G", -1, 3), Language.GERMAN, Accidentals.BOTH, ("Fis", "Ges")),
        (SpelledPitch("G", -1, 3), Language.ENGLISH, Accidentals.SHARPS, ("G♭",)),  # as the drill spells it
        (SpelledPitch("C", 0, 3), Language.FIXED_DO, Accidentals.BOTH, ("do",)),
        (
            SpelledPitch("E", 1, 3),
            Language.ENGLISH,
            Accidentals.BOTH,
            ("E♯",),
        ),  # a natural in between has one
    ],
)
def test_names_as_they_are_shown(
    pitch: SpelledPitch, language: Language, accidentals: Accidentals, names: tuple[str, ...]
) -> None:
    assert shown_names(pitch, language, accidentals) == names


@pytest.mark.parametrize(
    ("typed", "language", "shown"),
    [
        ("f#", Language.ENGLISH, "F♯"),
        ("bb", Language.ENGLISH, "B♭"),
        ("b", Language.ENGLISH, "B"),
        ("", Language.ENGLISH, ""),
        ("fis", Language.GERMAN, "Fis"),
        ("b", Language.GERMAN, "B"),
        ("sib", Language.FIXED_DO, "si♭"),
        ("sol#", Language.FIXED_DO, "sol♯"),
    ],
)
def test_typed_letters_as_a_name(typed: str, language: Language, shown: str) -> None:
    assert typed_shown(typed, language) == shown


def test_shares_and_times() -> None:
    assert [per_cent(share) for share in (0, 0.001, 0.5, 0.996, 1)] == ["0%", "<1%", "50%", "99%", "100%"]
    assert [clock_words(seconds) for seconds in (-1, 0, 59.9, 65.3, 3600)] == [
        "0:00",
        "0:00",
        "0:59",
        "1:05",
        "60:00",
    ]


def test_cautions_say_what_the_student_sheet_says() -> None:
    """Regular breaks, no sudden increase, pain a sign to stop (NASM-PAMA student sheet; Barton)."""
    for word in ("breaks", "little by little", "Pain", "stop", "doctor"):
        assert word in CAUTION
    assert len(CAUTION) <= 2 * 80
    assert "25 minutes" in rest_words(25)
    assert len(rest_words(25)) <= 80


def test_what_is_said_of_a_tempo_before_its_first_beat() -> None:
    assert tempo_words(Tempo(72.0)) == "In tempo, 72 bpm, 4 beats to count in."
    assert tempo_words(Tempo(60.0, notes_a_beat=2, count_in=1)) == (
        "In tempo, 60 bpm, 2 notes a beat, 1 beat to count in."
    )
    assert tempo_words(Tempo(60.0, count_in=0)) == "In tempo, 60 bpm, no count-in."


def test_no_order_is_told_that_a_beat_does_not_take() -> None:
    places = (Place(6, 0), Place(2, 0))
    guitar = Guitar(
        "x",
        "X",
        Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40))),
        Wiring((1, 2, 3, 4, 5, 6) + (None,) * 10),
        signals=(
            SignalBinding(Control.NEXT, places),
            SignalBinding(Control.PAUSE, (Place(6, 0), Place(1, 0))),
        ),
    )
    assert signal_words(guitar) == "Open strings plucked together: 6 and 2 next, 6 and 1 pause."
    assert signal_words(guitar, in_tempo=True) == "Open strings plucked together: 6 and 1 pause."

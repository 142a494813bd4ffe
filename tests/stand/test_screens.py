"""A moment of a run as a page shows it: what each stage tells, and what it must not tell."""

import dataclasses

import pytest

from midifret.gear.guitar import Guitar, channel_map
from midifret.neck import Accidentals, Language, Neck, Tuning, parse_name
from midifret.session.conductor import Beat
from midifret.session.screen import LastAnswer, Screen, Stage, StringCheck
from midifret.stand.messages import Button, NoteMark, RunScreen, Spot, dump
from midifret.stand.screens import Engraved, engraving_name, engraving_words, naming_rows, run_screen
from midifret.terms import (
    CueKind,
    Exercise,
    Judged,
    Place,
    Prompt,
    SpelledPitch,
    Tempo,
    Verdict,
    Wiring,
)
from midifret.terms.figures import Summary
from midifret.terms.score import Score

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
GUITAR = Guitar("g", "G", NECK, Wiring(channel_map(tuple(range(6)))))
F_SHARP = SpelledPitch("F", 1, 3)  # string 4, fret 4 [facts: standard tuning]
SCORE = Score("Tune", "", "tune.abc", ())


def prompt(
    *cue: CueKind, judged: Judged = Judged.PLACE, n: int = 3, hint: str = "", **more: object
) -> Prompt:
    place = Place(4, 4)
    return Prompt(n, cue, judged, (place,), (NECK.midi(place),), F_SHARP, hint=hint, **more)  # type: ignore[arg-type]


def exercise(asked: Prompt, *, of: int = 5, **more: object) -> Exercise:
    prompts = tuple(dataclasses.replace(asked, n=n) for n in range(1, of + 1))
    return Exercise("x", "Title", "s", "Trains reading.", (3, 5), Judged.PLACE, prompts, **more)  # type: ignore[arg-type]


def moment(asked: Prompt, stage: Stage = Stage.ASKING, **more: object) -> Screen:
    made = exercise(asked)
    screen = Screen(stage, made, GUITAR, "Ada", False, Language.ENGLISH, Accidentals.SHARPS, prompt=asked)
    return dataclasses.replace(screen, **{"answered": 2, "right": 1, "elapsed_s": 65.3, **more})


def shown(screen: Screen, engraved: Engraved | None = None) -> RunScreen:
    made = run_screen(screen, run=7, engraved=engraved or Engraved())
    dump(made)  # every moment can be told
    return made


WRONG = LastAnswer(
    2, Verdict.FRET_OFF, (Place(4, 5),), Place(4, 6), "G", "G♯", "", first=True, response_s=1.234
)
ENGRAVED = Engraved(notes={F_SHARP: engraving_name(F_SHARP)})


def test_what_every_moment_tells() -> None:
    made = shown(moment(prompt(CueKind.NAME)))
    assert (made.run, made.stage, made.title, made.player) == (7, "asking", "Title", "Ada")
    assert (made.progress, made.right, made.clock) == ((2, 5), 1, "1:05")
    assert (made.strings, made.frets, made.left_handed) == (6, NECK.last_fret, False)
    assert Button(" ", "pause") in made.buttons  # a page tells the space bar as a space
    assert shown(dataclasses.replace(moment(prompt()), simulated=True)).player == "simulated player"


def test_left_handed_and_block_are_handed_on() -> None:
    made = run_screen(moment(prompt()), run=1, left_handed=True, block="Warm up: the open strings")
    assert made.left_handed
    assert made.block == "Warm up: the open strings"


# --- asking ---------------------------------------------------------------------------------------


def test_a_name_on_a_string() -> None:
    cue = shown(moment(prompt(CueKind.NAME, CueKind.STRING))).cue
    assert cue is not None
    assert (cue.n, cue.name, cue.string, cue.fret) == (3, "F♯", 4, None)
    assert cue.words == "F♯ on string 4"


def test_an_engraved_note_is_shown_and_not_told_in_words() -> None:
    made = shown(moment(prompt(CueKind.STAFF)), ENGRAVED)
    assert made.cue is not None
    assert made.cue.engraving == "note F#3"
    assert (made.cue.name, made.cue.words, made.cue.string, made.cue.fret) == ("", "", None, None)
    assert "F" not in made.cue.words
    assert made.spots == ()
    # Written an octave above what sounds, F sharp 3 is in the first space of the staff [facts].
    assert engraving_words(F_SHARP) == "a note sharp, in space 1"


def test_a_note_that_was_not_engraved_is_told_in_words() -> None:
    cue = shown(moment(prompt(CueKind.STAFF))).cue
    assert cue is not None
    assert cue.engraving == ""
    assert cue.words == "sharp, in space 1"


def test_a_place_and_its_spot() -> None:
    made = shown(moment(prompt(CueKind.PLACE)))
    assert made.cue is not None
    assert (made.cue.string, made.cue.fret) == (4, 4)
    assert made.spots == (Spot(4, 4, "shown", "◆"),)


def test_a_given_place_is_not_the_answer() -> None:
    made = shown(moment(prompt(CueKind.PLACE, given=Place(5, 9))))
    assert made.cue is not None
    assert (made.cue.string, made.cue.fret) == (5, 9)
    assert made.spots == (Spot(5, 9, "given", "◆"),)
    assert "string 4" not in made.cue.words + made.cue.hint


def test_an_interval_alone_is_an_arrow_and_a_number() -> None:
    cue = shown(moment(prompt(CueKind.INTERVAL, interval_semitones=-3))).cue
    assert cue is not None
    assert cue.interval == "↓ 3"
    assert cue.words == "down a minor third"


def test_a_walk_shows_where_it_begins_and_nothing_after() -> None:
    first = shown(moment(prompt(n=1))).cue
    assert first is not None
    assert (first.name, first.string, first.fret) == ("F♯", 4, 4)
    later = shown(moment(prompt(n=2))).cue
    assert later is not None
    assert (later.name, later.string, later.fret) == ("", None, None)
    assert later.words == "The walk is yours: play its next note"


def test_what_stands_beside_the_cue() -> None:
    made = shown(moment(prompt(CueKind.NAME, hint="an octave higher", held=Place(2, 0))))
    assert made.cue is not None
    assert made.cue.words == "F♯"
    assert made.cue.hint == "an octave higher; hold string 2, open"
    assert Spot(2, 0, "held", "●") in made.spots


def test_a_cue_that_is_waited_for_shows_nothing_of_it() -> None:
    waiting = dataclasses.replace(prompt(CueKind.PLACE), wait_s=2.0)
    screen = dataclasses.replace(moment(waiting), prompt=None)
    made = shown(screen)
    assert made.cue is not None
    assert made.cue.waits
    assert (made.cue.string, made.cue.fret, made.cue.words) == (None, None, "Wait for it.")
    assert made.spots == ()


def test_the_verdict_by_sign_word_and_places() -> None:
    made = shown(moment(prompt(CueKind.NAME), last=WRONG))
    assert made.told is not None
    assert (made.told.n, made.told.verdict, made.told.right, made.told.sign) == (2, "fret-off", False, "✗")
    assert made.told.words == "Right string, one fret too high."
    assert made.told.time == "1.23 s"
    assert made.spots == (Spot(4, 5, "asked", "○"), Spot(4, 6, "wrong", "✗"))


def test_the_beat() -> None:
    screen = moment(prompt(CueKind.NAME))
    in_tempo = dataclasses.replace(screen.exercise, tempo=Tempo(90.0))
    made = shown(dataclasses.replace(screen, exercise=in_tempo, beat=Beat(2, 4, 0, True, 90.0)))
    assert made.beat is not None
    assert (made.beat.number, made.beat.a_bar, made.beat.struck, made.beat.tempo_bpm) == (2, 4, True, 90.0)
    assert "next" not in [button.words for button in made.buttons]  # a beat goes on by itself


# --- naming ---------------------------------------------------------------------------------------


def test_naming_shows_the_place_and_not_the_name() -> None:
    made = shown(moment(prompt(CueKind.PLACE, judged=Judged.NAME), typed="f#"))
    assert made.cue is not None
    assert (made.cue.name, made.cue.string, made.cue.fret) == ("?", 4, 4)
    assert made.typed == "F♯"
    assert made.spots == (Spot(4, 4, "named", "◆"),)
    assert [button.key for button in made.buttons] == [" ", "tab"]
    assert made.naming == naming_rows(Language.ENGLISH, Accidentals.SHARPS)


def test_only_naming_has_names_to_press() -> None:
    assert shown(moment(prompt(CueKind.NAME))).naming == ()
    assert shown(moment(prompt(CueKind.PLACE, judged=Judged.NAME), Stage.PAUSED)).naming == ()


@pytest.mark.parametrize("language", list(Language))
@pytest.mark.parametrize("accidentals", list(Accidentals))
def test_every_note_has_a_button_that_names_it(language: Language, accidentals: Accidentals) -> None:
    rows = naming_rows(language, accidentals)
    named = [parse_name(name, language)[:2] for row in rows for name in row]
    steps = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}  # semitones of a major scale
    assert {(steps[step] + alter) % 12 for step, alter in named} == set(range(12))
    assert len(set(named)) == len(named)


def test_german_and_fixed_do_names() -> None:
    german = naming_rows(Language.GERMAN, Accidentals.FLATS)
    assert german == (("C", "D", "E", "F", "G", "A", "H"), ("Des", "Es", "Ges", "As", "B"))
    assert naming_rows(Language.FIXED_DO, Accidentals.SHARPS)[1][2] == "fa♯"


# --- the other stages -----------------------------------------------------------------------------


def test_the_check_of_the_strings() -> None:
    checks = (
        StringCheck(1, "E", "heard, in tune", 2.0, ok=True),
        StringCheck(2, "B", "heard, 17 cents flat", -17.0, ok=False),
        StringCheck(3, "G", "waiting", None, ok=False),
    )
    made = shown(moment(prompt(), Stage.CHECKING, prompt=None, checks=checks))
    assert [row[0] for row in made.rows] == ["✓", "✗", "·"]
    assert "string 2" in made.rows[1]
    assert "17 cents flat" in made.rows[1]
    assert made.cue is None
    assert [button.key for button in made.buttons] == ["enter", "q"]


def test_before_it_begins() -> None:
    made = shown(moment(prompt(), Stage.COUNTDOWN, prompt=None, count=None))
    assert made.rows[0] == "Trains reading."
    assert "begin" in made.rows[-1]
    counting = shown(moment(prompt(), Stage.COUNTDOWN, prompt=None, count=3))
    assert counting.count == 3
    assert not any("begin" in row for row in counting.rows)


def test_a_pause_hides_the_prompt_and_what_was_said_of_it() -> None:
    asked = prompt(CueKind.NAME, CueKind.PLACE)
    made = shown(moment(asked, Stage.PAUSED, last=dataclasses.replace(WRONG, n=3)))
    assert (made.cue, made.told, made.spots, made.reading) == (None, None, (), None)
    assert "hidden" in made.rows[0]
    before = shown(moment(asked, Stage.PAUSED, last=WRONG))
    assert before.told is not None  # that of the prompt before tells nothing


def test_the_figures_at_the_end() -> None:
    summary = Summary(5, 4, 0.82, 0.31, None, (), (), (), (), ((Verdict.RIGHT, 4),), (), (), None)
    made = shown(moment(prompt(), Stage.ENDED, prompt=None, summary=summary))
    assert made.rows[:2] == ("The run is over.", "Time played 1:05.")
    assert "4 of 5 right at the first try (80%)." in made.rows
    assert [button.key for button in made.buttons] == ["enter", "a", "q"]


# --- readings -------------------------------------------------------------------------------------

MUSIC = Engraved(music="music 1", heads={1: "n1", 2: "n2", 3: "n3"}, lines={1: 0, 2: 0, 3: 1})


def read(stage: Stage = Stage.ASKING, **more: object) -> Screen:
    screen = moment(prompt(CueKind.STAFF), stage)
    made = dataclasses.replace(screen.exercise, score=SCORE)
    verdicts = ((1, Verdict.RIGHT), (2, Verdict.ELSEWHERE))
    return dataclasses.replace(screen, exercise=made, verdicts=verdicts, **more)


def test_a_reading_marks_its_notes_by_ident_and_sign() -> None:
    reading = shown(read(), MUSIC).reading
    assert reading is not None
    assert (reading.engraving, reading.cursor, reading.line, reading.whole) == ("music 1", "n3", 1, True)
    assert reading.marks == (NoteMark("n1", "right", "✓"), NoteMark("n2", "elsewhere", "○"))


def test_a_reading_shows_the_page_alone_while_it_is_played_and_after() -> None:
    assert shown(read(), MUSIC).cue is None  # nothing is told of the next note
    assert shown(read(Stage.PAUSED), MUSIC).reading is None
    assert shown(read(Stage.COUNTDOWN), MUSIC).reading is None
    ended = shown(read(Stage.ENDED, prompt=None), MUSIC).reading
    assert ended is not None
    assert (ended.cursor, len(ended.marks)) == ("", 2)


def test_a_wrong_note_in_a_reading_tells_where_it_was_asked() -> None:
    told = shown(read(last=WRONG), MUSIC).told
    assert told is not None
    assert told.words.endswith("Asked: string 4, fret 5.")

"""Moments of a live run, one of every kind, that the tests of the screens draw."""

import dataclasses
from collections.abc import Callable

import pytest

from midifret.gear.guitar import Guitar, channel_map
from midifret.neck import Accidentals, Language, Neck, Tuning
from midifret.session.screen import LastAnswer, Screen, Stage, StringCheck
from midifret.terms import CueKind, Exercise, Gate, Judged, Place, Prompt, SpelledPitch, Verdict, Wiring
from midifret.terms.figures import GateResult, PlaceFigure, Summary

EIGHT_STRINGS = (64, 59, 55, 50, 45, 40, 38, 35)


def make_guitar(open_midi: tuple[int, ...] = EIGHT_STRINGS[:6], frets: int = 19, capo: int = 0) -> Guitar:
    neck = Neck(Tuning("tuning", "Tuning", open_midi), frets, capo)
    return Guitar("guitar", "Guitar", neck, Wiring(channel_map(tuple(range(len(open_midi))))))


def make_prompt(
    n: int,
    cue: tuple[CueKind, ...],
    places: Place | tuple[Place, ...],
    pitch: SpelledPitch,
    judged: Judged = Judged.PLACE,
    **more: object,
) -> Prompt:
    several = (places,) if isinstance(places, Place) else places
    return Prompt(n, cue, judged, several, (pitch.midi,) * len(several), pitch, **more)  # type: ignore[arg-type]


def make_screens() -> dict[str, Screen]:
    name_and_string = (CueKind.NAME, CueKind.STRING)
    open_d = make_prompt(3, name_and_string, Place(4, 0), SpelledPitch("D", 0, 3))
    exercise = Exercise(
        "open/naturals",
        "Open position: the naturals in order",
        "open",
        "Names the notes of the open position in order. Say each name before you play it.",
        (3, 5),
        Judged.PLACE,
        tuple(dataclasses.replace(open_d, n=n) for n in range(1, 18)),
        gate=Gate(0.9, 2.0, 3),
    )
    fret_off = LastAnswer(
        2, Verdict.FRET_OFF, (Place(4, 5),), Place(4, 6), "G", "G♯", "", first=True, response_s=1.23
    )
    right = LastAnswer(
        2, Verdict.RIGHT, (Place(4, 5),), Place(4, 5), "G", "G", "", first=True, response_s=0.83
    )
    asking = Screen(
        Stage.ASKING,
        exercise,
        make_guitar(),
        "me",
        False,
        Language.ENGLISH,
        Accidentals.SHARPS,
        prompt=open_d,
        answered=2,
        right=1,
        prompt_s=0.4,
        elapsed_s=65.3,
    )
    summary = Summary(
        17,
        14,
        0.82,
        0.31,
        None,
        (),
        (),
        (),
        (),
        ((Verdict.RIGHT, 14), (Verdict.FRET_OFF, 2), (Verdict.WRONG, 1)),
        (PlaceFigure(Place(4, 2), 3, 3, 2.1), PlaceFigure(Place(5, 3), 2, 2, 1.9)),
        (PlaceFigure(Place(4, 3), 3, 1, 1.2),),
        GateResult(False, False, ("right 82% of 90% asked: not yet", "0 of 3 runs in a row: not yet")),
    )
    f_sharp = SpelledPitch("F", 1, 3)
    everywhere = tuple(Place(s, f) for s, f in ((1, 3), (2, 8), (3, 0), (3, 12), (4, 5), (5, 10), (6, 3)))
    change = dataclasses.replace
    return {
        "name": change(asking, last=fret_off),
        "both names": change(
            asking,
            accidentals=Accidentals.BOTH,
            prompt=make_prompt(3, name_and_string, Place(4, 4), f_sharp),
            last=right,
        ),
        "both names in fixed-do": change(
            asking,
            language=Language.FIXED_DO,
            accidentals=Accidentals.BOTH,
            prompt=make_prompt(3, name_and_string, Place(3, 1), SpelledPitch("G", 1, 3)),
        ),
        "both names in German": change(
            asking,
            language=Language.GERMAN,
            accidentals=Accidentals.BOTH,
            prompt=make_prompt(3, name_and_string, Place(4, 4), f_sharp),
        ),
        "staff": change(
            asking, prompt=make_prompt(3, (CueKind.STAFF, CueKind.STRING), Place(4, 4), f_sharp)
        ),
        "staff and name, far above": change(
            asking,
            prompt=make_prompt(3, (CueKind.STAFF, CueKind.NAME), Place(1, 19), SpelledPitch("B", 0, 5)),
        ),
        "naming": change(
            asking, typed="f#", prompt=make_prompt(3, (CueKind.PLACE,), Place(4, 4), f_sharp, Judged.NAME)
        ),
        "given place": change(
            asking,
            prompt=make_prompt(
                3,
                (CueKind.NAME, CueKind.INTERVAL),
                Place(3, 7),
                SpelledPitch("D", 0, 4),
                given=Place(4, 0),
                interval_semitones=12,
                hint="an octave higher",
            ),
        ),
        "place given alone": change(
            asking,
            prompt=make_prompt(
                3, (CueKind.PLACE,), Place(5, 5), SpelledPitch("D", 0, 3), given=Place(4, 0)
            ),
        ),
        "no cue": change(
            asking, prompt=make_prompt(3, (), Place(3, 7), SpelledPitch("D", 0, 4)), last=right
        ),
        "interval": change(
            asking,
            prompt=make_prompt(
                3, (CueKind.INTERVAL,), Place(3, 7), SpelledPitch("D", 0, 4), interval_semitones=-3
            ),
        ),
        "held": change(
            asking,
            prompt=make_prompt(3, name_and_string, Place(3, 4), SpelledPitch("B", 0, 3), held=Place(2, 0)),
            message="The held note had stopped sounding.",
        ),
        "eight strings, capo": change(asking, guitar=make_guitar(EIGHT_STRINGS, 24, 2), last=fret_off),
        "each place once": change(
            asking,
            prompt=make_prompt(3, (CueKind.NAME,), everywhere, SpelledPitch("G", 0, 3), each_once=1),
            last=LastAnswer(
                2, Verdict.WRONG, everywhere, Place(3, 0), "G", "G", "", first=True, response_s=1.2
            ),
        ),
        "checking": change(
            asking,
            stage=Stage.CHECKING,
            prompt=None,
            answered=0,
            right=0,
            checks=(
                StringCheck(1, "E", "heard, in tune", 2.0, ok=True),
                StringCheck(2, "B", "heard, 17 cents flat", -17.0, ok=False),
                *(StringCheck(s, "GDAE"[s - 3], "waiting", None, ok=False) for s in range(3, 7)),
            ),
        ),
        "countdown": change(asking, stage=Stage.COUNTDOWN, prompt=None, answered=0, right=0, count=3),
        "paused": change(asking, stage=Stage.PAUSED),
        "ended": change(
            asking, stage=Stage.ENDED, prompt=None, answered=17, right=14, summary=summary, last=fret_off
        ),
    }  # fmt: skip


SCREENS = make_screens()


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A test that takes `screen` is run for every moment."""
    if "screen" in metafunc.fixturenames:
        metafunc.parametrize("screen", [pytest.param(s, id=name) for name, s in SCREENS.items()])


@pytest.fixture
def screens() -> dict[str, Screen]:
    return dict(SCREENS)


@pytest.fixture(scope="session")
def screens_all() -> dict[str, Screen]:
    """As `screens`, for properties, whose examples share their fixtures."""
    return dict(SCREENS)


@pytest.fixture
def prompt_of() -> Callable[..., Prompt]:
    return make_prompt


@pytest.fixture
def guitar_of() -> Callable[..., Guitar]:
    return make_guitar

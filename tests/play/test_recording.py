"""A recording judged: with cue points, with marks, and bare."""

from midifret.neck import Neck, Tuning
from midifret.play import Closed, Cued, Run, judge_recording
from midifret.terms import (
    CueKind,
    Exercise,
    HeardEvent,
    Judged,
    Note,
    Place,
    Prompt,
    SpelledPitch,
)
from midifret.terms.marks import CuePoint, Mark, MarkKind, TypedName

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))


def exercise(*asked: str, limit_s: float | None = None, naming: bool = False) -> Exercise:
    prompts = tuple(
        Prompt(
            n,
            (CueKind.NAME,),
            Judged.NAME if naming else Judged.PLACE,
            (Place.parse(text),),
            (NECK.midi(Place.parse(text)),),
            SpelledPitch("C", 0, 4),
        )
        for n, text in enumerate(asked, start=1)
    )
    return Exercise("x", "X", "s", "t", (3, 5), Judged.PLACE, prompts, time_limit_s=limit_s)


def notes(*played: tuple[float, str]) -> list[tuple[float, HeardEvent]]:
    heard: list[tuple[float, HeardEvent]] = []
    for note_id, (onset_s, text) in enumerate(played, start=1):
        place = Place.parse(text)
        heard.append((onset_s, Note(note_id, onset_s, place.string, place.fret, NECK.midi(place), 80, 0)))
    return heard


def told(answers: tuple[object, ...]) -> list[tuple[str, float | None]]:
    return [(str(a.verdict), a.response_s) for a in answers]  # type: ignore[attr-defined]


def test_a_bare_recording_is_cued_by_its_right_answers_and_has_no_limit() -> None:
    answers = judge_recording(
        exercise("6:5", "5:5", "4:5", limit_s=0.1), notes((1, "6:5"), (3, "5:4"), (4, "5:5")), end_s=5
    )
    assert told(answers) == [("right", 1), ("fret-off", 2), ("missed", None)]
    assert [answer.cue_s for answer in answers] == [0, 1, 4]


def test_cue_points_set_the_clock_and_the_limit() -> None:
    answers = judge_recording(
        exercise("6:5", "5:5", "4:5", limit_s=1.0),
        notes((0.2, "1:1"), (1.5, "6:5"), (4.5, "5:5"), (5.5, "4:5")),
        cues=[CuePoint(1, 1.0), CuePoint(2, 3.0), CuePoint(3, 5.0)],
        end_s=9,
    )
    assert told(answers) == [("right", 0.5), ("missed", None), ("right", 0.5)]


def test_a_cue_at_the_very_instant_of_the_answer_before() -> None:
    answers = judge_recording(
        exercise("6:5", "5:5"),
        notes((1.0, "6:5"), (2.0, "5:5")),
        cues=[CuePoint(1, 0.0), CuePoint(2, 1.0)],
        end_s=3,
    )
    assert told(answers) == [("right", 1.0), ("right", 1.0)]


def test_a_cue_at_the_very_instant_of_its_own_answer() -> None:
    answers = judge_recording(
        exercise("6:5", "5:5"),
        notes((1.0, "6:5"), (2.0, "5:5")),
        cues=[CuePoint(1, 1.0), CuePoint(2, 2.0)],
        end_s=3,
    )
    assert told(answers) == [("right", 0.0), ("right", 0.0)]


def test_pauses_skips_and_an_early_end() -> None:
    answers = judge_recording(
        exercise("6:5", "5:5", "4:5", "3:5"),
        notes((5.0, "1:1"), (11.0, "6:5"), (15.0, "4:5")),
        cues=[CuePoint(1, 0.0), CuePoint(2, 11.0), CuePoint(3, 13.0), CuePoint(4, 15.0)],
        marks=[
            Mark(MarkKind.PAUSE, 1.0),
            Mark(MarkKind.RESUME, 10.0),
            Mark(MarkKind.SKIP, 13.0),
            Mark(MarkKind.ENDED_EARLY, 16.0),
        ],
        end_s=16,
    )
    assert told(answers) == [("right", 2.0), ("missed", None), ("right", 2.0)]
    assert answers[1].skipped


def test_typed_names() -> None:
    answers = judge_recording(
        exercise("6:5", "5:5", naming=True),
        [],
        cues=[CuePoint(1, 0.0), CuePoint(2, 2.0)],
        typed=[TypedName("A", 1.0), TypedName("E", 3.0), TypedName("D", 4.0)],
        end_s=5,
    )
    assert told(answers) == [("right", 1.0), ("wrong", 1.0)]


def test_the_recording_of_a_live_run_gives_the_same_answers() -> None:
    """Cue points as the live run gave them, notes as it heard them: nothing may differ."""
    asked = exercise("6:5", "5:5", "4:5", "3:5", limit_s=2.0)
    heard = notes((1.0, "6:5"), (1.8, "5:6"), (2.2, "5:5"), (7.0, "3:5"))
    run = Run(asked)
    outputs = run.start(0.3)
    for _, event in heard:
        outputs += run.hear(event)
    outputs += run.tick(20.0)
    cues = [CuePoint(o.prompt.n, o.time_s) for o in outputs if isinstance(o, Cued)]
    live = [o.answer for o in outputs if isinstance(o, Closed)]
    assert len(live) == 4
    assert list(judge_recording(asked, heard, cues=cues, end_s=20.0)) == live

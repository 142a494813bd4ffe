"""Moments of runs and halls as the program tells them, for looking at the page and for its tests."""

from dataclasses import replace
from functools import cache

from midifret.neck import Accidentals, Language
from midifret.pages.drawing import Job, engrave_apart
from midifret.pages.engraver import FONT
from midifret.pages.finish import finished
from midifret.pages.mei import one_note_mei
from midifret.pages.score_page import engraved_page
from midifret.session.interlude import Interlude, InterludeKind, Option, Reply
from midifret.stand.interludes import interlude_screen
from midifret.stand.messages import (
    BeatShown,
    Button,
    Cue,
    Engraving,
    Hall,
    NoteMark,
    Offer,
    Reading,
    RunScreen,
    Spot,
    Told,
)
from midifret.stand.screens import engraving_name, engraving_words, naming_rows
from midifret.terms import SpelledPitch
from tests.pages.tunes import STANDARD, line

PLAYING = (Button(" ", "pause"), Button("n", "next"), Button("a", "again"), Button("q", "quit"))
NAMING = (Button(" ", "pause"), Button("tab", "next"))
PAUSED = (Button(" ", "go on"), Button("n", "next"), Button("a", "again"), Button("q", "quit"))
READY = (Button("enter", "start now"), Button(" ", "pause, go on"), Button("q", "quit"))
CHECKING = (Button("enter", "go on without the check"), Button("q", "quit"))
ENDED = (Button("enter", "go on"), Button("a", "again"), Button("q", "quit"))

RIGHT = Told(11, "right", True, "✓", "Right.", "1.2 s")
WRONG = Told(
    11,
    "fret-off",
    False,
    "✗",
    "You played string 4, fret 4: one fret too low. Asked: string 4, fret 5.",
    "2.4 s",
)
ELSEWHERE = Told(11, "elsewhere", False, "○", "Right note, other place: string 3, open.", "1.9 s")

NAME = Cue(12, "G", 4, None, "", "", "G on string 4", "")
BOTH_NAMES = Cue(12, "G♯ / A♭", None, None, "", "", "G♯ / A♭", "anywhere on the neck")
FIXED_DO = Cue(12, "sol♯ / la♭", 6, None, "", "", "sol♯ / la♭ on string 6", "")
PLACE = Cue(12, "?", 4, 5, "", "", "name the note on string 4, fret 5", "")
OPEN = Cue(12, "D", 4, 0, "", "", "D on string 4, open", "")
INTERVAL = Cue(12, "", None, None, "↑ 3", "", "a major third up", "given: string 5, fret 7")
BARE = Cue(12, "", None, None, "", "", "The walk is yours: play its next note", "each place once")
WAITS = Cue(12, "", None, None, "", "", "Wait for it.", "", waits=True)
SHARP = SpelledPitch("G", 1, 4)


def running(**changes: object) -> RunScreen:
    """A drill at its twelfth prompt, with the changes that are told."""
    screen = RunScreen(
        run=1,
        stage="asking",
        title="Notes on string 4, up to fret 12",
        player="Ada",
        progress=(11, 40),
        right=9,
        clock="1:24",
        count=None,
        cue=NAME,
        told=RIGHT,
        beat=None,
        reading=None,
        message="",
        rows=(),
        typed="",
        naming=(),
        spots=(Spot(4, 5, "right", "✓"),),
        strings=6,
        frets=19,
        left_handed=False,
        buttons=PLAYING,
    )
    return replace(screen, **changes)  # type: ignore[arg-type]


def hall() -> Hall:
    """Today's practice, drills in three groups, readings, calibration."""
    today = (
        Offer("today", "Natural notes on strings 4 and 5", "due again: 7 places", "today", 8.0),
        Offer("today", "A melody in position II", "sight-reading, level 3", "today", 7.0),
        Offer("today", "Thirds across the strings", "new", "today", 5.0),
    )
    offers = tuple(
        Offer(f"{group}/{number}", f"{group} drill {number}", "Find each note once, slowly.", group, 6.0)
        for group in ("Stage 1: open strings", "Stage 2: natural notes", "Stage 3: all notes")
        for number in range(1, 7)
    )
    more = (
        Offer("melody", "An unseen melody", "level 3, position II", "Readings"),
        Offer("calibrate", "Calibrate", "about four minutes", "Calibration", 4.0),
    )
    return Hall("Ada", "Your last calibration is 40 days old.", today, offers + more, "/report")


@cache
def staff_note() -> Engraving:
    """One note on a staff."""
    ((svg,),) = engrave_apart([Job(one_note_mei(SHARP), 30, 7)])
    return Engraving(engraving_name(SHARP), (finished(svg, font=FONT),), engraving_words(SHARP))


def staff_cue() -> Cue:
    """That note as a cue."""
    return Cue(12, "", 4, None, "", staff_note().name, "on string 4", "")


@cache
def music() -> tuple[Engraving, dict[int, str]]:
    """Eight lines of music, and the ident of each note's first head."""
    page = engraved_page(line(" ".join(["E4 F4 G4 A4 B3:1/2 C4:1/2 D4 A3:2"] * 16)), neck=STANDARD)
    heads = {n: idents[0] for n, idents in page.heads.items()}
    return Engraving("music 1", page.systems, "a melody of 32 bars"), heads


def reading(n: int = 30, line_shown: int = 1, **changes: object) -> RunScreen:
    """A reading at its n-th note."""
    engraving, heads = music()
    signs = {"right": "✓", "wrong": "✗", "missed": "–", "elsewhere": "○"}
    verdicts = ["right"] * 5 + ["wrong", "right", "missed", "right", "elsewhere"]
    marks = tuple(
        NoteMark(heads[i], verdicts[i % 10], signs[verdicts[i % 10]]) for i in range(1, n) if i in heads
    )
    return running(
        **{
            "title": "A short tune",
            "cue": None,
            "told": RIGHT,
            "spots": (),
            "reading": Reading(engraving.name, heads[n], line_shown, marks, True),
            **changes,
        }
    )


CHECKS = (
    "✓  string 1  E     +2 cents  in tune",
    "✓  string 2  B     -1 cents  in tune",
    "✗  string 3  G    +34 cents  too high",
    "·  string 4  D               waiting",
    "·  string 5  A               waiting",
    "·  string 6  E               waiting",
)
FIGURES = (
    "The run is over.",
    "Time played 4:12.",
    "31 of 40 right (77%).",
    "Median time of an answer 1.9 s, of recall 1.1 s.",
    "Hardest: G♯ on string 4, C♯ on string 5.",
    "Gate: 90% right within 2 s: not met.",
)


def moments() -> dict[str, RunScreen | Hall]:
    """Every screen there is, by a short name."""
    beat = BeatShown(2, 4, 0, True, 72.0)
    return {
        "hall": hall(),
        "checking": running(
            stage="checking",
            cue=None,
            told=None,
            spots=(),
            rows=CHECKS,
            buttons=CHECKING,
            progress=(0, 40),
            right=0,
            clock="0:00",
        ),
        "countdown": running(
            stage="countdown",
            cue=None,
            told=None,
            spots=(),
            count=3,
            buttons=READY,
            progress=(0, 40),
            right=0,
            clock="0:00",
            rows=("Finding the notes of one string by name.", "Spend 5 to 10 minutes on it."),
        ),
        "name": running(),
        "both_names": running(
            cue=BOTH_NAMES, told=ELSEWHERE, spots=(Spot(3, 0, "wrong", "○"), Spot(4, 5, "asked", "?"))
        ),
        "fixed_do": running(cue=FIXED_DO, left_handed=True),
        "staff": running(
            cue=staff_cue(), told=WRONG, spots=(Spot(4, 4, "wrong", "✗"), Spot(4, 5, "asked", "?"))
        ),
        "interval": running(cue=INTERVAL, spots=(Spot(5, 7, "given", "●"),)),
        "bare": running(cue=BARE),
        "waits": running(cue=WAITS, told=None, spots=()),
        "naming": running(
            cue=PLACE,
            naming=naming_rows(Language.ENGLISH, Accidentals.BOTH),
            spots=(Spot(4, 5, "named", "?"),),
            buttons=NAMING,
            typed="",
            block="Block 2 of 3: due again, 7 places",
        ),
        "naming_do": running(
            cue=PLACE,
            naming=naming_rows(Language.FIXED_DO, Accidentals.BOTH),
            spots=(Spot(4, 5, "named", "?"),),
            buttons=NAMING,
            typed="sol♯",
        ),
        "open": running(cue=OPEN, message="No note was heard for 20 s: is the guitar's volume up?"),
        "tempo": running(beat=beat, told=Told(11, "right", True, "✓", "Right.", "12 ms late")),
        "count_in": running(beat=BeatShown(3, 4, 2, False, 72.0), told=None, spots=()),
        "paused": running(
            stage="paused",
            cue=None,
            told=WRONG,
            spots=(),
            buttons=PAUSED,
            rows=(
                "Paused. The prompt is hidden and the time stands still.",
                "Open strings plucked together: 1 and 6 start, 5 and 6 quit.",
            ),
        ),
        "between": interlude_screen(
            Interlude(
                InterludeKind.BLOCK,
                "Places that are due",
                ("Seven places wait: string 4, frets 5 to 9.",),
                (Option(Reply.GO, "enter", "begin"), Option(Reply.SKIP, "s", "leave it out")),
                number=2,
                of=3,
            ),
            run=2,
            player="Ada",
        ),
        "ended": running(
            stage="ended", cue=None, told=None, spots=(), rows=FIGURES, buttons=ENDED, progress=(40, 40)
        ),
        "reading": reading(),
        "reading_ended": reading(
            stage="ended",
            told=None,
            rows=FIGURES,
            buttons=ENDED,
            beat=None,
        ),
    }

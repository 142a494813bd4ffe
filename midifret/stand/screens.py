"""A moment of a run as the page shows it: the same words, keys and marks as in the terminal, as values."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from midifret.neck import Accidentals, Language, interval_number, interval_words, pitch_name
from midifret.session.screen import LastAnswer, Screen, Stage
from midifret.show.frame import summary_rows
from midifret.show.keys import key_hints
from midifret.show.reading_staff import sign_of
from midifret.show.rows import plain
from midifret.show.shown import (
    BEGIN_WORDS,
    GOES_ON_WORDS,
    PAUSED_WORDS,
    check_words,
    large_name,
    marks_on_neck,
    minutes_words,
    of_before,
    over_words,
    time_words,
    waits_words,
)
from midifret.show.staff import staff_words
from midifret.show.words import (
    beside_words,
    clock_words,
    cue_words,
    places_words,
    shown_place,
    signal_words,
    tempo_words,
    typed_shown,
    verdict_words,
    walk_words,
)
from midifret.stand.messages import (
    BeatShown,
    Button,
    Cue,
    NoteMark,
    Reading,
    RunScreen,
    Spot,
    Told,
)
from midifret.terms import CueKind, Judged, Prompt, SpelledPitch, Verdict

_NATURALS = "CDEFGAB"
_SHARPS, _FLATS = "CDFGA", "DEGAB"
# Keys as the screens call them, and as a page tells them.
_TOLD_KEYS = {"space": " "}
_NO_BUTTON = "letters"  # a name is given by its own button


@dataclass(frozen=True, slots=True)
class Engraved:
    """What was engraved before a run began, by the names under which a page has it.

    notes: staff of each note that a cue shows. music: of a reading; empty for none. heads: ident of each
    note's first head on it. lines: on which line of it each note is, from 0.
    """

    notes: Mapping[SpelledPitch, str] = field(default_factory=dict)
    music: str = ""
    heads: Mapping[int, str] = field(default_factory=dict)
    lines: Mapping[int, int] = field(default_factory=dict)


NOTHING_ENGRAVED = Engraved()


def run_screen(
    screen: Screen,
    *,
    run: int,
    engraved: Engraved = NOTHING_ENGRAVED,
    left_handed: bool = False,
    block: str = "",
) -> RunScreen:
    """Return what a page shows of this moment. run: a number of its own. block: as in `RunScreen`."""
    asking = screen.stage is Stage.ASKING
    prompt, exercise = screen.prompt, screen.exercise
    naming = asking and prompt is not None and prompt.judged is Judged.NAME
    in_tempo = exercise.tempo is not None
    beat = screen.beat
    told = of_before(screen) if screen.stage is Stage.PAUSED else screen.last
    return RunScreen(
        run=run,
        stage=screen.stage.value,
        title=exercise.title or exercise.name,
        player="simulated player" if screen.simulated else screen.player,
        progress=(screen.answered, len(exercise.prompts)),
        right=screen.right,
        clock=clock_words(screen.elapsed_s),
        count=screen.count,
        cue=_cue(screen, engraved) if asking else None,
        told=_told(screen, told) if told is not None and screen.stage in _TELLING else None,
        beat=BeatShown(beat.number, beat.a_bar, beat.counts_in, beat.struck, beat.tempo_bpm)
        if beat is not None
        else None,
        reading=_reading(screen, engraved),
        message=screen.message,
        rows=_rows(screen),
        typed=typed_shown(screen.typed, screen.language) if naming else "",
        naming=naming_rows(screen.language, screen.accidentals) if naming else (),
        spots=_spots(screen),
        strings=screen.guitar.neck.strings,
        frets=screen.guitar.neck.last_fret,
        left_handed=left_handed,
        buttons=tuple(
            Button(_TOLD_KEYS.get(key, key), words.partition(" (")[0])
            for key, words in key_hints(prompt, screen.stage, in_tempo=in_tempo)
            if key != _NO_BUTTON
        ),
        block=block,
    )


_TELLING = (Stage.ASKING, Stage.PAUSED)


def naming_rows(language: Language, accidentals: Accidentals) -> tuple[tuple[str, ...], ...]:
    """The names for the buttons of a naming drill: the naturals, then what lies between them."""
    rows = [tuple(pitch_name(SpelledPitch(step, 0, 4), language) for step in _NATURALS)]
    if accidentals is not Accidentals.FLATS:
        rows.append(tuple(pitch_name(SpelledPitch(step, 1, 4), language) for step in _SHARPS))
    if accidentals is not Accidentals.SHARPS:
        rows.append(tuple(pitch_name(SpelledPitch(step, -1, 4), language) for step in _FLATS))
    return tuple(rows)


def engraving_name(pitch: SpelledPitch) -> str:
    """Under which name a page has the staff of one note, in English with its sounding octave."""
    return f"note {pitch_name(pitch, signs=False)}{pitch.octave}"


def engraving_words(pitch: SpelledPitch) -> str:
    """What is said of the staff of one note to who cannot see it; its name is not told."""
    return f"a note {staff_words(pitch)}"


# --- cue and verdict ------------------------------------------------------------------------------


def _cue(screen: Screen, engraved: Engraved) -> Cue | None:
    """What is asked; in a reading only what has to be said of its next note."""
    prompt = screen.prompt
    if prompt is None:
        words = waits_words(screen)
        return _bare_cue(screen.answered + 1, words, "", waits=True) if words else None
    if screen.exercise.score is not None:
        return _bare_cue(prompt.n, prompt.hint, "") if prompt.hint else None
    hint = "; ".join(beside_words(prompt))
    if not prompt.cue and prompt.judged is not Judged.NAME:
        words = walk_words(prompt, screen.language)
        if prompt.n > 1:
            return _bare_cue(prompt.n, words, hint)
        start = replace(prompt, cue=(CueKind.NAME, CueKind.PLACE))
        return replace(_cue_of(screen, start, engraved), words=words)
    return _cue_of(screen, prompt, engraved)


def _bare_cue(n: int, words: str, hint: str, *, waits: bool = False) -> Cue:
    words = f"{words[:1].upper()}{words[1:]}"
    return Cue(n, "", None, None, "", "", words, hint, waits)


def _cue_of(screen: Screen, prompt: Prompt, engraved: Engraved) -> Cue:
    names = prompt.judged is Judged.NAME
    engraving = engraved.notes.get(prompt.pitch, "") if CueKind.STAFF in prompt.cue and not names else ""
    place = shown_place(prompt)
    if place is None and prompt.given is not None and prompt.cue == (CueKind.PLACE,):
        place = prompt.given
    string = None if place is None else place.string
    if place is None and CueKind.STRING in prompt.cue:
        string = prompt.places[0].string
    name = "?" if names else large_name(screen, prompt)
    semitones = prompt.interval_semitones
    alone = string is None and CueKind.STAFF not in prompt.cue and CueKind.NAME not in prompt.cue
    return Cue(
        n=prompt.n,
        name=name,
        string=string,
        fret=None if place is None else place.fret,
        interval=_interval(semitones) if alone and semitones is not None else "",
        engraving=engraving,
        words=cue_words(
            prompt, screen.language, screen.accidentals, staff_drawn=bool(engraving), beside=False
        ),
        hint="; ".join(beside_words(prompt)),
    )


def _interval(semitones: int) -> str:
    number = interval_number(semitones)
    return interval_words(semitones) if number is None else f"{'↑' if semitones > 0 else '↓'} {number}"


def _told(screen: Screen, last: LastAnswer) -> Told:
    right = last.verdict is Verdict.RIGHT
    words = verdict_words(last, screen.guitar.neck, screen.language)
    asked = places_words(last.asked)
    in_music = screen.exercise.score is not None  # no neck shows it there
    if in_music and not right and last.verdict is not Verdict.MISSED and asked not in words:
        words = f"{words} Asked: {asked}."
    return Told(
        n=last.n,
        verdict=last.verdict.value,
        right=right,
        sign=sign_of(last.verdict)[0],
        words=words,
        time=time_words(last),
    )


def _spots(screen: Screen) -> tuple[Spot, ...]:
    if screen.stage is not Stage.ASKING or screen.exercise.score is not None:
        return ()
    marks = marks_on_neck(screen)
    return tuple(
        Spot(place.string, place.fret, mark.name.lower(), mark.sign) for place, mark in sorted(marks.items())
    )


# --- readings -------------------------------------------------------------------------------------


def _reading(screen: Screen, engraved: Engraved) -> Reading | None:
    """The music, where one is and how it went; hidden in a pause, and before the beginning."""
    if not engraved.music or screen.stage not in (Stage.ASKING, Stage.ENDED):
        return None
    prompt = screen.prompt
    here = prompt.n if prompt is not None else max(1, screen.answered)
    return Reading(
        engraving=engraved.music,
        cursor=engraved.heads.get(prompt.n, "") if prompt is not None else "",
        line=engraved.lines.get(here, 0),
        marks=tuple(
            NoteMark(engraved.heads[n], verdict.value, sign_of(verdict)[0])
            for n, verdict in screen.verdicts
            if n in engraved.heads
        ),
        whole=True,
    )


# --- lines of words -------------------------------------------------------------------------------


def _rows(screen: Screen) -> tuple[str, ...]:
    """What stands in words alone: the check of the strings, what comes, that it waits, the figures."""
    in_tempo = screen.exercise.tempo is not None
    signals = signal_words(screen.guitar, in_tempo=in_tempo)
    match screen.stage:
        case Stage.CHECKING:
            return tuple("  ".join(part.rstrip() for part in check_words(each)) for each in screen.checks)
        case Stage.COUNTDOWN:
            exercise = screen.exercise
            tempo = tempo_words(exercise.tempo) if exercise.tempo is not None else ""
            begin = BEGIN_WORDS if screen.count is None else ""
            return _kept(exercise.trains, minutes_words(screen), tempo, signals, begin)
        case Stage.PAUSED:
            return _kept(GOES_ON_WORDS if screen.count is not None else PAUSED_WORDS, signals)
        case Stage.ENDED:
            if screen.summary is None:
                return (*over_words(screen), f"{screen.right} of {screen.answered} right.")
            return _kept(*over_words(screen), *(plain(line) for line in summary_rows(screen)))
    return ()


def _kept(*lines: str) -> tuple[str, ...]:
    """Those that say something."""
    return tuple(line.rstrip() for line in lines if line.strip())

"""The screen of a live run as rows of text: what stands where, at any size of terminal."""

from dataclasses import replace

from midifret.neck import interval_number, interval_words
from midifret.session.screen import LastAnswer, Screen, Stage, StringCheck
from midifret.show.keys import key_hints
from midifret.show.letters import LEAST_ROWS, USUAL_ROWS, circled, fitting_text
from midifret.show.neck import legend, small_neck
from midifret.show.reading_staff import reading_staff
from midifret.show.rows import (
    BLANK,
    Block,
    Row,
    Span,
    beside,
    block_width,
    centred,
    centred_vertically,
    clean,
    ends,
    filling,
    fit,
    plain,
    row,
)
from midifret.show.run_figures import figure_rows, voided_rows
from midifret.show.shown import (
    BEGIN_WORDS,
    GOES_ON_WORDS,
    PAUSED_WORDS,
    caption,
    check_words,
    large_name,
    marks_on_neck,
    minutes_long,
    minutes_words,
    of_before,
    over_words,
    still_to_find,
    time_words,
    waits_words,
)
from midifret.show.staff import staff_note, staff_step
from midifret.show.words import (
    clock_words,
    counted,
    cue_words,
    places_words,
    shown_place,
    signal_words,
    tempo_words,
    typed_shown,
    verdict_words,
    walk_words,
)
from midifret.terms import CueKind, Exercise, Judged, Prompt, Verdict

LEAST_WIDTH, LEAST_HEIGHT = 60, 16
_MOST_LETTER_ROWS = 14
_LEAST_BIG_ROWS = 5
_GAP = 4
_MOST_MESSAGE_ROWS = 4


def frame(screen: Screen, width: int, height: int, *, ascii_only: bool = False) -> Block:
    """Lay out one moment of a run: exactly `height` rows, none wider than `width` cells.

    Below 60 x 16 there is room for plain lines only.
    """
    if width < LEAST_WIDTH or height < LEAST_HEIGHT:
        lines = _compact(screen, width, height)
    else:
        foot = _foot(screen, width)
        lines = _head(screen, width) + _body(screen, width, height - 2 - len(foot)) + foot
    return filling(lines, width, height, ascii_only=ascii_only)


def _head(screen: Screen, width: int) -> Block:
    title = screen.exercise.title or screen.exercise.name
    who = "simulated player" if screen.simulated else screen.player
    left = row(Span(title, "strong"), Span(f"  {who}", "quiet"))
    return (ends(left, row(_progress_words(screen)), width), _bar(screen, width))


def _progress_words(screen: Screen) -> str:
    total = len(screen.exercise.prompts)
    if screen.stage in (Stage.CHECKING, Stage.COUNTDOWN):
        return f"{total} prompts" if screen.lasts_s is None else minutes_long(screen.lasts_s)
    number = screen.prompt.n if screen.prompt is not None else screen.answered
    if screen.lasts_s is not None:
        time = f"{clock_words(screen.elapsed_s)} of {clock_words(screen.lasts_s)}"
        return f"{counted(screen.answered, 'answer')}   {screen.right} right   {time}"
    return f"{number} of {total}   {screen.right} right   {clock_words(screen.elapsed_s)}"


def _bar(screen: Screen, width: int) -> Row:
    if screen.lasts_s is not None:
        done = min(width, int(width * screen.elapsed_s / max(screen.lasts_s, 1.0)))
    else:
        done = min(width, width * screen.answered // max(1, len(screen.exercise.prompts)))
    return row(Span("━" * done, "strong"), Span("─" * (width - done), "quiet"))


def _foot(screen: Screen, width: int) -> Block:
    asking = screen.stage is Stage.ASKING and not (screen.beat and screen.beat.counts_in)
    most_rows = 2 if asking else _MOST_MESSAGE_ROWS
    message = wrapped(screen.message, width, "message")[:most_rows] or (BLANK,)
    return (*message, fit(_keys(screen), width))


def _keys(screen: Screen) -> Row:
    spans: list[Span | str] = []
    for key, words in key_hints(screen.prompt, screen.stage, in_tempo=screen.exercise.tempo is not None):
        spans += ["   " if spans else "", Span(key, "strong"), Span(f" {words}", "quiet")]
    return row(*spans)


def _body(screen: Screen, width: int, height: int) -> Block:
    match screen.stage:
        case Stage.CHECKING:
            body = _checking(screen, width)
        case Stage.COUNTDOWN:
            body = _countdown(screen, width, height)
        case Stage.PAUSED:
            body = _paused(screen, width, height)
        case Stage.ENDED:
            body = _ended(screen, width, height)
        case _:
            return _asking(screen, width, height)
    return centred_vertically(body[:height], height)


# --- asking ---------------------------------------------------------------------------------------


def _asking(screen: Screen, width: int, height: int) -> Block:
    """Prompt, words, verdict, neck and legend; the neck gives way where the prompt would become too small."""
    if screen.exercise.score is not None:
        return _reading(screen, width, height)
    marks = marks_on_neck(screen)
    neck = small_neck(screen.guitar.neck, marks, width)
    below: Block = (*centred(neck, width), *centred((legend(marks.values()),), width))
    beat: Block = centred((beat_row(screen),), width) if screen.exercise.tempo is not None else ()
    height -= len(beat)
    room = height - 2 - len(below)
    words, big = _cue(screen, width, max(room, _LEAST_BIG_ROWS))
    if len(big) > room:
        below, room = centred((_asked(screen, width),), width), height - 3
        words, big = _cue(screen, width, room)
    return (
        *beat,
        *centred_vertically(centred(big[:room], width), room),
        *centred((fit(row(words), width),), width),
        *centred((_verdict(screen, width),), width),
        *below,
    )


def _reading(screen: Screen, width: int, height: int) -> Block:
    """The beat, the music, what has to be said of the next note, the verdict and what was asked."""
    beat: Block = centred((beat_row(screen),), width) if screen.exercise.tempo is not None else ()
    room = height - len(beat) - 3
    staff = reading_staff(screen, width, room)
    hint = screen.prompt.hint if screen.prompt is not None else ""
    return (
        *beat,
        *centred_vertically(staff, room),
        *centred((row(Span(hint, "quiet")),), width),
        *centred((_verdict(screen, width),), width),
        *centred((_asked(screen, width),), width),
    )


def beat_row(screen: Screen) -> Row:
    """The beats of a bar, the present one filled, and how many are left of the count-in."""
    beat, tempo = screen.beat, screen.exercise.tempo
    if beat is None:
        return row(Span("waiting for the beat" if tempo is not None else "", "quiet"))
    spans: list[Span | str] = []
    for number in range(1, beat.a_bar + 1):
        here = number == beat.number
        sign = ("█" if beat.struck else "●") if here else "○"
        spans += [Span(f"{sign} ", "strong" if here else "quiet")]
    spans.append(Span(f"  {beat.tempo_bpm:.0f} bpm", "quiet"))
    if beat.counts_in:
        spans.append(Span(f"  count-in {beat.counts_in}", "strong"))
    return row(*spans)


def _asked(screen: Screen, width: int) -> Row:
    """The places that would have been right, in words, where no neck shows them."""
    last = screen.last
    if last is None or last.verdict in (Verdict.RIGHT, Verdict.MISSED) or still_to_find(screen, last):
        return BLANK
    return fit(row(f"Asked: {places_words(last.asked)}."), width)


def _verdict(screen: Screen, width: int) -> Row:
    last = screen.last
    if last is None:
        return BLANK
    right = last.verdict is Verdict.RIGHT
    sign, style = (" ✓ ", "right") if right else (" ✗ ", "wrong")
    words = verdict_words(last, screen.guitar.neck, screen.language)
    time = f"  {time_words(last)}".rstrip()
    return fit(row(Span(sign, f"{style} mark"), Span(f" {words}", style), Span(time, "quiet")), width)


def _cue(screen: Screen, width: int, rows: int) -> tuple[str, Block]:
    """The words of the cue and its large form."""
    prompt = screen.prompt
    if prompt is None:
        return waits_words(screen), ()
    words = caption(screen, prompt)
    if not prompt.cue and prompt.judged is not Judged.NAME:
        text = walk_words(prompt, screen.language)
        return f"{text[0].upper()}{text[1:]}", _walk(screen, prompt, width, rows)
    return words, _large(screen, prompt, width, min(rows, _MOST_LETTER_ROWS), rows)


def _walk(screen: Screen, prompt: Prompt, width: int, rows: int) -> Block:
    """Where the walk begins; then, as an echo and no cue, the note last played right."""
    letter_rows = min(rows, _MOST_LETTER_ROWS)
    if prompt.n == 1:
        start = replace(prompt, cue=(CueKind.NAME, CueKind.PLACE))
        return _large(screen, start, width, letter_rows, rows)
    last = screen.last
    if last is None or last.verdict is not Verdict.RIGHT:
        return ()
    return tuple(row(Span(line, "quiet")) for line in fitting_text(last.name, letter_rows, width))


def _large(screen: Screen, prompt: Prompt, width: int, letter_rows: int, rows: int) -> Block:
    """The cue in block letters, as high as fits the width; the circle shrinks before the name does."""
    best: Block = ()
    for circle_rows in range(min(letter_rows, 9), LEAST_ROWS, -1):
        fixed = _fixed_parts(screen, prompt, circle_rows, rows)
        name = large_name(screen, prompt)
        if not name:
            best = beside(fixed, _GAP)
        else:
            left = width - sum(block_width(part) + _GAP for part in fixed)
            letters = _big(fitting_text(name, letter_rows, left))
            best = beside([*fixed, letters] if prompt.judged is Judged.NAME else [letters, *fixed], _GAP)
            if len(letters) < min(letter_rows, USUAL_ROWS) and circle_rows > LEAST_ROWS + 1:
                continue
        if block_width(best) <= width:
            return best
    return tuple(fit(line, width) for line in best)


def _big(lines: tuple[str, ...]) -> Block:
    return tuple(row(Span(line, "big")) for line in lines)


def _fixed_parts(screen: Screen, prompt: Prompt, circle_rows: int, rows: int) -> list[Block]:
    """Staff, circled string and fret: the parts of a cue that have one size."""
    parts: list[Block] = []
    if CueKind.STAFF in prompt.cue:
        lowest, highest = staff_compass(screen.exercise)
        parts.append(_big(staff_note(prompt.pitch, rows, lowest, highest)))
    place = shown_place(prompt)
    if place is not None:
        fret = _big(fitting_text(str(place.fret), max(LEAST_ROWS, circle_rows - 3), 40))
        label = row(Span("open" if place.fret == 0 else "fret", "quiet"))
        parts += [_big(circled(place.string, circle_rows)), (label, *fret)]
    elif CueKind.STRING in prompt.cue:
        parts.append(_big(circled(prompt.places[0].string, circle_rows)))
    elif prompt.given is not None and prompt.cue == (CueKind.PLACE,):
        fret = _big(fitting_text(str(prompt.given.fret), max(LEAST_ROWS, circle_rows - 3), 40))
        label = row(Span("given, open" if prompt.given.fret == 0 else "given, fret", "quiet"))
        parts += [_big(circled(prompt.given.string, circle_rows)), (label, *fret)]
    if not parts and CueKind.NAME not in prompt.cue and prompt.interval_semitones is not None:
        parts.append(_interval(prompt.interval_semitones, circle_rows))
    return parts


def _interval(semitones: int, rows: int) -> Block:
    """An interval as an arrow and its number; in words alone where it has none."""
    number = interval_number(semitones)
    if number is None:
        return (row(Span(interval_words(semitones), "big")),)
    return _big(fitting_text(f"{'↑' if semitones > 0 else '↓'} {number}", rows, 60))


def staff_compass(exercise: Exercise) -> tuple[int, int]:
    """The lowest and highest staff step of an exercise, so that its staff stays in one place."""
    steps = [staff_step(prompt.pitch) for prompt in exercise.prompts]
    return min(steps, default=0), max(steps, default=8)


# --- the other stages -----------------------------------------------------------------------------


def _checking(screen: Screen, width: int) -> Block:
    lines: list[Row] = [row(Span("The open strings", "big")), BLANK]
    lines += [_check_row(check) for check in screen.checks]
    return centred(tuple(lines), width)


def _check_row(check: StringCheck) -> Row:
    sign, string, cents, state = check_words(check)
    style = {"✓": "right", "·": "quiet", "✗": "wrong"}[sign]
    return row(
        Span(f"{sign} ", style),
        Span(string, "strong"),
        f"{cents:>10}  ",
        Span(state, style if style == "wrong" else ""),
    )


def _countdown(screen: Screen, width: int, height: int) -> Block:
    exercise = screen.exercise
    lines: list[Row] = list(wrapped(exercise.trains, min(width, 70)))
    minutes = minutes_words(screen)
    if minutes:
        lines.append(row(Span(minutes, "quiet")))
    lines.append(BLANK)
    in_tempo = exercise.tempo is not None
    if exercise.tempo is not None:
        lines += [row(Span(tempo_words(exercise.tempo), "quiet")), BLANK]
    signals = signal_words(screen.guitar, in_tempo=in_tempo)
    if signals:
        lines += [row(Span(signals, "quiet")), BLANK]
    if screen.count is None:
        lines.append(row(Span(BEGIN_WORDS, "big")))
    number = "" if screen.count is None else str(screen.count)
    rows = min(_MOST_LETTER_ROWS, max(LEAST_ROWS, height - len(lines) - 1))
    big = _big(fitting_text(number, rows, width)) if number else ()
    return (*centred(tuple(lines), width), *centred(big, width))


def _paused(screen: Screen, width: int, height: int) -> Block:
    rows = min(8, height - 4)
    going_on = screen.count is not None
    if going_on:
        sign = centred(_big(fitting_text(str(screen.count), max(LEAST_ROWS, rows), width)), width)
        said = GOES_ON_WORDS
    else:
        bar = (row(Span("██████", "big")),) * rows
        sign = centred(beside([bar, bar], _GAP), width)
        said = PAUSED_WORDS
    words = (
        BLANK,
        row(Span(said, "strong")),
        row(Span(signal_words(screen.guitar, in_tempo=screen.exercise.tempo is not None), "quiet")),
    )
    last = (BLANK, _verdict(screen, width)) if of_before(screen) else ()
    return (
        *sign,
        *centred(words, width),
        *centred(last, width),
    )


def _ended(screen: Screen, width: int, height: int) -> Block:
    over, time = over_words(screen)
    lines: list[Row] = [row(Span(over, "strong"), f"  {time}")]
    summary = screen.summary
    if summary is None:
        lines.append(row(f"{screen.right} of {screen.answered} right."))
        return centred(tuple(lines), width)
    lines += [BLANK, *summary_rows(screen)]
    if len(lines) > height:
        lines = [line for line in lines if plain(line).strip()][:height]
        if lines[-1] and lines[-1][0].style == "strong":
            lines.pop()  # a heading that has lost what it heads
    return centred(tuple(fit(line, width) for line in lines), width)


def summary_rows(screen: Screen) -> Block:
    """The figures of the run, for the screen; see midifret.show.run_figures for the printed ones."""
    if screen.summary is None:
        return ()
    return (*figure_rows(screen.summary), *voided_rows(dict(screen.voided), screen.notes))


def wrapped(text: str, width: int, style: str = "") -> Block:
    """A text broken into rows between words."""
    lines: list[str] = []
    line = ""
    for word in clean(text).split():
        if line and len(line) + 1 + len(word) > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
    return tuple(row(Span(each, style)) for each in ([*lines, line] if line else lines))


# --- small terminals ------------------------------------------------------------------------------


def _compact(screen: Screen, width: int, height: int) -> Block:
    """Plain lines, the most needed first, for a terminal too small for anything else."""
    lines: list[Row] = []
    prompt = screen.prompt
    match screen.stage:
        case Stage.ASKING if prompt is not None:
            if screen.exercise.tempo is not None:
                lines.append(fit(beat_row(screen), width))
            lines += wrapped(cue_words(prompt, screen.language, screen.accidentals), width, "big")
            if prompt.judged is Judged.NAME:
                lines.append(row(Span(f"> {typed_shown(screen.typed, screen.language)}", "big")))
            lines += _compact_verdict(screen, width)
        case Stage.PAUSED:
            lines.append(row(Span("Paused." if screen.count is None else f"{screen.count}", "big")))
        case Stage.COUNTDOWN:
            lines.append(row(Span(f"{screen.count or ''}", "big")))
        case Stage.CHECKING:
            lines.append(row(Span("The open strings", "big")))
            lines += [fit(_check_row(check), width) for check in screen.checks]
        case Stage.ENDED:
            lines.append(row(Span("The run is over.", "big")))
            lines += [line for line in summary_rows(screen) if line]
    lines.append(row(_progress_words(screen)))
    if screen.message:
        lines += wrapped(screen.message, width, "message")
    keys = _keys(screen)
    lines = lines[: max(1, height - 1)]
    return (*lines, *((BLANK,) * (height - 1 - len(lines))), fit(keys, width)) if height > 1 else tuple(lines)


def _compact_verdict(screen: Screen, width: int) -> Block:
    last: LastAnswer | None = screen.last
    if last is None:
        return ()
    right = last.verdict is Verdict.RIGHT
    words = ("✓ " if right else "✗ ") + verdict_words(last, screen.guitar.neck, screen.language)
    return wrapped(words, width, "right" if right else "wrong")

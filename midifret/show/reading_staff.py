"""The bar that is read and the next one on a staff in the terminal, each note with its verdict by shape."""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from midifret.reading.bars import bar_at, bars_of
from midifret.session.reading_beat import GridBeat, beat_grid
from midifret.session.screen import Screen
from midifret.show.rows import BLANK, Block, Row, Span, row
from midifret.show.staff import staff_step
from midifret.terms import CueKind, Prompt, Verdict
from midifret.terms.score import BarStart, Score, ScoreNote

TOP_LINE = 8  # staff step of the top line; the lowest is 0
_MARGIN = 3  # the clef
_NOTE_CELLS = 4  # an accidental, a head of two cells, a gap
_BETWEEN = 3  # a bar line with room
_LONG = Fraction(2)  # from a half note on heads are hollow

# Shape first, colour second. From a metre off the difference has to be plain.
SIGNS = {
    Verdict.RIGHT: ("✓", "right"),
    Verdict.ELSEWHERE: ("○", "wrong"),
    Verdict.MISSED: ("–", "wrong"),
}
_WRONG = ("✗", "wrong")
CURSOR_SIGN = "▲"


def sign_of(verdict: Verdict) -> tuple[str, str]:
    """The sign of a verdict and its style: ✓ right, ○ right note elsewhere, – missed, ✗ anything else."""
    return SIGNS.get(verdict, _WRONG)


@dataclass(frozen=True, slots=True)
class _Column:
    """What stands at one moment. column: of its heads, from the left edge."""

    column: int
    notes: tuple[ScoreNote, ...]


@dataclass(frozen=True, slots=True)
class _Part:
    """One bar, or as much of it as fits.

    left, right: its edges, from the left edge of the screen. begin, length: in quarter notes.
    """

    bar: BarStart
    index: int
    left: int
    right: int
    columns: tuple[_Column, ...]
    begin: Fraction
    length: Fraction

    def column_of(self, onset_quarter: Fraction) -> int | None:
        """Where a moment lies; None where it is not in what is shown."""
        for column in self.columns:
            if column.notes[0].onset_quarter == onset_quarter:
                return column.column
        share = (onset_quarter - self.begin) / self.length
        return self.left + 1 + int(share * (self.right - self.left - _NOTE_CELLS)) if 0 <= share < 1 else None


def reading_staff(screen: Screen, width: int, rows: int) -> Block:
    """The bar under the cursor and, where both fit, the next, in at most `rows` rows and `width` cells.

    From the top: bar numbers; beats, if there is room; the staff with a row for each line and space, or one
    for both where that is too high; the signs of the verdicts with the cursor; the places of a fingering.
    """
    score = screen.exercise.score
    if score is None or not score.notes:
        return ()
    prompt = screen.prompt
    n = prompt.n if prompt is not None else min(max(screen.answered, 1), len(score.notes))
    parts = _parts(score, n, width)
    shown = [note for part in parts for column in part.columns for note in column.notes]
    verdicts = dict(screen.verdicts)
    steps = [staff_step(note.pitch) for note in shown]
    lowest, highest = min([0, *steps]), max([TOP_LINE, *steps])
    places = _places_row(screen.exercise.prompts, parts, width)
    room = rows - 2 - len(places)  # the beats may go
    narrow = highest - lowest + 1 > room
    staff = _staff(parts, verdicts, n, prompt, lowest, highest, width, narrow=narrow)
    numbers = _numbers(parts, len(bars_of(score)), width)
    signs = _signs(parts, verdicts, prompt, width)
    beats = (_beats(score, parts, width),) if len(staff) + 3 + len(places) <= rows else ()
    return (numbers, *beats, *staff, signs, *places)[:rows]


def _parts(score: Score, n: int, width: int) -> tuple[_Part, ...]:
    bars = bars_of(score)
    here = bar_at(bars, score.notes[n - 1].onset_quarter)
    room = width - _MARGIN
    groups = [_moments(score, bars, index) for index in (here, here + 1) if index < len(bars)]
    half = (room - _BETWEEN) // 2
    if len(groups) == 2 and all(len(group) * _NOTE_CELLS <= half for group in groups):
        return (
            _part(bars, here, groups[0], _MARGIN, half),
            _part(bars, here + 1, groups[1], _MARGIN + half + _BETWEEN, half),
        )
    most = max(1, room // _NOTE_CELLS)
    group = groups[0]
    if len(group) > most:  # as much as fits, beginning a little before the cursor
        at = next(i for i, notes in enumerate(group) if any(note.n == n for note in notes))
        begin = min(max(0, at - most // 4), len(group) - most)
        group = group[begin : begin + most]
    return (_part(bars, here, group, _MARGIN, room),)


def _moments(score: Score, bars: Sequence[BarStart], index: int) -> list[tuple[ScoreNote, ...]]:
    begin = bars[index].onset_quarter
    end = bars[index + 1].onset_quarter if index + 1 < len(bars) else None
    found: dict[Fraction, list[ScoreNote]] = {}
    for at in range(bisect_left(score.notes, begin, key=_onset), len(score.notes)):
        note = score.notes[at]
        if end is not None and note.onset_quarter >= end:
            break
        found.setdefault(note.onset_quarter, []).append(note)
    return [tuple(notes) for notes in found.values()]


def _part(
    bars: Sequence[BarStart], index: int, moments: list[tuple[ScoreNote, ...]], left: int, width: int
) -> _Part:
    """Set the moments of a bar as far apart as they are in time, and never closer than a note needs."""
    begin = moments[0][0].onset_quarter if moments else Fraction(0)
    begin = min(begin, bars[index].onset_quarter) if len(moments) * _NOTE_CELLS <= width else begin
    end = max((note.end_quarter for notes in moments for note in notes), default=begin)
    if index + 1 < len(bars):
        end = max(end, bars[index + 1].onset_quarter)
    length = max(end - begin, Fraction(1, 64))
    columns = []
    least = left + 1
    for number, notes in enumerate(moments):
        share = (notes[0].onset_quarter - begin) / length
        most = left + width - _NOTE_CELLS * (len(moments) - number) + 1
        column = min(max(least, left + 1 + int(share * (width - _NOTE_CELLS))), max(least, most))
        columns.append(_Column(column, notes))
        least = column + _NOTE_CELLS
    return _Part(bars[index], index, left, left + width, tuple(columns), begin, length)


def _numbers(parts: Sequence[_Part], total: int, width: int) -> Row:
    texts: dict[int, tuple[str, str]] = {}
    for number, part in enumerate(parts):
        name = part.bar.number or str(part.index + 1)
        text = f"bar {name}" if number else f"bar {name}   ({part.index + 1} of {total})"
        texts[part.left] = (text, "quiet" if number else "strong")
    return _at(texts, width)


_grids: dict[int, tuple[Score, tuple[GridBeat, ...]]] = {}  # of the score that was drawn last


def _grid(score: Score) -> tuple[GridBeat, ...]:
    known = _grids.get(id(score))
    if known is None or known[0] is not score:
        _grids.clear()
        known = _grids[id(score)] = (score, beat_grid(score))
    return known[1]


def _onset(note: ScoreNote) -> Fraction:
    return note.onset_quarter


def _beats(score: Score, parts: Sequence[_Part], width: int) -> Row:
    """The number of each beat above its moment, so that the rhythm can be seen."""
    texts: dict[int, tuple[str, str]] = {}
    for part in parts:
        grid = _grid(score)
        for at in range(bisect_left(grid, part.begin, key=lambda beat: beat.onset_quarter), len(grid)):
            beat = grid[at]
            if beat.onset_quarter >= part.begin + part.length:
                break
            column = part.column_of(beat.onset_quarter)
            if column is not None:
                texts[column] = (str(beat.number), "quiet")
    return _at(texts, width)


def _staff(
    parts: Sequence[_Part],
    verdicts: Mapping[int, Verdict],
    n: int,
    prompt: Prompt | None,
    lowest: int,
    highest: int,
    width: int,
    *,
    narrow: bool,
) -> Block:
    """The staff from its highest row to its lowest; narrow: a line and the space above it share a row."""
    a_row = 2 if narrow else 1
    first, last = lowest // a_row, highest // a_row
    right = parts[-1].right if parts else width
    cells: dict[int, list[tuple[str, str]]] = {}
    for number in range(first, last + 1):
        is_line = 0 <= number * a_row <= TOP_LINE and number * a_row % 2 == 0
        sign = ("▁" if narrow else "─") if is_line else " "
        cells[number] = [(sign if 0 < column < right else " ", "quiet") for column in range(width)]
    for step, sign in ((2, "G"), (-1 if lowest < 0 and not narrow else 0, "8")):
        cells[step // a_row][1] = (sign, "strong")
    for part in parts[1:]:
        for number in range(0, TOP_LINE // a_row + 1):
            cells[number][part.left - 2] = ("│", "quiet")
    for part in parts:
        for column in part.columns:
            for note in column.notes:
                _head(cells, column.column, note, verdicts.get(note.n), a_row, is_next=_is_next(note, prompt))
    return tuple(_row_of(cells[number]) for number in range(last, first - 1, -1))


def _is_next(note: ScoreNote, prompt: Prompt | None) -> bool:
    return prompt is not None and note.n == prompt.n


def _head(
    cells: dict[int, list[tuple[str, str]]],
    column: int,
    note: ScoreNote,
    verdict: Verdict | None,
    a_row: int,
    *,
    is_next: bool,
) -> None:
    step = staff_step(note.pitch)
    style = "strong" if is_next else "big" if verdict is None else sign_of(verdict)[1]
    if a_row == 2:
        head = "▄▄" if step % 2 == 0 else "▀▀"
    elif verdict is not None and verdict is not Verdict.RIGHT:
        head = "··" if verdict is Verdict.MISSED else "▓▓"
    else:
        head = "[]" if note.duration_quarter >= _LONG else "██"
    # Ledger lines, wherever the note lies beyond the staff.
    beyond = range(-2, step - 1, -2) if step < 0 else range(TOP_LINE + 2, step + 1, 2)
    for ledger in beyond:
        if ledger // a_row in cells:
            for x in range(column - 1, column + 3):
                if 0 <= x < len(cells[ledger // a_row]) and cells[ledger // a_row][x][0] == " ":
                    cells[ledger // a_row][x] = ("▁" if a_row == 2 else "─", "quiet")
    line = cells[step // a_row]
    for offset, sign in enumerate(head):
        if column + offset < len(line):
            line[column + offset] = (sign, style)
    signs = {1: "♯", 2: "x", -1: "♭", -2: "♭"}
    if note.pitch.alter and column > 0:
        line[column - 1] = (signs[note.pitch.alter], style)
        if note.pitch.alter == -2 and column > 1:
            line[column - 2] = ("♭", style)


def _signs(parts: Sequence[_Part], verdicts: Mapping[int, Verdict], prompt: Prompt | None, width: int) -> Row:
    """The verdict of each moment, the worst of a chord, and the cursor."""
    texts: dict[int, tuple[str, str]] = {}
    for part in parts:
        for column in part.columns:
            if any(_is_next(note, prompt) for note in column.notes):
                texts[column.column] = (2 * CURSOR_SIGN, "strong")
                continue
            found = [verdicts[note.n] for note in column.notes if note.n in verdicts]
            if found:
                sign, style = sign_of(max(found, key=list(Verdict).index))
                texts[column.column] = (2 * sign, style)
    return _at(texts, width)


def _places_row(prompts: Sequence[Prompt], parts: Sequence[_Part], width: int) -> Block:
    """String and fret below each moment, where they are shown at all: of a chord those of its lowest note."""
    texts: dict[int, tuple[str, str]] = {}
    for part in parts:
        for column in part.columns:
            prompt = prompts[column.notes[0].n - 1]
            if CueKind.PLACE in prompt.cue:
                texts[column.column - 1] = (str(prompt.places[0]), "")
    return (_at(texts, width),) if texts else ()


def _at(texts: Mapping[int, tuple[str, str]], width: int) -> Row:
    """A row with texts at columns; what would run into the next is cut."""
    if not texts:
        return BLANK
    spans: list[Span] = []
    at = 0
    columns = sorted(texts)
    for number, column in enumerate(columns):
        until = columns[number + 1] if number + 1 < len(columns) else width
        text, style = texts[column]
        text = text[: max(0, until - max(column, at))]
        spans += [Span(" " * max(0, column - at)), Span(text, style)]
        at = max(column, at) + len(text)
    return row(*spans)


def _row_of(cells: Iterable[tuple[str, str]]) -> Row:
    spans: list[Span] = []
    for sign, style in cells:
        if spans and spans[-1].style == style:
            spans[-1] = Span(spans[-1].text + sign, style)
        else:
            spans.append(Span(sign, style))
    return tuple(spans)

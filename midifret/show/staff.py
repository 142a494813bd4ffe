"""A note on a staff in the terminal: five lines, ledger lines, the treble clef with the 8 below it."""

from dataclasses import dataclass
from functools import lru_cache

from midifret.show.letters import text_dots
from midifret.show.pixels import Dot, along, arc, moved, stamp, to_lines
from midifret.terms import SpelledPitch

# A guitar is written an octave above what sounds (LilyPond Notation Reference, fretted strings);
# this is the one place where a screen makes that shift. The 8 below the clef says the same.
WRITTEN_OCTAVES_ABOVE = 1
_STEPS = "CDEFGAB"
_BOTTOM_LINE = 7 * 4 + _STEPS.index("E")  # written E4: the lowest line under a treble clef
_LINES = 5
_TOP_LINE_STEP = 2 * (_LINES - 1)
_CLEF_COLUMN, _CLEF_WIDTH = 2, 9
_CLEF_8_ROWS = {1: 3, 2: 5}  # rows below the staff that the 8 needs, by rows in a space
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh")


def staff_step(pitch: SpelledPitch) -> int:
    """Where a sounding pitch is written: 0 is the lowest line, 1 the space above it, 8 the top line."""
    written_octave = pitch.octave + WRITTEN_OCTAVES_ABOVE
    return 7 * written_octave + _STEPS.index(pitch.step) - _BOTTOM_LINE


def staff_words(pitch: SpelledPitch) -> str:
    """Where the note stands, in words that do not give its name, for example `sharp, on line 2`."""
    step = staff_step(pitch)
    signs = {-2: "double flat, ", -1: "flat, ", 0: "", 1: "sharp, ", 2: "double sharp, "}
    return signs[pitch.alter] + _position_words(step)


def _position_words(step: int) -> str:
    if 0 <= step <= _TOP_LINE_STEP:
        return f"on line {step // 2 + 1}" if step % 2 == 0 else f"in space {step // 2 + 1}"
    beyond = -step if step < 0 else step - _TOP_LINE_STEP
    side = "below" if step < 0 else "above"
    if beyond == 1:
        return f"just {side} the staff"
    line = f"the {_ORDINALS[beyond // 2 - 1]} ledger line {side}"
    return f"on {line}" if beyond % 2 == 0 else f"{side} {line.removesuffix(' ' + side)}"


@dataclass(frozen=True, slots=True)
class _Frame:
    """The rows of a staff: dots per staff step, and the row of dots at the middle of the top line."""

    space_rows: int
    above_rows: int
    rows: int

    def middle(self, step: int) -> int:
        """The row of dots just below the middle of a staff step."""
        return 2 * self.above_rows + 1 + (_TOP_LINE_STEP - step) * self.space_rows


@lru_cache(maxsize=256)
def staff_note(
    pitch: SpelledPitch, rows: int, lowest_step: int | None = None, highest_step: int | None = None
) -> tuple[str, ...]:
    """A note on its staff, in at most `rows` terminal rows where that is possible (five lines and the note).

    pitch: in sounding octaves. lowest_step, highest_step: the compass to leave room for, so that the
    staff stays where it is from note to note; given up where it does not fit.
    """
    step = staff_step(pitch)
    frame = _frame(step, rows, lowest_step, highest_step)
    width = _CLEF_COLUMN + _CLEF_WIDTH + 7 * max(1, abs(pitch.alter)) + 11
    dots = _clef(frame) | _note(frame, pitch, step, width)
    cells = [list(text) for text in to_lines(dots, width, frame.rows)]
    for line_step in range(0, _TOP_LINE_STEP + 1, 2):
        _rule(cells, frame.middle(line_step) // 2, 0, width)
    first_ledger = range(-2, step - 1, -2) if step < 0 else range(_TOP_LINE_STEP + 2, step + 1, 2)
    for ledger in first_ledger:
        _rule(cells, frame.middle(ledger) // 2, width - 11, width - 1)
    return tuple("".join(text) for text in cells)


def _rule(cells: list[list[str]], line: int, start: int, end: int) -> None:
    """Draw a line between the dots of a row."""
    for column in range(start, end):
        if cells[line][column] == " ":
            cells[line][column] = "─"


def _frame(step: int, rows: int, lowest: int | None, highest: int | None) -> _Frame:
    """Choose wide spaces where they fit, else narrow ones, else only what this note needs."""
    compass = (min(step, step if lowest is None else lowest), max(step, step if highest is None else highest))
    for space_rows in (2, 1):
        above = max(1, _rows_beyond(compass[1] - _TOP_LINE_STEP, space_rows))
        below = max(_CLEF_8_ROWS[space_rows], _rows_beyond(-compass[0], space_rows))
        frame = _Frame(space_rows, above, above + 4 * space_rows + 1 + below)
        if frame.rows <= rows:
            return frame
    above = max(0, _rows_beyond(step - _TOP_LINE_STEP, 1))
    below = max(1, _rows_beyond(-step, 1))
    spare = rows - (above + _LINES + below)
    if above == 0 and spare > 0:
        above, spare = 1, spare - 1
    if below == 1 and spare > 0:
        below += 1
    return _Frame(1, above, above + _LINES + below)


def _rows_beyond(steps: int, space_rows: int) -> int:
    """Rows needed outside the staff for a note head so many steps beyond its outer line."""
    return 0 if steps <= 0 else (steps * space_rows + 1) // 2 + (1 if space_rows == 2 else 0)


def _note(frame: _Frame, pitch: SpelledPitch, step: int, width: int) -> frozenset[Dot]:
    """The head, as high as a space, and the accidental before it."""
    middle = frame.middle(step)
    half = frame.space_rows
    head: set[Dot] = set()
    for line in range(-half, half):
        inset = 1 if half == 2 and line in (-half, half - 1) else 0
        head |= {(column, line) for column in range(inset, 5 - inset + (half == 2))}
    dots = set(moved(head, width - 9, middle))
    sign = ("♯" if pitch.alter > 0 else "♭") * abs(pitch.alter)
    if sign:
        drawn, sign_width = _sign(sign, half)
        # The belly of a flat and the middle of a sharp lie at the height of the note.
        top = middle - (3 if pitch.alter > 0 else 4) * half
        dots |= moved(drawn, width - 11 - sign_width, top)
    return frozenset(dot for dot in dots if 0 <= dot[1] < 2 * frame.rows and dot[0] >= 0)


_SMALL_SHARP = (".#.#.", "#####", ".#.#.", ".#.#.", "#####", ".#.#.")
_SMALL_FLAT = ("#....", "#....", "#.##.", "##..#", "#..#.", "##...")


def _sign(sign: str, half: int) -> tuple[frozenset[Dot], int]:
    if half == 2:
        return text_dots(sign, 12)
    pattern = _SMALL_SHARP if sign[0] == "♯" else _SMALL_FLAT
    once = frozenset((x, y) for y, text in enumerate(pattern) for x, dot in enumerate(text) if dot == "#")
    return once | (moved(once, 6, 0) if len(sign) == 2 else frozenset()), 6 * len(sign) - 1


def _clef(frame: _Frame) -> frozenset[Dot]:
    """The treble clef, its curl around the second line, and an 8 below it."""
    u = frame.space_rows * 2  # dots in a space
    line2 = frame.middle(2)
    x = float(_CLEF_COLUMN)
    w = 7.0 if u == 4 else 6.0
    points = [
        *arc(x, line2 - u, x + w, line2 + u, 150, 400),
        *arc(x, line2 - 2.2 * u, x + 1.5 * w, line2 + u, 95, 235),
        *along(x + 0.35 * w, line2 - 2.0 * u, x + 0.8 * w, line2 - 3.2 * u),
        *arc(x + 0.3 * w, line2 - 4.2 * u, x + 0.85 * w, line2 - 2.4 * u, 180, 370),
        *along(x + 0.36 * w, line2 - 3.4 * u, x + 0.6 * w, line2 + (1.1 if u == 2 else 1.8) * u),
    ]
    dots = set(stamp(points, 1))
    drawn, _ = text_dots("8", 5 if u == 2 else 6, 1.0, 1)
    low = 2 * frame.rows
    top = min(frame.middle(0) + u, low - (5 if u == 2 else 6))
    dots |= moved(drawn, _CLEF_COLUMN + 2, top)
    return frozenset(dot for dot in dots if 0 <= dot[1] < low)

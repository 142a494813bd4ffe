"""Rows of styled text: the small layout language in which every screen is written."""

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from rich.cells import cell_len, set_cell_size
from rich.style import Style
from rich.text import Text

# Few colours, and none that carries a meaning alone. Blue against orange, also apart in lightness, is
# told apart in the common forms of colour blindness [common practice, no source].
STYLES = {
    "": Style(),
    "big": Style(bold=True),
    "strong": Style(bold=True),
    "quiet": Style(dim=True),
    "right": Style(color="dodger_blue1", bold=True),
    "wrong": Style(color="orange1", bold=True),
    "right mark": Style(color="dodger_blue1", bold=True, reverse=True),
    "wrong mark": Style(color="orange1", bold=True, reverse=True),
    "mark": Style(bold=True, reverse=True),
    "message": Style(color="orange1", bold=True),
}

# What each sign becomes where the terminal's encoding cannot print it.
_ASCII = str.maketrans(
    {
        "█": "#", "▀": '"', "▄": "o", "─": "-", "━": "=", "═": "=", "│": "|", "║": "#", "┼": "+", "┴": "+",
        "╫": "#", "┤": "|", "├": "|", "·": ".", "✓": "v", "✗": "x", "○": "o", "◆": "*", "●": "@", "♯": "#",
        "♭": "b", "…": "~", "–": "-", "▓": "#", "░": ":", "▒": "+", "’": "'", "→": ">", "↑": "^", "↓": "v",
        "▁": "_", "▲": "^",
    }
)  # fmt: skip
_NEEDED_SIGNS = "█▀▄─┼║✓✗○◆●♯♭…·▓░"
_CONTROL_CODES = re.compile(r"[\x00-\x1f\x7f-\x9f]")


class Span(NamedTuple):
    """A piece of one row in one style (a key of STYLES)."""

    text: str
    style: str = ""


Row = tuple[Span, ...]
Block = tuple[Row, ...]
BLANK: Row = ()


def row(*pieces: str | Span) -> Row:
    """Make a row of plain texts and spans, the empty ones left out."""
    spans = (Span(piece) if isinstance(piece, str) else piece for piece in pieces)
    return tuple(span for span in spans if span.text)


def clean(text: str) -> str:
    """Take out control codes, so that a title or a name cannot move the cursor."""
    return _CONTROL_CODES.sub(" ", text)


def to_ascii(text: str) -> str:
    """Spell a text with ASCII alone, sign for sign where there is one."""
    return text.translate(_ASCII).encode("ascii", "replace").decode("ascii")


def can_print_signs(encoding: str | None) -> bool:
    """Whether an encoding has the blocks, lines and accidentals that the screens use; None takes any text."""
    if encoding is None:
        return True
    try:
        _NEEDED_SIGNS.encode(encoding)
    except (LookupError, UnicodeEncodeError):
        return False
    return True


@lru_cache(maxsize=4096)
def _cells(text: str) -> int:
    return len(text) if text.isascii() else cell_len(text)


def width_of(line: Row) -> int:
    """How many terminal cells a row fills."""
    return sum(_cells(span.text) for span in line)


def block_width(block: Block) -> int:
    """How many terminal cells the widest row of a block fills."""
    return max((width_of(line) for line in block), default=0)


def plain(line: Row) -> str:
    """The text of a row."""
    return "".join(span.text for span in line)


def fit(line: Row, width: int) -> Row:
    """Crop a row to a width; nothing is added to a shorter one."""
    if width_of(line) <= width:
        return line
    kept: list[Span] = []
    left = width
    for span in line:
        cells = _cells(span.text)
        if cells <= left:
            kept.append(span)
            left -= cells
            continue
        if left > 1:
            kept.append(Span(set_cell_size(span.text, left - 1).rstrip() + "…", span.style))
        break
    return tuple(kept)


def pad(line: Row, width: int) -> Row:
    """Fill a row with spaces up to a width."""
    missing = width - width_of(line)
    return (*line, Span(" " * missing)) if missing > 0 else line


def centred(block: Block, width: int) -> Block:
    """Move a whole block to the middle of a width; its rows stay in line."""
    indent = max(0, (width - block_width(block)) // 2)
    return tuple((Span(" " * indent), *line) if line and indent else line for line in block)


def centred_vertically(block: Block, height: int) -> Block:
    """Put blank rows above and below a block until it has a height."""
    spare = max(0, height - len(block))
    return (BLANK,) * (spare // 2) + block + (BLANK,) * (spare - spare // 2)


def beside(blocks: Sequence[Block], gap: int) -> Block:
    """Set blocks side by side, each in the middle of the height of the tallest."""
    height = max((len(block) for block in blocks), default=0)
    columns = [(block_width(block), centred_vertically(block, height)) for block in blocks]
    lines: list[Row] = []
    for index in range(height):
        spans: list[Span] = []
        for number, (width, column) in enumerate(columns):
            if number:
                spans.append(Span(" " * gap))
            spans.extend(pad(column[index], width))
        lines.append(tuple(spans))
    return tuple(lines)


def ends(left: Row, right: Row, width: int) -> Row:
    """Set one row at the left edge and one at the right; the left one is cropped where both do not fit."""
    room = width - width_of(right) - 2
    if room < 8:
        return fit(left, width)
    return (*pad(fit(left, room), room + 2), *right)


def as_ascii(block: Iterable[Row]) -> Block:
    """Spell a whole block with ASCII alone."""
    return tuple(tuple(Span(to_ascii(span.text), span.style) for span in line) for line in block)


def filling(lines: Block, width: int, height: int, *, ascii_only: bool) -> Block:
    """Make a whole screen of rows: exactly `height`, none wider than `width` cells, no control codes."""
    shown = tuple(fit(tuple(Span(clean(s.text), s.style) for s in line), width) for line in lines[:height])
    shown += (BLANK,) * (height - len(shown))
    return as_ascii(shown) if ascii_only else shown


def to_text(block: Iterable[Row]) -> Text:
    """Turn a block into rich text, for consoles that scroll."""
    text = Text(no_wrap=True, overflow="crop")
    for number, line in enumerate(block):
        if number:
            text.append("\n")
        for span in line:
            text.append(span.text, STYLES.get(span.style) or Style.parse(span.style))
    return text

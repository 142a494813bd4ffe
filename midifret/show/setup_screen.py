"""The screen on which a guitar is hooked up, and its plain lines where there is none."""

from collections.abc import Sequence
from typing import TextIO

from rich.console import Console

from midifret.session.hook_up import COUNTED, Showing, Step, StringRow
from midifret.show.frame import LEAST_HEIGHT, LEAST_WIDTH, wrapped
from midifret.show.keys import KeyReader
from midifret.show.letters import LEAST_ROWS, circled, fitting_text
from midifret.show.neck import Mark, small_neck
from midifret.show.rows import (
    BLANK,
    Block,
    Row,
    Span,
    beside,
    block_width,
    can_print_signs,
    centred,
    centred_vertically,
    clean,
    ends,
    filling,
    fit,
    plain,
    row,
    to_ascii,
)
from midifret.show.terminal_screen import TerminalScreen

_BIG_ROWS = 7
_GAP = 4
_MOST_MESSAGE_ROWS = 4
_MOST_WORDS_WIDTH = 76
_LEAST_NECK_WIDTH = 30


def setup_frame(showing: Showing, width: int, height: int, *, ascii_only: bool = False) -> Block:
    """Lay out one moment: exactly `height` rows, none wider than `width` cells.

    Below 60 x 16 there is room for plain lines only.
    """
    if width < LEAST_WIDTH or height < LEAST_HEIGHT:
        lines = _compact(showing, width, height)
    else:
        foot = _foot(showing, width)
        head = _head(showing, width)
        room = height - len(head) - len(foot)
        lines = (*head, *centred_vertically(_body(showing, width, room)[:room], room), *foot)
    return filling(lines, width, height, ascii_only=ascii_only)


def _head(showing: Showing, width: int) -> Block:
    number, total = _progress(showing.step), len(COUNTED)
    left = row(Span("Hooking up", "strong"), Span(f"  {showing.port}", "quiet"))
    done = width * (number - 1) // total
    bar = row(Span("━" * done, "strong"), Span("─" * (width - done), "quiet"))
    return ends(left, row(f"step {number} of {total}: {showing.step.value}"), width), bar


def _progress(step: Step) -> int:
    """The number of a step as a player counts; one that comes up in between has that of the step after it."""
    order = list(Step)
    return next((n for n, s in enumerate(COUNTED, 1) if order.index(s) >= order.index(step)), len(COUNTED))


def _foot(showing: Showing, width: int) -> Block:
    message = wrapped(showing.message, width, "message")[:_MOST_MESSAGE_ROWS] or (BLANK,)
    spans: list[Span | str] = []
    for key, words in showing.keys:
        spans += ["   " if spans else "", Span(key, "strong"), Span(f" {words}", "quiet")]
    return (*message, fit(row(*spans), width))


def _body(showing: Showing, width: int, height: int) -> Block:
    texts: list[Row] = list(centred(wrapped(showing.ask, min(width, _MOST_WORDS_WIDTH), "big"), width))
    texts += centred(wrapped(showing.words, min(width, _MOST_WORDS_WIDTH), "quiet"), width)
    if showing.typed is not None:
        texts += [BLANK, *centred((row(Span(f" {showing.typed}_ ", "mark")),), width)]
    if showing.options:
        texts += [BLANK, *centred(_options(showing, width), width)]
    rest = height - len(texts) - 1
    parts = _parts(showing, width, max(rest, 0))
    found = tuple(each for line in showing.found for each in wrapped(line, width))
    if found and len(parts) + 1 + len(found) <= rest:
        parts = (*parts, BLANK, *centred(found, width))
    elif found:
        parts = centred(found, width)
    return (*texts, BLANK, *parts) if len(parts) <= rest else tuple(texts)


def _options(showing: Showing, width: int) -> Block:
    """The answers that a question can have, each with its key."""
    lines: list[Row] = []
    for key, words in showing.options:
        first, *others = wrapped(words, max(1, width - 3))
        lines += [row(Span(f"{key}  ", "strong"), *first), *(row("   ", *other) for other in others)]
    return tuple(lines)


def _parts(showing: Showing, width: int, height: int) -> Block:
    """The strings, and beside them what is to be plucked, the seconds left, or the neck."""
    if showing.neck is not None:
        table = _table(showing.strings, short=True)
        room = width - block_width(table) - 2
        if room < _LEAST_NECK_WIDTH:
            return centred(table, width)
        neck = small_neck(showing.neck, dict.fromkeys(showing.marks, Mark.RIGHT), room)
        return centred(beside([(*table, BLANK), neck], 2), width)
    table = _table(showing.strings, short=False)
    for rows in range(_BIG_ROWS, LEAST_ROWS, -1):
        big = _big(showing, rows)
        block = beside([table, *big], _GAP)
        if block_width(block) <= width and len(block) <= height:
            return centred(block, width)
    return centred(table, width)


def _big(showing: Showing, rows: int) -> list[Block]:
    """What is to be plucked, or the seconds left, large."""
    if showing.left_s is not None:
        return [_letters(str(showing.left_s), rows)]
    if showing.string is None:
        return []
    circle = tuple(row(Span(line, "big")) for line in circled(showing.string, rows))
    if not showing.fret:
        return [circle, (row(Span("open", "big")),)]
    fret: Block = (row(Span("fret", "quiet")), *_letters(str(showing.fret), max(LEAST_ROWS, rows - 3)))
    return [circle, fret]


def _letters(text: str, rows: int) -> Block:
    return tuple(row(Span(line, "big")) for line in fitting_text(text, rows, 40))


def _table(strings: Sequence[StringRow], *, short: bool) -> Block:
    return tuple(_string(each, short=short) for each in strings)


def _string(each: StringRow, *, short: bool) -> Row:
    waiting = not each.ok and each.channel is None
    sign, style = ("✓", "right") if each.ok else ("·", "quiet") if waiting else ("✗", "wrong")
    channel = "" if each.channel is None else f"channel {each.channel + 1}"
    cents = "" if each.cents is None else f"{each.cents:+.0f} cents"
    spans: list[Span | str] = [
        Span(f"{sign} ", style),
        Span(f"string {each.string}  ", "strong"),
        f"{channel:<10}  ",
        Span(f"{each.name:<4}", "strong"),
        f"{cents:>9}",
    ]
    if not short:
        spans += ["  ", Span(f"{each.state:<14}", "" if each.ok or waiting else style)]
    return row(*spans)


def _compact(showing: Showing, width: int, height: int) -> Block:
    """Plain lines for a small window: what to do, what was heard, and the keys."""
    lines = [*wrapped(showing.ask, width, "big"), *wrapped(showing.message, width, "message")]
    if showing.typed is not None:
        lines.append(row(f"{showing.typed}_"))
    lines += _options(showing, width)
    if showing.left_s is not None:
        lines.append(row(f"{showing.left_s} s"))
    lines += [row(line) for line in showing.found]
    keys = wrapped("  ".join(f"{key} {words}" for key, words in showing.keys), width, "quiet")
    return (*lines[: max(0, height - len(keys))], *keys)


class SetupScreen(TerminalScreen):
    """Draws the hooking up on a terminal, which it has to itself between `with` and the end of its block."""

    def show(self, showing: Showing) -> None:
        """Draw what changed."""
        size = self.size
        self.draw(setup_frame(showing, *size, ascii_only=self.ascii_only), size)


class SetupLines:
    """One plain line for each thing that is new, for a terminal that cannot be drawn on."""

    def __init__(self, stream: TextIO, keys: KeyReader | None = None) -> None:
        """Take the stream to write to, and the keys to read, by default those of standard input."""
        self._stream = stream
        self._ascii_only = not can_print_signs(getattr(stream, "encoding", None))
        self._keys = keys if keys is not None else KeyReader()
        self._before: Showing | None = None

    def __enter__(self) -> "SetupLines":
        """Read single keys."""
        self._keys.__enter__()
        return self

    def __exit__(self, *_: object) -> None:
        """Give the keys back."""
        self._keys.close()

    def keys(self) -> list[str]:
        """Keys since the last call."""
        return self._keys.keys()

    def show(self, showing: Showing) -> None:
        """Write the lines of what is new since the last call."""
        lines = changes(self._before, showing)
        self._before = showing
        for line in lines:
            text = to_ascii(clean(line)) if self._ascii_only else clean(line)
            self._stream.write(f"{text}\n")
        if lines:
            self._stream.flush()


def changes(before: Showing | None, showing: Showing) -> list[str]:
    """What is new since the moment before, in lines: what was heard, what to do, what can be pressed."""
    lines: list[str] = []
    if showing.message and (before is None or showing.message != before.message):
        lines.append(showing.message)
    if before is None or (showing.step, showing.ask) != (before.step, before.ask):
        if showing.neck is not None and (before is None or before.neck is None):
            lines += [plain(line).rstrip() for line in _table(showing.strings, short=False)]
        lines += [*showing.found, f"> {showing.ask} {showing.words}".rstrip()]
        lines += [f"  {key}: {words}" for key, words in showing.options]
        if showing.keys:
            lines.append(f"  ({', '.join(f'{key} {words}' for key, words in showing.keys)})")
    if showing.typed is not None and (before is None or showing.typed != before.typed):
        lines.append(f"  name: {showing.typed}")
    return lines


def open_setup_view(console: Console, *, drawn: bool) -> SetupScreen | SetupLines:
    """The screen, or lines where the terminal cannot be drawn on."""
    if drawn:
        return SetupScreen(console)
    return SetupLines(console.file)  # type: ignore[arg-type]

"""The screen between two parts of a practice session: what comes, how long, why, and the keys."""

from midifret.session.interlude import Interlude
from midifret.show.frame import LEAST_HEIGHT, LEAST_WIDTH, wrapped
from midifret.show.letters import fitting_text
from midifret.show.rows import BLANK, Block, Row, Span, centred, centred_vertically, ends, filling, fit, row
from midifret.show.words import clock_words

_TEXT_WIDTH = 68
_LETTER_ROWS = 5


def interlude_frame(
    interlude: Interlude,
    player: str,
    width: int,
    height: int,
    *,
    waited_s: float = 0.0,
    trouble: str = "",
    ascii_only: bool = False,
) -> Block:
    """Lay out an interlude: exactly `height` rows, none wider than `width` cells.

    waited_s: how long it has been shown. trouble: what is wrong with the guitar just now. Below 60 x 16
    there is room for plain lines only.
    """
    small = width < LEAST_WIDTH or height < LEAST_HEIGHT
    foot = (*wrapped(trouble, width, "message")[:2], fit(_keys(interlude), width))
    text_width = min(width, _TEXT_WIDTH)
    lines: list[Row] = []
    for text in interlude.lines:
        lines += [*wrapped(text, text_width), BLANK]
    for text in interlude.quiet:
        lines += [*wrapped(text, text_width, "quiet"), BLANK]
    counts = _counts(interlude, waited_s)
    if small:
        title = wrapped(interlude.title, width, "big")
        body = [*title, *counts, *(line for line in lines if line)][: max(1, height - len(foot))]
        body += [BLANK] * (height - len(foot) - len(body))
        return filling((*body, *foot) if height > 1 else tuple(body), width, height, ascii_only=ascii_only)
    room = height - 2 - len(foot)
    heading: Block = (*centred(_big(interlude.title, width), width), BLANK)
    said = centred((*counts, *lines), width)
    if len(heading) + len(said) > room:
        heading = (*centred((row(Span(interlude.title, "strong")),), width), BLANK)
    body_rows = centred_vertically((*heading, *said)[:room], room)
    head = ends(row(Span("Practice", "strong"), Span(f"  {player}", "quiet")), row(_number(interlude)), width)
    bar = _bar(interlude, width)
    return filling((head, bar, *body_rows, *foot), width, height, ascii_only=ascii_only)


def interlude_lines(interlude: Interlude) -> tuple[str, ...]:
    """The same as plain lines, for a pipe."""
    number = _number(interlude)
    return (f"{interlude.title}{f' ({number})' if number else ''}", *interlude.lines, *interlude.quiet)


def _big(title: str, width: int) -> Block:
    """A title in block letters where it fits, else in words."""
    letters = fitting_text(title, _LETTER_ROWS, width)
    style = "strong" if letters == (title,) else "big"
    return tuple(row(Span(line, style)) for line in letters)


def _counts(interlude: Interlude, waited_s: float) -> Block:
    if interlude.counts_s is None:
        return ()
    left = max(interlude.counts_s - waited_s, 0.0)
    return (row(Span(f"{clock_words(left)} left", "big")), BLANK)


def _number(interlude: Interlude) -> str:
    return (
        ""
        if interlude.number is None or interlude.of is None
        else f"block {interlude.number} of {interlude.of}"
    )


def _bar(interlude: Interlude, width: int) -> Row:
    done = 0
    if interlude.number is not None and interlude.of:
        done = width * (interlude.number - 1) // interlude.of
    return row(Span("━" * done, "strong"), Span("─" * (width - done), "quiet"))


def _keys(interlude: Interlude) -> Row:
    spans: list[Span | str] = []
    for number, option in enumerate(interlude.options):
        key = f"{option.key} or any string" if number == 0 and interlude.plucked else option.key
        spans += ["   " if spans else "", Span(key, "strong"), Span(f" {option.words}", "quiet")]
    return row(*spans)

"""What stands between the parts of a practice session, as a page shows it."""

from midifret.session.interlude import Interlude
from midifret.show.words import clock_words
from midifret.stand.messages import Button, RunScreen


def interlude_screen(
    interlude: Interlude, *, run: int, player: str, waited_s: float = 0.0, trouble: str = ""
) -> RunScreen:
    """Return the page between two parts. waited_s: since it came. trouble: with the guitar."""
    number = interlude.number
    left = "" if interlude.counts_s is None else clock_words(max(interlude.counts_s - waited_s, 0.0))
    counts = (f"{left} left",) if left else ()
    return RunScreen(
        run=run,
        stage="ended",  # figures and words alone, and what can be done
        title="Practice",
        player=player,
        progress=(0, 0) if number is None else (number - 1, interlude.of or 0),
        right=None,
        clock=left,
        count=None,
        cue=None,
        told=None,
        beat=None,
        reading=None,
        message=trouble,
        rows=(interlude.title, *counts, *interlude.lines, *interlude.quiet),
        typed="",
        naming=(),
        spots=(),
        strings=0,
        frets=0,
        left_handed=False,
        buttons=tuple(Button(option.key, option.words) for option in interlude.options),
        counted="blocks",
    )


def block_words(interlude: Interlude) -> str:
    """What a block is and why, in one line, to stand over its runs."""
    number = "" if interlude.number is None else f"{interlude.number} of {interlude.of}: "
    return " ".join((f"{number}{interlude.title}.", *interlude.lines))

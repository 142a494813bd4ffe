"""Views without a screen: plain lines for pipes and simple terminals, and silence for documents."""

from typing import TextIO

from midifret.session.screen import LastAnswer, Screen, Stage, View
from midifret.show.rows import can_print_signs, clean, plain, to_ascii
from midifret.show.run_figures import figure_rows, voided_rows
from midifret.show.words import cue_words, late_words, seconds_words, verdict_words
from midifret.terms import Verdict


class SilentView(View):
    """Shows nothing and has no keys."""

    def show(self, screen: Screen) -> None:
        """Show nothing."""

    def keys(self) -> list[str]:
        """No keys."""
        return []

    def __enter__(self) -> "SilentView":
        """Nothing to prepare."""
        return self

    def __exit__(self, *_: object) -> None:
        """Nothing to put back."""


class LineView(View):
    """One plain line for each event, flushed at once, so that another program can follow.

    `count 3`, `count-in 4`, `3/11 cue: D on string 4`, `3/11 right 0.82 s`, `3/11 right 12 ms late`,
    `3/11 fret-off 1.10 s: ...`, `3/11 then right`, `3/11 taken back: ...` with all after it, `paused`,
    `count 3` where it goes on by itself, `go on`, `note: ...`, `check string 1 E: heard +2 cents`,
    `end: 9 of 11 right`, and then the figures.
    """

    def __init__(self, stream: TextIO) -> None:
        """Take the stream to write to; its encoding decides whether the true signs are written."""
        self._stream = stream
        self._ascii_only = not can_print_signs(getattr(stream, "encoding", None))
        self._before: Screen | None = None

    def __enter__(self) -> "LineView":
        """Nothing to prepare."""
        return self

    def __exit__(self, *_: object) -> None:
        """Nothing to put back."""

    def keys(self) -> list[str]:
        """No keys: whoever reads lines orders by pedal, signal or by ending the program."""
        return []

    def show(self, screen: Screen) -> None:
        """Write the lines of what is new since the last call."""
        lines = changes(self._before, screen)
        self._before = screen
        if not lines:
            return
        text = "".join(f"{clean(line)}\n" for line in lines)
        self._stream.write(to_ascii(text.rstrip("\n")) + "\n" if self._ascii_only else text)
        self._stream.flush()


def changes(before: Screen | None, screen: Screen) -> list[str]:
    """What is new on a screen, as lines in the order in which it happened."""
    lines: list[str] = []
    counted = None if before is None or before.beat is None else before.beat.counts_in
    stage_before = None if before is None else before.stage
    total = _of(screen)
    playing = screen.stage in (Stage.ASKING, Stage.PAUSED, Stage.ENDED)
    if before is not None and playing and screen.answered < before.answered:
        lines.append(f"{screen.answered + 1}{total} taken back: what was heard turned out otherwise")
    if screen.last is not None and (before is None or screen.last != before.last):
        lines.append(_verdict_line(screen.last, screen, total))
    if screen.message and (before is None or screen.message != before.message):
        lines.append(f"note: {screen.message}")
    match screen.stage:
        case Stage.CHECKING:
            if stage_before is not Stage.CHECKING:
                lines.append("check: pluck each open string once")
            known = {} if before is None else {check.string: check for check in before.checks}
            for check in screen.checks:
                old = known.get(check.string)
                if (old is None and check.cents is not None) or (
                    old is not None and old.state != check.state
                ):
                    cents = "" if check.cents is None else f" {check.cents:+.0f} cents"
                    lines.append(f"check string {check.string} {check.name}: {check.state}{cents}")
        case Stage.COUNTDOWN:
            if screen.count is not None and (
                stage_before is not screen.stage or before is None or before.count != screen.count
            ):
                lines.append(f"count {screen.count}")
        case Stage.ASKING:
            if screen.beat is not None and screen.beat.counts_in and screen.beat.counts_in != counted:
                lines.append(f"count-in {screen.beat.counts_in}")
            lines += _asking_lines(before, screen, total)
        case Stage.PAUSED:
            if stage_before is not Stage.PAUSED:
                lines.append("paused")
            if screen.count is not None and (before is None or before.count != screen.count):
                lines.append(f"count {screen.count}")
        case Stage.ENDED:
            if stage_before is not Stage.ENDED:
                lines += _end_lines(screen)
    return lines


def _of(screen: Screen) -> str:
    """How many prompts there are, behind the number of one; empty where they are chosen as it goes."""
    return f"/{len(screen.exercise.prompts)}" if screen.lasts_s is None else ""


def _asking_lines(before: Screen | None, screen: Screen, total: str) -> list[str]:
    prompt = screen.prompt
    if prompt is None:
        return []
    resumed = before is not None and before.stage is Stage.PAUSED
    asked_before = (
        before is not None and before.prompt is not None and before.stage in (Stage.ASKING, Stage.PAUSED)
    )
    if asked_before and not resumed and before is not None and before.prompt == prompt:
        return []
    cue = f"{prompt.n}{total} cue: {cue_words(prompt, screen.language, screen.accidentals)}"
    return ["go on", cue] if resumed else [cue]


def _verdict_line(last: LastAnswer, screen: Screen, total: str) -> str:
    start = f"{last.n}{total} {'' if last.first else 'then '}{last.verdict.value}"
    if last.first and last.response_s is not None:
        start += f" {seconds_words(last.response_s)}"
    if last.first and last.late_ms is not None:
        start += f" {late_words(last.late_ms)}"
    if last.verdict is Verdict.RIGHT:
        return start
    return f"{start}: {verdict_words(last, screen.guitar.neck, screen.language)}"


def _end_lines(screen: Screen) -> list[str]:
    summary = screen.summary
    if summary is None:
        return [f"end: {screen.right} of {screen.answered} right"]
    left_out = voided_rows(dict(screen.voided), screen.notes)
    figures = [plain(line) for line in (*figure_rows(summary), *left_out)]
    return [f"end: {summary.right} of {summary.prompts} right", *(line for line in figures[1:] if line)]

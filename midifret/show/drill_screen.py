"""The full screen of a live run, and the view that suits where there is none."""

from collections.abc import Callable
from dataclasses import replace

from rich.console import Console

from midifret.session.screen import Screen, View
from midifret.show.frame import frame
from midifret.show.keys import KeyReader
from midifret.show.line_view import LineView, SilentView
from midifret.show.terminal_screen import TerminalScreen

__all__ = ["DrillScreen", "LineView", "SilentView", "has_screen", "open_view"]


class DrillScreen(TerminalScreen, View):
    """Draws a live run on a terminal, which it has to itself between `with` and the end of its block."""

    def __init__(self, console: Console, keys: KeyReader | None = None) -> None:
        """Take the console to draw on and the keys to read, by default those of standard input."""
        super().__init__(console, keys)
        self._key: tuple[Screen, tuple[int, int]] | None = None

    def show(self, screen: Screen) -> None:
        """Draw what changed. Nothing is done where only a part of a second went by."""
        size = self.size
        key = (replace(screen, elapsed_s=float(int(screen.elapsed_s)), prompt_s=0.0), size)
        if key != self._key:
            self._key = key
            self.draw(frame(screen, *size, ascii_only=self.ascii_only), size)


def has_screen(console: Console) -> bool:
    """Whether a console is a terminal that can be drawn on, not only written to line by line."""
    return console.is_terminal and not console.is_dumb_terminal and not console.legacy_windows


def open_view(
    console: Console, *, json: bool, keys: Callable[[], KeyReader] = KeyReader
) -> DrillScreen | LineView | SilentView:
    """The view that suits: silence for a document, a screen on a terminal, lines for all else."""
    if json:
        return SilentView()
    if has_screen(console):
        return DrillScreen(console, keys())
    return LineView(console.file)  # type: ignore[arg-type]

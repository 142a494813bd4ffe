"""What a live run needs of the server of the stand, and what pages told, sorted by whom it is for."""

from collections.abc import Sequence
from typing import Protocol

from midifret.serve.link import Viewer
from midifret.serve.server import Arrived
from midifret.stand.messages import Begin, Named, Notice, Painted, Pressed, Sounding, ToPage
from midifret.stand.sync import PageTime, RunTime

BUSY = "Something is being played. End it first."


class Server(Protocol):
    """The server, as far as a run goes. No call waits."""

    @property
    def viewers(self) -> Sequence[Viewer]:
        """Who is connected."""

    def send(self, message: ToPage) -> None:
        """Tell every page."""

    def send_to(self, viewer: str, message: ToPage) -> None:
        """Tell one page."""

    def take(self, wait_s: float = 0.0) -> Sequence[Arrived]:
        """Return what players' pages told since the last call."""

    def to_run_s(self, viewer: str, page_ms: float) -> RunTime | None:
        """Convert a page's time to the clock's."""

    def to_page_ms(self, viewer: str, time_s: float) -> PageTime | None:
        """Convert a time of the clock to a page's."""


class Pages:
    """The pages during runs. For the thread that hears alone.

    player: the page that the player looks at: the one that began what is played, or last gave an order; while
    it is away any other that may play.
    """

    def __init__(self, server: Server) -> None:
        """Nobody has said anything yet."""
        self.server = server
        self.sounds: dict[str, Sounding] = {}  # how the click of each goes, as it last told
        self._player = ""
        self._presses: list[tuple[Pressed | Named, str]] = []
        self._painted: list[tuple[Painted, Arrived]] = []

    @property
    def players(self) -> tuple[Viewer, ...]:
        """The pages that may play."""
        return tuple(viewer for viewer in self.server.viewers if viewer.controls)

    @property
    def player(self) -> str:
        """Which page the player looks at; empty for none."""
        idents = [viewer.ident for viewer in self.players]
        return self._player if self._player in idents else idents[0] if idents else ""

    def began(self, viewer: str) -> None:
        """This page has begun what is played."""
        self._player = viewer

    def look(self) -> None:
        """Sort what has come. A page that would begin something meanwhile is told that it cannot."""
        for arrived in self.server.take():
            match arrived.message:
                case Pressed() | Named() as message:
                    self._player = arrived.viewer
                    self._presses.append((message, arrived.viewer))
                case Painted() as message:
                    self._painted.append((message, arrived))
                case Sounding() as message:
                    self.sounds[arrived.viewer] = message
                case Begin():
                    self.server.send_to(arrived.viewer, Notice(BUSY, grave=False))

    def presses(self) -> list[tuple[Pressed | Named, str]]:
        """What was pressed since the last call, and on which page."""
        presses, self._presses = self._presses, []
        return presses

    def painted(self) -> list[tuple[Painted, Arrived]]:
        """Which cues appeared on the player's page since the last call, oldest first."""
        painted, self._painted = self._painted, []
        player = self.player
        return [(message, arrived) for message, arrived in painted if arrived.viewer == player]

    def forget(self) -> None:
        """What was pressed and painted before belongs to no run."""
        self.look()
        self._presses, self._painted = [], []

"""A server of the stand without sockets: pages that a test writes, with clocks that are known."""

from dataclasses import dataclass, field

from midifret.clock import SimulatedClock
from midifret.serve.link import Viewer
from midifret.serve.server import Arrived, FromPlayer
from midifret.stand.messages import ToPage
from midifret.stand.sync import PageTime, RunTime

# The page's clock began so much before the run's, in ms.
PAGE_AHEAD_MS = 5_000.0


@dataclass
class Paging:
    """Keeps what was told. `tell` is what a page says."""

    clock: SimulatedClock
    pages: list[Viewer] = field(default_factory=list)
    error_s: float | None = 0.0005  # how well the clocks are known; None for not at all
    sent: list[ToPage] = field(default_factory=list)
    sent_to: list[tuple[str, ToPage]] = field(default_factory=list)
    _arrived: list[Arrived] = field(default_factory=list)

    def connect(self, ident: str = "a", *, controls: bool = True, sounds: bool = True) -> None:
        now_s = self.clock.now_s()
        self.pages.append(Viewer(ident, controls, sounds, "127.0.0.1", now_s, now_s))

    def leave(self, ident: str = "a") -> None:
        self.pages = [page for page in self.pages if page.ident != ident]

    def tell(self, message: FromPlayer, viewer: str = "a") -> None:
        self._arrived.append(Arrived(message, self.clock.now_s(), viewer))

    @property
    def viewers(self) -> tuple[Viewer, ...]:
        return tuple(self.pages)

    def send(self, message: ToPage) -> None:
        self.sent.append(message)

    def send_to(self, viewer: str, message: ToPage) -> None:
        self.sent_to.append((viewer, message))

    def take(self, wait_s: float = 0.0) -> list[Arrived]:
        arrived, self._arrived = self._arrived, []
        return arrived

    def to_run_s(self, viewer: str, page_ms: float) -> RunTime | None:
        return None if self.error_s is None else RunTime((page_ms - PAGE_AHEAD_MS) / 1000, self.error_s)

    def to_page_ms(self, viewer: str, time_s: float) -> PageTime | None:
        known = self.error_s is not None
        return PageTime(time_s * 1000 + PAGE_AHEAD_MS, 0.5) if known else None

"""The click played by the page that the player looks at: planned clicks on its clock, and how they go."""

from collections import deque
from collections.abc import Iterable

from midifret.serve.pages import Pages
from midifret.stand.messages import Clicks
from midifret.tempo import Click
from midifret.tempo.beats import ClickKind
from midifret.wire.click import LATEST_S, ClickFigures

# Clicks go to the page so far ahead: more than a stall of a network at home, and little enough that a change
# of the page's clock is in them [ours].
AHEAD_S = 1.0
# The page needs them so much ahead: the way there, and what its sound output has been given already [ours].
LEAD_S = 0.25
# Browsers tell no latency, or 0, just after sound was opened; one that does later never will [ours].
_LATENCY_S = 3.0
_STRENGTHS = {ClickKind.BAR: 2, ClickKind.BEAT: 1, ClickKind.SUBDIVISION: 0}

NO_PAGE = "No page is open that could click; the beat is only seen."
NOT_READY = "The page may not sound yet: press its button for sound. Until then the beat is only seen."
NO_SOUND = (
    "The page's browser cannot click; the beat is only seen. Another browser, or --click midi or sound."
)
NO_LATENCY = "The browser does not tell how late its sound is: the click may be heard late."
NO_CLOCK = "The page's clock is not known yet; the beat is only seen."


class StandClick:
    """Clicks on the page of the stand. Called from the thread that hears; no call waits."""

    lead_s = LEAD_S
    name = "the page of the stand"

    def __init__(self, pages: Pages, *, volume_percent: float) -> None:
        """Silent. volume_percent: of full scale."""
        self._pages = pages
        self._volume = volume_percent / 100
        self._planned: deque[Click] = deque()
        self._told_to = ""  # the page that has clicks still to come
        self._ready_s: float | None = None  # since when the page may sound
        self._sent = self._skipped = 0
        self._late_before: dict[str, int] = {}  # of each page, what it had told when it was first asked
        self.trouble = ""

    def plan(self, clicks: Iterable[Click]) -> None:
        """Take clicks to come, in order of time and after those planned before; times on the run's clock."""
        self._planned.extend(clicks)

    def due(self, now_s: float) -> None:
        """Send what comes soon."""
        player = self._pages.player
        self.trouble = self._trouble_of(player, now_s)
        if player != self._told_to and self._told_to:
            self._silence(self._told_to)  # another page goes on with it
        coming: list[tuple[float, int]] = []
        while self._planned and self._planned[0].time_s <= now_s + AHEAD_S:
            click = self._planned.popleft()
            at = self._pages.server.to_page_ms(player, click.time_s) if player else None
            if at is None or click.time_s < now_s - LATEST_S:
                self._skipped += 1
            else:
                coming.append((at.time_ms, _STRENGTHS[click.kind]))
        if coming:
            self._sent += len(coming)
            self._told_to = player
            self._late_before.setdefault(player, self._late(player))
            self._pages.server.send_to(player, Clicks(tuple(coming), self._volume))

    def stop(self) -> None:
        """Be silent at once and forget what was planned; more may be planned afterwards."""
        self._planned.clear()
        if self._told_to:
            self._silence(self._told_to)

    def figures(self) -> ClickFigures:
        """How well it went. Lateness is the page's affair: it says how many came too late."""
        told = self._pages.sounds.get(self._pages.player)
        late = sum(self._late(page) - before for page, before in self._late_before.items())
        return ClickFigures(
            sent=self._sent,
            skipped=self._skipped + max(0, late),
            output_latency_ms=None if told is None else told.output_latency_ms,
        )

    def close(self) -> None:
        """Be silent."""
        self.stop()

    def _silence(self, page: str) -> None:
        self._pages.server.send_to(page, Clicks((), self._volume, forget=True))
        self._told_to = ""

    def _late(self, page: str) -> int:
        told = self._pages.sounds.get(page)
        return 0 if told is None else told.late

    def _trouble_of(self, player: str, now_s: float) -> str:
        viewer = next((each for each in self._pages.players if each.ident == player), None)
        if viewer is None:
            return NO_PAGE
        if not viewer.sounds:
            return NO_SOUND
        told = self._pages.sounds.get(player)
        if told is None or not told.ready:
            self._ready_s = None
            return NOT_READY
        if self._ready_s is None:
            self._ready_s = now_s
        if self._pages.server.to_page_ms(player, now_s) is None:
            return NO_CLOCK
        if told.output_latency_ms is None and now_s - self._ready_s >= _LATENCY_S:
            return NO_LATENCY
        return ""

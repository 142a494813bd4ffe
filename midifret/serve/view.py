"""The stand as a view of live runs: hands moments to the server and brings back what pages told."""

from dataclasses import replace

from midifret.clock import Clock
from midifret.serve.pages import Pages
from midifret.session.screen import Press, Screen, View
from midifret.stand.messages import Named, NoteMark, Painted, Pressed, RunScreen
from midifret.stand.screens import NOTHING_ENGRAVED, Engraved, run_screen
from midifret.terms.calibration import ViewKind

# A cue's or a key's moment that is known no better than this has none: a frame of most screens lasts so long,
# and half of it is the error that is always there [ours].
MOST_ERROR_S = 0.017
# A page that reloads is back within this [ours].
RELOAD_S = 1.0
# A page answers an exchange each second; silent for so long, it sleeps or is out of reach [ours].
SILENT_S = 4.0
_KEYS = frozenset({"enter", "backspace", "tab", "escape"})


class StandView(View):
    """Shows runs on the pages that are connected. No call waits for one."""

    kind = ViewKind.STAND
    paints_later = True
    shows_whole = True

    def __init__(self, pages: Pages, clock: Clock, *, left_handed: bool = False) -> None:
        """Show nothing yet."""
        self._pages = pages
        self._clock = clock
        self.left_handed = left_handed
        self._run = 0
        self._engraved = NOTHING_ENGRAVED
        self.block = ""  # of a session, to stand over its runs
        self._shown: RunScreen | None = None
        self._marks: dict[str, NoteMark] = {}
        self._there_s = clock.now_s()

    def begin(self, engraved: Engraved = NOTHING_ENGRAVED) -> int:
        """A run comes, or what is between two; return its number. engraved: what pages were sent for it."""
        self._run += 1
        self._engraved = engraved
        self._shown, self._marks = None, {}
        self._there_s = self._clock.now_s()
        self._pages.forget()
        return self._run

    def show(self, screen: Screen) -> None:
        """Hand a moment to the server, where it differs from the one before."""
        self.tell(
            run_screen(
                screen,
                run=self._run,
                engraved=self._engraved,
                left_handed=self.left_handed,
                block=self.block,
            )
        )

    def tell(self, made: RunScreen) -> None:
        """Hand over a moment that is made already."""
        if made == self._shown:
            return
        self._shown = made
        self._pages.server.send(self._with_changes(made))

    def keys(self) -> list[str]:
        """Keys since the last call; `presses` tells them with their times."""
        return [press.key for press in self.presses() if not press.is_name]

    def presses(self) -> list[Press]:
        """What was pressed, each as of when it was on the page, as far as its clock is known."""
        self._pages.look()
        return [press for message, viewer in self._pages.presses() if (press := self._press(message, viewer))]

    def painted(self) -> list[tuple[int, float | None]]:
        """Which cues of this run appeared, and when; what its page cannot tell is None."""
        self._pages.look()
        return [
            (message.n, self._painted_s(message, arrived.viewer))
            for message, arrived in self._pages.painted()
            if message.run == self._run
        ]

    @property
    def gone_s(self) -> float | None:
        """Since when no page that may play is open or answers; None while one is, and for a reload's time."""
        now_s = self._clock.now_s()
        answered = [max(viewer.since_s, viewer.answered_s or 0.0) for viewer in self._pages.players]
        if not answered:
            return self._there_s if now_s - self._there_s > RELOAD_S else None
        if now_s - max(answered) >= SILENT_S:
            return max(answered)
        self._there_s = now_s
        return None

    def _press(self, message: Pressed | Named, viewer: str) -> Press | None:
        is_name = isinstance(message, Named)
        key = message.name if isinstance(message, Named) else message.key
        if not is_name and len(key) != 1 and key not in _KEYS:
            return None
        found = self._pages.server.to_run_s(viewer, message.pressed_ms)
        if found is None or found.error_s > MOST_ERROR_S:
            return Press(key, sure=False, is_name=is_name)
        return Press(key, found.time_s, is_name=is_name)

    def _painted_s(self, message: Painted, viewer: str) -> float | None:
        if message.painted_ms is None:
            return None
        found = self._pages.server.to_run_s(viewer, message.painted_ms)
        return None if found is None or found.error_s > MOST_ERROR_S else found.time_s

    def _with_changes(self, made: RunScreen) -> RunScreen:
        """The moment with those marks alone that have changed; with all of them where one was taken back."""
        reading = made.reading
        if reading is None:
            self._marks = {}
            return made
        before, now = self._marks, {mark.ident: mark for mark in reading.marks}
        self._marks = now
        if not before or not before.keys() <= now.keys():
            return made
        changed = tuple(mark for mark in reading.marks if before.get(mark.ident) != mark)
        return replace(made, reading=replace(reading, marks=changed, whole=False))

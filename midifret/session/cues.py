"""Which cues of a live run were on the screen, and since when; the take is told of it."""

from midifret.play import AskedRun, Run, TempoRun
from midifret.play.asked_text import prompt_text
from midifret.reading.free_run import FreeReading
from midifret.session.around import Recorder
from midifret.terms import Prompt


class ShownCues:
    """Keeps the cues of a run beside what was drawn of them. Times on the run's clock.

    told_later: the view tells when a cue appeared, some moments after it was handed it (`told`); otherwise it
    is there when drawing it is done (`drawn`).
    """

    def __init__(
        self, run: Run | TempoRun | FreeReading, recorder: Recorder, *, told_later: bool = False
    ) -> None:
        """Nothing was cued yet."""
        self._run = run
        self._recorder = recorder
        # Only where a prompt waits to be seen does it matter when it was; on a beat nobody is timed by it.
        self._told_later = told_later and isinstance(run, Run)
        self._uncued: Prompt | None = None  # cued, but not drawn yet
        self._awaited: int | None = None  # number of the prompt that was drawn and is yet to be told of
        self._drawn: set[int] = set()  # numbers of the prompts that were drawn as they now stand
        self._asked = 0  # how many prompts of those chosen as it goes the take was told of
        self._seen: frozenset[int] = frozenset()  # of those that were drawn before they were withdrawn

    def begin(self) -> None:
        """What a run says is taken in now; a withdrawal in it holds for it alone."""
        self._seen = frozenset()

    def cued(self, prompt: Prompt, time_s: float) -> None:
        """A prompt was opened."""
        if isinstance(self._run, AskedRun) and prompt.n > self._asked:
            self._asked = prompt.n
            self._recorder.asked(prompt_text(prompt))
        self.kept(prompt.n, time_s, sure=not (self._told_later and prompt.is_seen))
        if prompt.n in self._seen:  # their drawing was taken again with all the rest
            self._drawn.add(prompt.n)
        self._uncued = None if prompt.n in self._drawn else prompt

    def kept(self, n: int, time_s: float, *, sure: bool) -> None:
        """Let the take hold the cue of prompt n."""
        if sure:
            self._recorder.cue(n, time_s)
        else:
            self._recorder.cue(n, time_s, sure=False)

    def withdraw_from(self, n: int) -> None:
        """Prompt n and all after it are taken back."""
        self._recorder.withdraw_from(n)
        self._seen = frozenset(self._drawn)
        self._drawn = {m for m in self._drawn if m <= n}

    def end(self) -> None:
        """All is taken in. What stands open again was cued when it was shown, not opened again."""
        asked = self._run.prompt
        if self._seen and asked is not None and asked.n in self._seen:
            self._keep_open(asked)

    def drawn(self, time_s: float, *, paused: bool) -> bool:
        """What the view was shown is handed over; whether a cue was in it for the first time."""
        prompt = self._uncued
        if prompt is None or paused:
            return False
        self._uncued = None
        self._drawn.add(prompt.n)
        if self._told_later:
            self._awaited = prompt.n
        else:
            self._shown(prompt.n, time_s)
        return True

    def told(self, n: int, time_s: float | None) -> None:
        """The view tells when the cue of prompt n appeared, None for that it does not know."""
        if n != self._awaited:
            return  # shown again after a pause, by a second page, or long answered
        self._awaited = None
        if time_s is not None:
            self._shown(n, time_s)

    def unsure(self, n: int) -> None:
        """Nobody can tell when the cue of prompt n was shown, or its name given."""
        if isinstance(self._run, Run):
            self._run.unsure(n)
            asked = self._run.prompt
            if asked is not None and asked.n == n:
                self._keep_open(asked)

    def _shown(self, n: int, time_s: float) -> None:
        asked = self._run.prompt
        if asked is not None and asked.n == n:
            self._run.shown(n, time_s)
            self._keep_open(asked)

    def _keep_open(self, asked: Prompt) -> None:
        sure = self._run.cue_sure if isinstance(self._run, Run) else True
        self.kept(asked.n, self._run.cue_s, sure=sure)

"""The beat of a live run in tempo: what is due goes into the take, and trouble with it is told once."""

from collections.abc import Callable, Sequence
from enum import Enum

from midifret.play import TempoRun
from midifret.session.around import Recorder
from midifret.session.conductor import Beat, Conductor
from midifret.terms import Exercise, Prompt
from midifret.terms.marks import DuePoint

# Drawing takes up to 7 ms in a terminal (measured): it is not begun so shortly before a click.
DRAWING_S = 0.01


class BeatStep(Enum):
    """What a run has to do about its beat."""

    NOTHING = "nothing"
    PAUSE = "pause"  # nothing gives a beat
    RESUME = "resume"  # there is one again, and it was the lack of it that stopped the run
    SAY = "say"  # `words`


class LiveBeat:
    """Stands between a conductor, whose times are on the clock, and a run, whose times are on its own."""

    def __init__(
        self,
        conductor: Conductor,
        exercise: Exercise,
        recorder: Recorder,
        on_due: Callable[[Prompt, float], None] | None,
    ) -> None:
        """Take what gives the beat. on_due: told when each prompt is due, on the clock."""
        self._conductor = conductor
        self._exercise = exercise
        self._recorder = recorder
        self._on_due = on_due
        self._trouble = ""  # as it was last said
        self.shown: Beat | None = None  # as it was drawn
        self.lacked = False  # the run was paused because nothing gave a beat
        self.words = ""  # to be said

    @property
    def moved(self) -> float:
        """As the conductor has it."""
        return self._conductor.moved

    def count_in(self, run: TempoRun, clock_s: float) -> None:
        """Begin the count-in of what is still to be played."""
        if (n := run.next_to_schedule) is not None:
            self._conductor.begin(clock_s, n)

    def stop(self, run: TempoRun | None = None) -> None:
        """Be silent; with a run, what it has not played will be due at other times."""
        self._conductor.stop()
        if run is not None and (n := run.next_to_schedule) is not None:
            self._recorder.forget_due_from(n)

    def turn(self, clock_s: float, origin_s: float) -> Sequence[DuePoint]:
        """Let time pass; return what is newly known of when prompts are due, on the run's clock."""
        found = []
        for due in self._conductor.turn(clock_s):
            at = DuePoint(due.n, due.due_s - origin_s, due.half_window_s)
            self._recorder.due(at.n, at.due_s, at.half_window_s)
            found.append(at)
            if self._on_due is not None:
                self._on_due(self._exercise.prompts[due.n - 1], due.due_s)
        return found

    def step(self, *, asking: bool, paused: bool, gone: bool, message: str) -> BeatStep:
        """Say what is to be done now.

        asking, paused: where the run stands. gone: the guitar is, which is told, and the run waits for it.
        message: what the player reads.
        """
        conductor = self._conductor
        if asking and not conductor.gives_beat:
            self.words = self._trouble = conductor.trouble
            return BeatStep.PAUSE
        if gone:
            return BeatStep.NOTHING
        if paused and self.lacked and conductor.gives_beat:
            return BeatStep.RESUME
        if conductor.trouble and conductor.trouble != message:
            self.words = self._trouble = conductor.trouble
            return BeatStep.SAY
        if not conductor.trouble and self._trouble:
            was, self._trouble = self._trouble, ""
            if message == was:
                self.words = ""
                return BeatStep.SAY
        return BeatStep.NOTHING

    def changed(self, clock_s: float) -> bool:
        """Look which beat it is; whether that is another one than was shown."""
        before, self.shown = self.shown, self._conductor.beat(clock_s)
        return before != self.shown

    def click_comes(self, clock_s: float) -> bool:
        """Whether a click goes out so soon that nothing slow should be begun."""
        return 0 <= self._conductor.next_click_s(clock_s) - clock_s < DRAWING_S

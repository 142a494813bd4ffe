"""A run whose prompts are chosen one by one, each when the last has closed."""

from collections.abc import Callable
from dataclasses import replace

from midifret.neck import Neck
from midifret.play.outputs import Output
from midifret.play.run import Run, Timed
from midifret.terms import Answer, Exercise, Prompt

# Says what to ask next, None for that it is enough: given all answers so far, when it would be asked on the
# run's clock, and how many seconds were played, pauses left out.
Ask = Callable[[tuple[Answer, ...], float, float], Prompt | None]


class AskedRun(Run):
    """A run that asks for its next prompt whenever there is none left, and ends when none is given.

    What was once asked stays asked: a late revision goes back over it and finds it again, whatever would be
    chosen now. So a take that holds its prompts is judged by an ordinary run.
    """

    grows = True

    def __init__(
        self,
        exercise: Exercise,
        ask: Ask,
        *,
        shown_later: bool = False,
        assume_on: Neck | None = None,
        timed: Timed | None = None,
    ) -> None:
        """Hold the exercise, whose prompts, mostly none, are asked first. Other arguments as in Run."""
        super().__init__(exercise, shown_later=shown_later, assume_on=assume_on, timed=timed)
        self._ask = ask

    def _go_on(self, time_s: float) -> list[Output]:
        if self._index + 1 == len(self.exercise.prompts):
            prompt = self._ask(self.answers, time_s, self.elapsed_s(time_s))
            if prompt is not None:
                self.exercise = replace(self.exercise, prompts=(*self.exercise.prompts, prompt))
        return super()._go_on(time_s)

"""Gaps in time: the computer sleeps, is kept from running, or has its wall clock set, within a prompt."""

from collections.abc import Callable

import pytest

from midifret.session.recorded import judge_take
from midifret.session.screen import Screen, Stage
from midifret.terms import TimedMessage, Verdict
from midifret.terms.marks import CuePoint, Mark, MarkKind

from .test_in_tempo import ASKED, due_s, in_tempo, on_the_beat
from .test_live import GUITAR, Script, exercise, play, setting

Gap = Callable[[Script], None]


def after(at_s: float, gap: Gap) -> type[Script]:
    """A script in which something happens to time at a moment."""

    class WithGap(Script):
        happened = False

        def poll(self) -> list[TimedMessage]:
            if not self.happened and self.clock.now_s() >= at_s:
                self.happened = True
                gap(self)
            return super().poll()

    return WithGap


def slept(script: Script) -> None:
    script.clock.suspend(3600.0)


def stalled(script: Script) -> None:
    script.clock.wait_s(0.8)


def set_forward(script: Script) -> None:
    script.clock.set_wall_clock(3600.0)


ASKED_FREELY = exercise("6:5", "5:5", "4:5")


def by_the_minute(script: Script) -> None:
    script.pluck(4.0, "6:5")  # asked at 3 s
    script.pluck(6.5, "5:5")  # asked at 4 s; time has its gap at 5 s
    script.pluck(7.25, "4:5")


def test_a_stall_voids_the_prompt_in_play_and_no_other() -> None:
    finished, script = play(setting(ASKED_FREELY), by_the_minute, kind=after(5.0, stalled))
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT] * 3
    first, second, third = (answer.response_s for answer in finished.answers)
    assert first == pytest.approx(1.0, abs=0.02)
    assert second is None  # void, not slow
    assert third == pytest.approx(0.75, abs=0.02)
    assert finished.answers[1].recall is None
    assert [kind for kind, _ in script.marks] == [MarkKind.VOID]
    assert any("busy for 0.8 s" in screen.message for screen in script.screens)


def test_sleep_pauses_the_run_as_of_then_and_voids_the_prompt() -> None:
    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5")
        script.to_press.append((8.0, " "))
        script.pluck(9.0, "5:5")
        script.pluck(9.5, "4:5")

    finished, script = play(setting(ASKED_FREELY), prepare, kind=after(5.0, slept))
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT] * 3
    assert finished.answers[1].response_s is None
    assert finished.answers[2].response_s == pytest.approx(0.5, abs=0.02)
    assert [kind for kind, _ in script.marks] == [MarkKind.VOID, MarkKind.PAUSE, MarkKind.RESUME]
    assert any(
        screen.stage is Stage.PAUSED and "The computer has slept" in screen.message
        for screen in script.screens
    )


def test_a_cue_that_was_shown_after_the_gap_has_a_time_live_and_in_the_take() -> None:
    """As where the terminal itself kept the loop waiting: what counts is when the cue stood there."""

    class SlowToDraw(Script):
        drawn = False

        def show(self, screen: Screen) -> None:
            super().show(screen)
            if not self.drawn and screen.prompt is not None and screen.prompt.n == 2:
                self.drawn = True
                stalled(self)

    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5")
        script.pluck(5.5, "5:5")  # asked at 4 s, on the screen at 4.8
        script.pluck(6.0, "4:5")

    finished, script = play(setting(ASKED_FREELY), prepare, kind=SlowToDraw, give_up_s=12.0)
    assert MarkKind.VOID in {kind for kind, _ in script.marks}
    assert finished.answers[1].response_s == pytest.approx(0.7, abs=0.02)
    answers, _ = judge_take(
        ASKED_FREELY,
        GUITAR,
        [TimedMessage(time_s, data) for time_s, data in script.messages],
        cues=[CuePoint(n, time_s) for n, time_s in script.cues.items()],
        marks=[Mark(kind, time_s) for kind, time_s in script.marks],
        end_s=12.0,
    )
    assert [a.response_s for a in answers] == pytest.approx(
        [a.response_s for a in finished.answers], abs=0.001
    )


def test_a_wall_clock_that_is_set_harms_nothing() -> None:
    finished, script = play(setting(ASKED_FREELY), by_the_minute, kind=after(5.0, set_forward))
    assert finished.answers[1].response_s == pytest.approx(2.5, abs=0.02)
    assert not script.marks


@pytest.mark.parametrize("gap", [stalled, slept])
def test_the_take_of_it_is_judged_likewise(gap: Gap) -> None:
    def prepare(script: Script) -> None:
        by_the_minute(script)
        script.to_press.append((5.5, " "))

    finished, script = play(setting(ASKED_FREELY), prepare, kind=after(5.0, gap), give_up_s=12.0)
    answers, _ = judge_take(
        ASKED_FREELY,
        GUITAR,
        [TimedMessage(time_s, data) for time_s, data in script.messages],
        cues=[CuePoint(n, time_s) for n, time_s in script.cues.items()],
        marks=[Mark(kind, time_s) for kind, time_s in script.marks],
        end_s=12.0,
    )
    assert [a.verdict for a in answers] == [a.verdict for a in finished.answers]
    assert [a.response_s is None for a in answers] == [a.response_s is None for a in finished.answers]


def test_a_wrong_answer_before_the_gap_keeps_its_time() -> None:
    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5")
        script.pluck(4.6, "5:6")
        script.pluck(6.5, "5:5")
        script.pluck(7.0, "4:5")

    finished, _ = play(setting(ASKED_FREELY), prepare, kind=after(5.0, stalled))
    assert finished.answers[1].verdict is Verdict.FRET_OFF
    assert finished.answers[1].response_s == pytest.approx(0.6, abs=0.02)


def test_in_tempo_sleep_pauses_and_counts_in_again() -> None:
    def prepare(script: Script) -> None:
        on_the_beat(script)
        script.to_press.append((12.0, " "))

    asked = in_tempo(*ASKED)
    finished, script = play(
        setting(asked, countdown_s=0), prepare, kind=after(due_s(2) + 0.2, slept), give_up_s=30.0
    )
    assert [answer.verdict for answer in finished.answers[:2]] == [Verdict.RIGHT] * 2
    assert all(answer.due_s is not None and answer.due_s > 12.0 for answer in finished.answers[2:])
    assert MarkKind.PAUSE in {kind for kind, _ in script.marks}

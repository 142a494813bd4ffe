"""Live runs that follow another device's clock: it stops, it comes late, and the guitar goes meanwhile."""

from collections.abc import Callable

import pytest

from midifret.clock import SimulatedClock
from midifret.session.around import Finished
from midifret.session.followed import FollowedBeat
from midifret.session.live import LiveRun
from midifret.session.screen import Stage
from midifret.show.keys import control_for
from midifret.tempo import Stretch, clock_messages
from midifret.terms import Exercise, TimedMessage, Verdict
from midifret.terms.marks import MarkKind

from .test_conductor import Device
from .test_gaps import stalled
from .test_in_tempo import ASKED, in_tempo, judged_again, on_the_beat
from .test_live import POLL_S, Script, _view, play, setting


def played(
    asked: Exercise, messages: list[TimedMessage], prepare: Callable[[Script], None], *, until_s: float
) -> tuple[Finished, Script]:
    clock = SimulatedClock()
    script = Script(clock)
    prepare(script)
    script.to_press.append((until_s, "ctrl-c"))
    live = LiveRun(
        setting(asked, countdown_s=0),
        source=script,
        clock=clock,
        recorder=script,
        record=script,
        view=_view(script),
        orders=control_for,
        conductor=FollowedBeat(asked, Device(messages)),
        poll_s=POLL_S,
    )
    return live.play(), script


def at_120(*, from_s: float, beats: int) -> list[TimedMessage]:
    """A clock that starts, runs and stops."""
    return list(clock_messages([Stretch(beats, 120)], start_s=from_s))


def plucked(script: Script, first_s: float, *, leave_out: int = 0) -> None:
    for n, place in enumerate(ASKED):
        if n >= leave_out:
            script.pluck(first_s + n * 0.5, place)


def test_what_was_wrong_with_the_clock_is_not_said_any_more_when_it_runs() -> None:
    # Four beats a bar at 120: from 2 s on, so that the count-in begins at 4 s and the first note is due at 6.
    finished, script = played(
        in_tempo(*ASKED), at_120(from_s=2.0, beats=20), lambda script: plucked(script, 6.0), until_s=12.0
    )
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT] * 6
    said = [(screen.elapsed_s, screen.message) for screen in script.screens if screen.message]
    assert any("absent" in message for _, message in said)
    assert all(elapsed_s < 2.2 for elapsed_s, _ in said)


def test_a_clock_that_runs_again_starts_nothing_while_the_guitar_is_gone() -> None:
    messages = [*at_120(from_s=0.1, beats=11), *at_120(from_s=8.0, beats=40)]

    def prepare(script: Script) -> None:
        script.unplugged.append((6.5, 15.0))  # the clock stops at 5.6 s and runs again at 8
        # The first note was due at 4.1 s; the guitar is back at 15, and 16 begins a bar.
        plucked(script, 4.1)
        plucked(script, 16.5, leave_out=3)

    finished, script = played(in_tempo(*ASKED), messages, prepare, until_s=30.0)
    while_gone = [screen.stage for screen in script.screens if "guitar's port is gone" in screen.message]
    assert set(while_gone) == {Stage.PAUSED}
    resumed_s = [time_s for kind, time_s in script.marks if kind is MarkKind.RESUME]
    assert resumed_s[0] >= 15.0
    assert judged_again(in_tempo(*ASKED), script) == finished.answers


def test_guitar_and_clock_that_go_together_are_told_without_drawing_each_turn() -> None:
    """As with a guitar whose own port sends the clock, when its cable comes out."""
    messages = at_120(from_s=0.1, beats=11)[:-1]  # no stop is sent: the clock is lost
    _, script = played(
        in_tempo(*ASKED), messages, lambda script: script.unplugged.append((5.5, 99.0)), until_s=12.0
    )
    late = [screen for screen in script.screens if "guitar's port is gone" in screen.message]
    assert len(late) < 7 * 15  # ten screens a second, and some
    assert late[-1].message.endswith("The run waits.")


def test_in_tempo_a_stall_is_not_said_to_void_a_time() -> None:
    class Stalls(Script):
        happened = False

        def poll(self) -> list[TimedMessage]:
            if not self.happened and self.clock.now_s() >= 3.0:
                self.happened = True
                stalled(self)
            return super().poll()

    _, script = play(setting(in_tempo(*ASKED), countdown_s=0), on_the_beat, kind=Stalls)
    said = {screen.message for screen in script.screens if "busy" in screen.message}
    assert said == {"The computer was busy for 0.8 s. The beat may have been late."}


@pytest.mark.parametrize("late_s", [0.0, 0.06])
def test_live_and_take_agree_where_the_tempo_changes(late_s: float) -> None:
    messages = list(clock_messages([Stretch(10, 120), Stretch(30, 84)], start_s=0.1))
    true_s = [4.1, 4.6, 5.1, 5.1 + 60 / 84, 5.1 + 120 / 84, 5.1 + 180 / 84]

    def prepare(script: Script) -> None:
        for at_s, place in zip(true_s, ASKED, strict=True):
            script.pluck(at_s + late_s, place)

    finished, script = played(in_tempo(*ASKED), messages, prepare, until_s=15.0)
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT] * 6
    assert [answer.late_ms for answer in finished.answers] == pytest.approx([late_s * 1000] * 6, abs=12)
    assert finished.tempo_moved == pytest.approx(0.3, abs=0.005)  # 120 was asked for, 84 was played
    assert judged_again(in_tempo(*ASKED), script) == finished.answers

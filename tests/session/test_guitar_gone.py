"""The guitar goes in the middle of something and comes back: nothing is lost, and nothing invented."""

import pytest

from midifret.play.run import LIMIT_SLACK_S
from midifret.session.around import Finished, Leave
from midifret.session.live import REFRESH_S
from midifret.session.loss import BACK_COUNT_S
from midifret.session.recorded import judge_take
from midifret.session.screen import Screen, Stage
from midifret.terms import Exercise, Place, TimedMessage, Verdict
from midifret.terms.marks import CuePoint, Mark, MarkKind, TypedName

from .test_live import GUITAR, POLL_S, Script, exercise, play, setting

# The script's port is looked at every quarter of a second, as the real one is; the loop asks for that
# whenever it draws, ten times a second.
NOTICED_S = 0.25 + REFRESH_S + 2 * POLL_S


class Sensing(Script):
    """A guitar that sends active sensing every 0.3 s: its silence tells after half a second."""

    def connected(self, *, at_once: bool = False) -> bool:
        now_s = self.clock.now_s()
        self.last_there_s = max(
            round(n * 0.3, 6)
            for n in range(int(now_s / 0.3 + 1e-9) + 1)
            if all(not out <= n * 0.3 < back for out, back in self.unplugged)
        )
        return now_s - self.last_there_s <= 0.5


KINDS = pytest.mark.parametrize("kind", [Script, Sensing])


def judged_again(finished: Finished, script: Script, asked: Exercise) -> None:
    """Check that the take, judged as a recording, gives the same answers."""
    answers, _ = judge_take(
        asked,
        GUITAR,
        [TimedMessage(time_s, data) for time_s, data in script.messages],
        cues=[CuePoint(n, time_s) for n, time_s in sorted(script.cues.items())],
        marks=[Mark(kind, time_s) for kind, time_s in script.marks],
        typed=[TypedName(name, time_s) for name, time_s in script.names],
        end_s=script.clock.now_s(),
    )
    assert [(a.verdict, a.response_s) for a in answers] == [
        (a.verdict, None if a.response_s is None else pytest.approx(a.response_s, abs=1e-6))
        for a in finished.answers
    ]
    assert list(script.answers.values()) == list(finished.answers)


@KINDS
def test_a_run_waits_and_goes_on(kind: type[Script]) -> None:
    asked = exercise("6:5", "5:5", "4:5")

    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5")
        script.unplugged = [(6.0, 20.0)]
        script.pluck(7.0, "5:5")  # nobody can hear it
        script.pluck(24.0, "5:5")
        script.pluck(25.0, "4:5")

    finished, script = play(setting(asked), prepare, kind=kind)
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT] * 3
    assert finished.leave is Leave.DONE
    assert not finished.ended_early
    kinds = [kind for kind, _ in script.marks]
    assert kinds == [MarkKind.GONE, MarkKind.PAUSE, MarkKind.RESUME]
    (_, gone_s), (_, paused_s), (_, resumed_s) = script.marks
    assert gone_s == paused_s
    assert 6.0 - 0.3 <= paused_s <= 6.0 + POLL_S  # as of when it was last known to be there
    assert 20.0 + BACK_COUNT_S <= resumed_s <= 20.0 + BACK_COUNT_S + 0.7
    response_s = (paused_s - script.cues[2]) + (24.0 - resumed_s)
    assert finished.answers[1].response_s == pytest.approx(response_s, abs=1e-6)
    judged_again(finished, script, asked)


@KINDS
def test_the_loss_is_noticed_and_shown_within_a_second(kind: type[Script]) -> None:
    seen_s: list[float] = []

    class Seen(kind):  # type: ignore[misc, valid-type]
        def show(self, screen: Screen) -> None:
            super().show(screen)
            if self.screens[-1].stage is Stage.PAUSED:
                seen_s.append(self.clock.now_s())

    def prepare(script: Script) -> None:
        script.unplugged = [(6.07, 1e9)]
        script.to_press = [(9.0, "q")]

    _, script = play(setting(exercise("6:5")), prepare, kind=Seen)
    assert seen_s[0] - 6.07 <= (NOTICED_S if kind is Script else 0.7)
    assert script.screens[-1].message == "The guitar's port is gone. Plug it in again. The run waits."


def ready(kind: type[Script], *plucks: tuple[float, str]) -> type[Script]:
    """A script that plucks so many seconds after the run has gone on by itself."""

    class Ready(kind):  # type: ignore[misc, valid-type]
        def show(self, screen: Screen) -> None:
            before = self.screens[-1].stage if self.screens else None
            super().show(screen)
            if before is Stage.PAUSED and screen.stage is Stage.ASKING:
                for after_s, place in plucks:
                    self.pluck(self.clock.now_s() + after_s, place)

    return Ready


@KINDS
def test_a_limit_that_runs_out_before_the_loss_is_noticed_is_no_miss(kind: type[Script]) -> None:
    # The first cue is at 3.0 and its limit at 7.0; the guitar goes just before. What was left is left.
    asked = exercise("6:5", "5:5", limit_s=4.0)

    def prepare(script: Script) -> None:
        script.unplugged = [(6.95, 20.0)]

    finished, script = play(setting(asked), prepare, kind=ready(kind, (0.04, "6:5"), (1.0, "5:5")))
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT, Verdict.RIGHT]
    (_, paused_s), (_, resumed_s) = [m for m in script.marks if m[0] in (MarkKind.PAUSE, MarkKind.RESUME)]
    assert 6.65 <= paused_s <= 6.95
    assert script.cues[1] == pytest.approx(3.0, abs=2 * POLL_S)
    assert script.cues[2] > resumed_s  # the second prompt was not asked while nobody could hear
    judged_again(finished, script, asked)
    if kind is Script:  # a look tells at once, so that the second was not even shown; silence tells later
        stages = [screen.stage for screen in script.screens if screen.prompt and screen.prompt.n == 1]
        assert Stage.PAUSED in stages
        shown = [screen.prompt.n for screen in script.screens if screen.prompt]
        assert shown == sorted(shown)


@KINDS
def test_the_last_limit_does_not_end_a_run_that_nobody_could_answer(kind: type[Script]) -> None:
    asked = exercise("6:5", limit_s=4.0)

    def prepare(script: Script) -> None:
        script.unplugged = [(6.95, 20.0)]

    finished, script = play(setting(asked), prepare, kind=ready(kind, (0.04, "6:5")))
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT]
    judged_again(finished, script, asked)


@KINDS
def test_a_limit_that_ran_out_before_the_loss_is_a_miss(kind: type[Script]) -> None:
    asked = exercise("6:5", "5:5", limit_s=4.0)

    def prepare(script: Script) -> None:
        script.unplugged = [(7.0 + LIMIT_SLACK_S + 0.4, 20.0)]
        script.pluck(25.0, "5:5")

    finished, script = play(setting(asked), prepare, kind=kind)
    assert [answer.verdict for answer in finished.answers] == [Verdict.MISSED, Verdict.RIGHT]
    judged_again(finished, script, asked)


def test_a_run_with_limits_ends_without_delay_where_the_guitar_stays() -> None:
    finished, script = play(setting(exercise("6:5", limit_s=4.0)), lambda script: None)
    assert [answer.verdict for answer in finished.answers] == [Verdict.MISSED]
    assert script.clock.now_s() < 7.0 + LIMIT_SLACK_S + 0.5


def test_what_sounded_ends_with_the_loss_and_bends_are_forgotten() -> None:
    asked = exercise("6:5", "6:5", "6:5")

    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5", hold_s=100.0)
        script.to_send.append(TimedMessage(4.5, bytes((0xE5, 0, 96))))  # bent a semitone up, and left so
        script.unplugged = [(5.0, 10.0)]
        script.pluck(15.0, "6:5")  # would be fret 6, were the bend still there
        script.pluck(16.0, "6:5")
        script.to_send.sort()

    finished, script = play(setting(asked), prepare)
    assert finished.answers[0].verdict is Verdict.RIGHT
    assert [answer.played.place for answer in finished.answers if answer.played][-1] == Place(6, 5)
    judged_again(finished, script, asked)


def test_the_count_is_shown_and_a_key_goes_on_at_once() -> None:
    def prepare(script: Script) -> None:
        script.unplugged = [(6.0, 10.0)]
        script.to_press = [(11.0, " ")]
        script.pluck(12.0, "6:5")

    finished, script = play(setting(exercise("6:5")), prepare)
    counts = [screen.count for screen in script.screens if screen.stage is Stage.PAUSED]
    assert 3 in counts
    assert 1 not in counts  # it went on before
    (resumed_s,) = [time_s for kind, time_s in script.marks if kind is MarkKind.RESUME]
    assert resumed_s == pytest.approx(11.0, abs=2 * POLL_S)
    assert finished.answers[0].verdict is Verdict.RIGHT


def test_a_guitar_that_goes_again_while_the_count_runs() -> None:
    asked = exercise("6:5")

    def prepare(script: Script) -> None:
        script.unplugged = [(6.0, 10.0), (11.0, 30.0)]
        script.pluck(34.0, "6:5")

    finished, script = play(setting(asked), prepare)
    kinds = [kind for kind, _ in script.marks]
    assert kinds == [MarkKind.GONE, MarkKind.PAUSE, MarkKind.GONE, MarkKind.RESUME]
    assert script.marks[-1][1] >= 33.0
    judged_again(finished, script, asked)


def test_a_pause_of_the_players_own_stays_when_the_guitar_is_back() -> None:
    asked = exercise("6:5")

    def prepare(script: Script) -> None:
        script.to_press = [(4.0, " "), (30.0, " ")]
        script.unplugged = [(6.0, 10.0)]
        script.pluck(20.0, "6:5")  # paused
        script.pluck(31.0, "6:5")

    finished, script = play(setting(asked), prepare)
    resumed_s = [time_s for kind, time_s in script.marks if kind is MarkKind.RESUME]
    assert resumed_s == [pytest.approx(30.0, abs=2 * POLL_S)]
    assert any(screen.message.startswith("The guitar is back.") for screen in script.screens)
    judged_again(finished, script, asked)


@pytest.mark.parametrize(
    ("key", "leave"), [("q", Leave.QUIT), ("a", Leave.AGAIN), ("ctrl-c", Leave.INTERRUPTED)]
)
def test_while_it_waits_only_leaving_is_obeyed(key: str, leave: Leave) -> None:
    asked = exercise("6:5", "5:5", "4:5")

    def prepare(script: Script) -> None:
        script.pluck(4.0, "6:5")
        script.pluck(5.0, "5:6")  # answered, not yet right
        script.unplugged = [(6.0, 1e9)]
        script.to_press = [(8.0, " "), (9.0, "n"), (9.5, "enter"), (10.0, key)]

    finished, script = play(setting(asked), prepare)
    assert finished.leave is leave
    assert finished.failure is None
    assert finished.ended_early
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT, Verdict.FRET_OFF]
    assert [kind for kind, _ in script.marks] == [
        MarkKind.GONE,
        MarkKind.PAUSE,
        MarkKind.RESUME,
        MarkKind.ENDED_EARLY,
    ]
    assert finished.played_s == pytest.approx(3.0, abs=0.3)  # 3.0 to 6.0
    judged_again(finished, script, asked)


def test_the_countdown_waits_and_begins_anew() -> None:
    def prepare(script: Script) -> None:
        script.unplugged = [(2.0, 10.0)]
        script.to_press = [(5.0, "enter")]
        script.pluck(14.0, "6:5")

    finished, script = play(setting(exercise("6:5"), notice="Mind your hands."), prepare)
    assert script.cues[1] == pytest.approx(13.0, abs=NOTICED_S)
    assert script.cues[1] >= 13.0
    assert finished.answers[0].verdict is Verdict.RIGHT
    assert any(screen.message == "The guitar is back. Mind your hands." for screen in script.screens)


def test_a_countdown_that_the_player_stopped_stays_so() -> None:
    def prepare(script: Script) -> None:
        script.to_press = [(1.0, " "), (20.0, " ")]
        script.unplugged = [(2.0, 10.0)]
        script.pluck(23.0, "6:5")

    _, script = play(setting(exercise("6:5")), prepare)
    assert script.cues[1] == pytest.approx(22.0, abs=2 * POLL_S)


def test_the_check_of_the_strings_waits_and_begins_anew() -> None:
    def prepare(script: Script) -> None:
        script.pluck(1.0, "6:0")
        script.unplugged = [(2.0, 30.0)]
        for string in range(1, 7):
            script.pluck(31.0 + 0.5 * string, f"{string}:0")
        script.pluck(38.0, "6:5")

    finished, script = play(setting(exercise("6:5"), check_strings=True), prepare)
    assert finished.strings_ok is True
    assert finished.answers[0].verdict is Verdict.RIGHT
    assert any("The run waits" in screen.message for screen in script.screens)


def test_a_name_typed_before_the_loss_counts() -> None:
    asked = exercise("6:5", "5:5", naming=True)

    def prepare(script: Script) -> None:
        script.to_press = [(5.9, "a"), (16.0, "d"), (16.2, "enter")]
        script.unplugged = [(5.85, 10.0)]

    finished, script = play(setting(asked), prepare)
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT, Verdict.RIGHT]
    judged_again(finished, script, asked)


@KINDS
@pytest.mark.parametrize("n", range(40))
def test_wherever_it_goes_the_take_gives_the_same_answers(kind: type[Script], n: int) -> None:
    asked = exercise("6:5", "5:5", "4:5", "3:5", limit_s=2.0)
    out_s = 3.0 + n * 0.13

    def prepare(script: Script) -> None:
        for time_s, place in ((4.2, "6:5"), (5.0, "5:6"), (5.4, "5:5"), (6.9, "3:5"), (21.0, "4:5")):
            script.pluck(time_s, place)
        for k in range(12):
            script.pluck(13.5 + k * 0.6, ("6:5", "5:5", "4:5", "3:5")[k % 4])
        script.unplugged = [(out_s, 10.0)]

    finished, script = play(setting(asked), prepare, kind=kind)
    assert len(finished.answers) == 4
    assert script.marks[0][0] is MarkKind.GONE
    judged_again(finished, script, asked)

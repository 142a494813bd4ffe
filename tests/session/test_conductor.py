"""Who gives the beat: a tempo of one's own, and the clock of another device through all it may do."""

import pytest

from midifret.session.conductor import LEAD_S, Beat, OwnBeat
from midifret.session.followed import FollowedBeat
from midifret.tempo import ClockFollower, ClockReading, Stretch, clock_messages
from midifret.terms import BadInput, Exercise, Tempo, TimedMessage
from midifret.terms.marks import DuePoint

from .test_in_tempo import ASKED, in_tempo
from .test_live import Clicking, Script, exercise


class Device:
    """Another device's clock, as it is followed: it hands out its messages as time passes."""

    def __init__(self, messages: list[TimedMessage]) -> None:
        self._messages = messages
        self._follower = ClockFollower()

    def turn(self, now_s: float) -> None:
        while self._messages and self._messages[0].time_s <= now_s:
            time_s, data = self._messages.pop(0)
            self._follower.feed(time_s, data[0])

    def reading(self, now_s: float) -> ClockReading:
        return self._follower.reading(now_s)

    def beat_due_s(self, beat: float) -> float | None:
        return self._follower.beat_due_s(beat)

    def words(self, now_s: float) -> str:
        state = self._follower.reading(now_s).state
        return "" if state.value == "running" else f"The clock is {state.value}."


def follow(
    asked: Exercise, messages: list[TimedMessage], *, until_s: float, begin_s: float = 0.0
) -> tuple[FollowedBeat, dict[int, DuePoint], list[tuple[float, int]]]:
    """Turn it each 2 ms; return it, the last word on each prompt, and when each word came."""
    conductor = FollowedBeat(asked, Device(messages))
    told: dict[int, DuePoint] = {}
    when: list[tuple[float, int]] = []
    begun = False
    for step in range(round(until_s / 0.002)):
        now_s = step * 0.002
        if not begun and now_s >= begin_s:
            conductor.begin(now_s, 1)
            begun = True
        for due in conductor.turn(now_s):
            told[due.n] = due
            when.append((now_s, due.n))
    return conductor, told, when


def test_a_steady_clock_gives_each_prompt_its_beat_after_a_bar_of_count_in() -> None:
    messages = list(clock_messages([Stretch(40, 120)], start_s=1.0))
    _, told, when = follow(in_tempo(*ASKED), messages, until_s=8.0)
    # The clock starts at 1 s, a beat each half second; the count-in begins with its next bar line.
    first_s = told[1].due_s
    assert (first_s - 1.0) % 2.0 == pytest.approx(0.0, abs=0.001)  # on a bar line
    assert [told[n].due_s for n in range(1, 7)] == pytest.approx(
        [first_s + (n - 1) * 0.5 for n in range(1, 7)], abs=0.001
    )
    for n in range(1, 7):
        heard_s = max(now_s for now_s, prompt in when if prompt == n)
        assert heard_s < told[n].due_s - told[n].half_window_s + 0.003


def test_a_change_of_tempo_moves_the_beats_that_are_to_come() -> None:
    messages = list(clock_messages([Stretch(10, 120), Stretch(30, 90)], start_s=1.0))
    conductor, told, _ = follow(in_tempo(*ASKED), messages, until_s=12.0, begin_s=1.2)
    # Beat 10 falls at 6 s; from there they are 60 / 90 s apart. The first is due on beat 8.
    true_s = [5.0, 5.5, 6.0, 6.0 + 2 / 3, 6.0 + 4 / 3, 8.0]
    found_s = [told[n].due_s for n in range(1, 7)]
    assert conductor.moved == pytest.approx(0.25, abs=0.005)  # from 120 to 90, and it was to be 120
    # The beat after the change is foretold by the old tempo until three clocks have shown the new one.
    assert found_s == pytest.approx(true_s, abs=0.01)


def test_it_waits_for_the_clock_and_says_so() -> None:
    conductor, told, _ = follow(in_tempo(*ASKED), [], until_s=3.0)
    assert not told
    assert conductor.gives_beat  # it is waited for
    assert "absent" in conductor.trouble
    assert conductor.beat(3.0) is None


def test_a_clock_that_stops_gives_no_beat_until_it_runs_again() -> None:
    messages = list(clock_messages([Stretch(12, 120)], start_s=1.0))  # stops at 7 s
    conductor, _, _ = follow(in_tempo(*ASKED), messages, until_s=7.5, begin_s=1.2)
    assert not conductor.gives_beat
    conductor.stop()
    assert not conductor.gives_beat
    conductor = FollowedBeat(in_tempo(*ASKED), Device(list(clock_messages([Stretch(8, 100)], start_s=8.0))))
    conductor.turn(9.5)
    assert conductor.gives_beat


def test_the_beat_that_is_shown_counts_in_and_goes_round_the_bar() -> None:
    messages = list(clock_messages([Stretch(40, 120)], start_s=1.0))
    conductor, told, _ = follow(in_tempo(*ASKED), messages, until_s=told_until(), begin_s=1.2)
    shown = conductor.beat(told_until())
    assert shown is not None
    assert shown.a_bar == 4
    assert shown.tempo_bpm == pytest.approx(120, rel=0.002)
    left_s = told[1].due_s - told_until()
    assert shown.counts_in == pytest.approx(left_s / 0.5, abs=1.0)


def told_until() -> float:
    return 3.6


def test_several_notes_a_beat() -> None:
    tempo = Tempo(120.0, notes_a_beat=2)
    messages = list(clock_messages([Stretch(40, 120)], start_s=1.0))
    _, told, _ = follow(in_tempo(*ASKED, tempo=tempo), messages, until_s=8.0)
    gaps_s = [told[n + 1].due_s - told[n].due_s for n in range(1, 6)]
    assert gaps_s == pytest.approx([0.25] * 5, abs=0.001)
    assert told[1].half_window_s == pytest.approx(0.25 * 0.25, rel=0.01)


def test_an_own_beat_tells_all_at_once_and_clicks() -> None:
    script = Script.__new__(Script)
    script.planned, script.clicked = [], []
    conductor = OwnBeat(in_tempo(*ASKED), Clicking(script))
    assert conductor.beat(5.0) is None
    conductor.begin(5.0, 3)
    dues = conductor.turn(5.0)
    assert [due.n for due in dues] == [3, 4, 5, 6]
    assert dues[0].due_s == pytest.approx(5.0 + LEAD_S + 2.0)
    assert conductor.beat(5.0 + LEAD_S + 0.01) == Beat(1, 4, 4, True, 120.0)
    assert conductor.next_click_s(5.0) == pytest.approx(5.0 + LEAD_S)
    conductor.stop()
    assert script.planned == []
    assert conductor.beat(6.0) is None


def test_a_tempo_out_of_range_is_told_at_once() -> None:
    script = Script.__new__(Script)
    with pytest.raises(BadInput, match="900 bpm"):
        OwnBeat(in_tempo(*ASKED, tempo=Tempo(900.0)), Clicking(script))
    with pytest.raises(ValueError, match="not in tempo"):
        OwnBeat(exercise("6:5"), Clicking(script))

"""A clock is followed through starts, stops, jitter, changes of tempo and loss; ours ticks as it should."""

import itertools
import math
import random

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.tempo import LEAST_BPM, MOST_BPM, ClockFollower, ClockState, Stretch, clock_messages
from midifret.tempo.midi_clock import LOST_AFTER_S
from midifret.terms import BadInput

# System real time, MIDI 1.0 [mem]: clock F8, start FA, continue FB, stop FC; 24 clocks to a quarter.
CLOCK, START, CONTINUE, STOP, SENSING = 0xF8, 0xFA, 0xFB, 0xFC, 0xFE
AT_120_S = 60 / 120 / 24


def ticking(follower: ClockFollower, from_s: float, clocks: int, interval_s: float = AT_120_S) -> float:
    """Send clocks, the first at from_s; return when the last one came."""
    for number in range(clocks):
        follower.feed(from_s + number * interval_s, CLOCK)
    return from_s + (clocks - 1) * interval_s


def test_clocks_fall_where_another_library_plays_them() -> None:
    # mido works out when the events of a file sound: one note a tick, at 24 ticks to a quarter, three tempos.
    stretches = [Stretch(4, 120), Stretch(2.5, 90), Stretch(3, 200)]
    track = mido.MidiTrack()
    for stretch in stretches:
        track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(stretch.tempo_bpm)))
        for _ in range(round(stretch.beats * 24)):
            track.append(mido.Message("note_on", note=60, velocity=64))
            track.append(mido.Message("note_off", note=60, time=1))
    song = mido.MidiFile(ticks_per_beat=24)
    song.tracks.append(track)
    theirs_s, now_s = [], 0.0
    for message in song:
        now_s += message.time
        if message.type == "note_on":
            theirs_s.append(now_s)
    ours = list(clock_messages(stretches, 2.0))
    assert [data[0] for _, data in ours] == [START, *[CLOCK] * 228, STOP]
    # A file holds whole microseconds a quarter: at most half of one off for each of 9.5 quarters.
    assert [time_s - 2.0 for time_s, _ in ours[1:-1]] == pytest.approx(theirs_s, abs=5e-6)
    assert ours[-1].time_s - 2.0 == pytest.approx(now_s, abs=5e-6)
    assert ours[0].time_s == pytest.approx(1.999)  # at least 1 ms before the first clock (MIDI 1.0)


def test_a_tempo_change_between_two_clocks_moves_the_next_one() -> None:
    # A quarter clock at 60 bpm (1/24 s), the rest at 120: 0.25/24 + 0.75/48 s after the stretch began [calc].
    times_s = [time_s for time_s, _ in clock_messages([Stretch(0.25 / 24, 60), Stretch(1, 120)], 1.0)]
    assert times_s[1] == 1.0
    assert times_s[2] == pytest.approx(1.0 + 0.25 / 24 + 0.75 / 48)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.builds(Stretch, st.integers(2, 12).map(float), st.floats(LEAST_BPM, MOST_BPM)),
        min_size=1,
        max_size=4,
    )
)
def test_what_we_send_we_follow(stretches: list[Stretch]) -> None:
    follower = ClockFollower()
    messages = list(clock_messages(stretches, 1.0))
    assert all(a.time_s <= b.time_s for a, b in itertools.pairwise(messages))
    for time_s, data in messages[:-1]:
        follower.feed(time_s, data[0])
    reading = follower.reading(messages[-1].time_s - 1e-9)
    assert reading.state is ClockState.RUNNING
    # Two beats hold 48 clocks: the line has nothing but the last tempo in it.
    assert reading.tempo_bpm == pytest.approx(stretches[-1].tempo_bpm, rel=1e-6)
    assert reading.beat == pytest.approx(sum(stretch.beats for stretch in stretches), abs=1e-3)
    follower.feed(messages[-1].time_s, STOP)
    assert follower.reading(messages[-1].time_s).state is ClockState.STOPPED


def test_the_first_clock_after_a_start_is_the_downbeat() -> None:
    follower = ClockFollower()
    assert follower.reading(0.0).state is ClockState.ABSENT
    follower.feed(1.0, START)
    waiting = follower.reading(1.2)
    assert (waiting.state, waiting.tempo_bpm, waiting.beat) == (ClockState.STARTING, None, 0.0)
    last_s = ticking(follower, 1.25, 25)
    running = follower.reading(last_s)
    assert (running.state, running.in_range) == (ClockState.RUNNING, True)
    assert running.tempo_bpm == pytest.approx(120)
    assert running.beat == pytest.approx(1.0)
    assert follower.beat_due_s(0) == pytest.approx(1.25)
    assert follower.beat_due_s(2.5) == pytest.approx(1.25 + 1.25)


def test_between_clocks_the_beat_moves_on_but_not_beyond_the_next() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    last_s = ticking(follower, 0.1, 49)
    assert follower.reading(last_s + AT_120_S / 2).beat == pytest.approx(2 + 0.5 / 24)
    assert follower.reading(last_s + 5 * AT_120_S).beat == pytest.approx(2 + 1 / 24)


def test_a_stop_holds_the_place_and_a_continue_goes_on_from_it() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    last_s = ticking(follower, 0.1, 36)  # places 0 to 35; the next is 36, one and a half beats
    follower.feed(last_s + 0.001, STOP)
    # Many devices go on sending clocks: they move nothing.
    last_s = ticking(follower, last_s + AT_120_S, 30)
    stopped = follower.reading(last_s)
    assert (stopped.state, stopped.beat) == (ClockState.STOPPED, 1.5)
    assert stopped.tempo_bpm == pytest.approx(120)
    follower.feed(last_s + 0.001, CONTINUE)
    assert follower.reading(last_s + 0.002).state is ClockState.STARTING
    last_s = ticking(follower, last_s + AT_120_S, 13)
    assert follower.reading(last_s).state is ClockState.RUNNING
    assert follower.reading(last_s).beat == pytest.approx(1.5 + 12 / 24)


def test_clocks_that_pause_while_stopped_do_not_spoil_the_tempo() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    last_s = ticking(follower, 0.1, 40)
    follower.feed(last_s + 0.001, STOP)
    follower.feed(last_s + 0.3, CONTINUE)
    last_s = ticking(follower, last_s + 0.31, 5)
    assert follower.reading(last_s).tempo_bpm == pytest.approx(120)


def test_a_song_position_says_where_continue_goes_on() -> None:
    # In sixteenths of which each has six clocks (MIDI 1.0): 10 are two and a half beats.
    follower = ClockFollower()
    follower.song_position(1.0, 10)
    follower.feed(1.1, CONTINUE)
    last_s = ticking(follower, 1.2, 25)
    assert follower.reading(last_s).beat == pytest.approx(3.5)


@pytest.mark.parametrize(("tempo_bpm", "off"), [(60, 0.005), (120, 0.01), (200, 0.015)])
def test_jitter_of_a_millisecond_hardly_moves_the_tempo(tempo_bpm: float, off: float) -> None:
    # A line through 25 clocks has a standard error of the interval of 1 ms / sqrt(1300), that is 0.028 ms; of
    # 41.7, 20.8 and 12.5 ms it is 0.07%, 0.13% and 0.22% [calc]. Six of these are never exceeded by 1,000.
    draw, follower, interval_s = random.Random(4), ClockFollower(), 60 / tempo_bpm / 24
    follower.feed(0.0, START)
    before_s, worst = 0.0, 0.0
    for number in range(1000):
        time_s = max(before_s, 1 + number * interval_s + draw.gauss(0, 0.001))
        follower.feed(time_s, CLOCK)
        before_s = time_s
        if number >= 24:
            found = follower.reading(time_s)
            assert found.tempo_bpm is not None
            assert found.beat is not None
            worst = max(worst, abs(found.tempo_bpm / tempo_bpm - 1))
            due_s = follower.beat_due_s(number / 24)
            assert due_s is not None
            assert abs(due_s - (1 + number * interval_s)) < 0.0025  # the phase: jitter smoothed
    assert worst < off


@pytest.mark.parametrize(
    ("before_bpm", "after_bpm", "clocks"),
    [(120, 60, 6), (60, 120, 6), (120, 132, 12), (120, 126, 25), (100, 300, 8), (300, 40, 6)],
)
def test_a_new_tempo_is_told_within_a_beat(before_bpm: float, after_bpm: float, clocks: int) -> None:
    # Within so many clocks to 1%, and after 25 exactly, for then no old clock is in the line [calc].
    follower = ClockFollower()
    follower.feed(0.0, START)
    last_s = ticking(follower, 0.5, 60, 60 / before_bpm / 24)
    assert follower.reading(last_s).tempo_bpm == pytest.approx(before_bpm)
    interval_s = 60 / after_bpm / 24
    first_s = last_s + interval_s
    last_s = ticking(follower, first_s, clocks, interval_s)
    assert follower.reading(last_s).tempo_bpm == pytest.approx(after_bpm, rel=0.01)
    if clocks < 25:
        last_s = ticking(follower, last_s + interval_s, 25 - clocks, interval_s)
    assert follower.reading(last_s).tempo_bpm == pytest.approx(after_bpm, rel=1e-6)
    assert follower.reading(last_s).beat == pytest.approx((60 + 25 - 1) / 24)


def test_clocks_that_were_held_up_do_not_change_the_tempo() -> None:
    # A stall of 36 ms (99th percentile beside a parsing load, measured): clocks come in a bunch at its end.
    for tempo_bpm in (120, 300):
        interval_s, follower = 60 / tempo_bpm / 24, ClockFollower()
        follower.feed(0.0, START)
        for number in range(120):
            sent_s = 1 + number * interval_s
            stall_s = 1 + 60 * interval_s
            time_s = max(sent_s, stall_s + 0.036) if sent_s >= stall_s else sent_s
            follower.feed(time_s, CLOCK)
            found = follower.reading(time_s)
            if number >= 24:
                assert found.tempo_bpm is not None
                assert abs(found.tempo_bpm / tempo_bpm - 1) < 0.02, (tempo_bpm, number)
        assert follower.reading(time_s).tempo_bpm == pytest.approx(tempo_bpm, rel=1e-6)
        assert follower.reading(time_s).beat == pytest.approx(119 / 24)


def test_a_lost_clock_is_told_and_its_place_is_not_invented() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    last_s = ticking(follower, 0.1, 50)
    assert follower.reading(last_s + LOST_AFTER_S - 0.01).state is ClockState.RUNNING
    lost = follower.reading(last_s + LOST_AFTER_S + 0.01)
    assert (lost.state, lost.tempo_bpm, lost.beat) == (ClockState.LOST, None, None)
    # It is back: a tempo, but who knows which beat.
    last_s = ticking(follower, last_s + 3, 30)
    back = follower.reading(last_s)
    assert (back.state, back.beat) == (ClockState.UNPLACED, None)
    assert back.tempo_bpm == pytest.approx(120)
    assert follower.beat_due_s(1) is None
    # Nor does a continue say where it goes on, for the place of the stop is not known.
    follower.feed(last_s + 0.001, STOP)
    follower.feed(last_s + 0.002, CONTINUE)
    last_s = ticking(follower, last_s + AT_120_S, 30)
    assert (follower.reading(last_s).state, follower.reading(last_s).beat) == (ClockState.UNPLACED, None)
    follower.feed(last_s + 0.001, START)
    last_s = ticking(follower, last_s + AT_120_S, 25)
    assert follower.reading(last_s).beat == pytest.approx(1)


def test_who_joins_while_it_runs_knows_the_tempo_alone() -> None:
    follower = ClockFollower()
    last_s = ticking(follower, 0.1, 30)
    joined = follower.reading(last_s)
    assert (joined.state, joined.beat) == (ClockState.UNPLACED, None)
    assert joined.tempo_bpm == pytest.approx(120)
    assert follower.reading(last_s + 2).state is ClockState.LOST


def test_a_start_without_clocks_is_a_lost_clock_but_keeps_its_place() -> None:
    follower = ClockFollower()
    follower.feed(1.0, START)
    assert follower.reading(1.0 + LOST_AFTER_S + 0.01).state is ClockState.LOST
    last_s = ticking(follower, 5.0, 25)
    assert follower.reading(last_s).state is ClockState.RUNNING
    assert follower.reading(last_s).beat == pytest.approx(1)


def test_a_stopped_clock_is_not_lost() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    last_s = ticking(follower, 0.1, 24)
    follower.feed(last_s + 0.01, STOP)
    later = follower.reading(last_s + 60)
    assert (later.state, later.tempo_bpm, later.beat) == (ClockState.STOPPED, None, 1.0)


def test_a_tempo_beyond_the_range_is_flagged() -> None:
    follower = ClockFollower()
    follower.feed(0.0, START)
    last_s = ticking(follower, 0.1, 30, 0.001)  # 2,500 bpm
    found = follower.reading(last_s)
    assert found.tempo_bpm == pytest.approx(2500)
    assert not found.in_range
    same = ClockFollower()
    last_s = ticking(same, 1.0, 30, 0.0)  # all at one moment: no tempo at all
    assert same.reading(last_s).tempo_bpm is None


MESSAGES = st.lists(
    st.tuples(
        st.one_of(st.just(AT_120_S), st.floats(0, 0.05), st.floats(0, 2)),
        st.sampled_from([CLOCK] * 12 + [START, CONTINUE, STOP, SENSING]),
    ),
    max_size=150,
)


@settings(max_examples=200, deadline=None)
@given(MESSAGES)
def test_whatever_comes_the_beat_never_goes_back_while_it_runs(messages: list[tuple[float, int]]) -> None:
    follower, now_s, before = ClockFollower(), 0.0, None
    for step_s, status in messages:
        for part in (0.3, 0.9):
            found = follower.reading(now_s + step_s * part)
            if found.state is ClockState.RUNNING:
                assert found.beat is not None
                assert before is None or found.beat >= before - 1e-9
                before = found.beat
            else:
                before = None
        now_s += step_s
        follower.feed(now_s, status)
        if status in (START, STOP):
            before = None


def test_bad_values_are_named() -> None:
    follower = ClockFollower()
    follower.feed(5.0, CLOCK)
    for bad in (4.9, -1.0, math.nan, math.inf, 1.8e9):
        with pytest.raises(BadInput, match="a message cannot be at"):
            follower.feed(bad, CLOCK)
    with pytest.raises(BadInput, match=r"a reading cannot be at 4 s \(5 s to"):
        follower.reading(4.0)
    with pytest.raises(BadInput, match="60 is no status byte"):
        follower.feed(6.0, 60)
    with pytest.raises(BadInput, match="0 to 16383"):
        follower.song_position(6.0, 16384)
    with pytest.raises(BadInput, match="10 to 400 bpm"):
        Stretch(4, 500)
    with pytest.raises(BadInput, match="cannot have 0 beats"):
        Stretch(0, 100)
    with pytest.raises(BadInput, match="the first beat cannot be at -1 s"):
        list(clock_messages([Stretch(1, 100)], -1))

"""A loop that turns each millisecond: sleep, stalls and a set wall clock are told apart; nothing else is."""

import random
import sys
import time

import pytest

from midifret.clock import Jump, JumpKind, JumpWatch, Readings, RealClock, SimulatedClock
from midifret.clock.jumps import SLEEP_S, STALL_S, WALL_STEP_S


class Loop:
    """Turns a loop on a simulated clock and keeps what the watch told."""

    def __init__(self) -> None:
        self.clock = SimulatedClock(50.0)
        self.watch = JumpWatch()
        self.told: list[Jump] = []
        self.turn(10)

    def turn(self, times: int = 1) -> None:
        for _ in range(times):
            self.told += self.watch.look(self.clock.readings())
            self.clock.wait_s(0.001)


def test_nothing_happens_in_an_ordinary_hour() -> None:
    loop, draw = Loop(), random.Random(1)
    for _ in range(20_000):
        loop.turn()
        loop.clock.wait_s(draw.expovariate(1 / 0.02))  # now and then well over 100 ms, as beside a load
        if loop.clock.readings().steady_s > 3650:
            break
    assert all(jump.kind is JumpKind.STALLED for jump in loop.told)
    assert len(loop.told) <= 20_000 * 3.7e-6 * 4  # exp(-0.25/0.02) = 3.7e-6 a turn


@pytest.mark.parametrize("steady_goes_on", [False, True])
def test_sleep_is_told_with_its_length(steady_goes_on: bool) -> None:
    loop = Loop()
    before_s = loop.clock.now_s() - 0.001
    loop.clock.suspend(3600.0, steady_goes_on=steady_goes_on)
    loop.turn(100)
    [jump] = loop.told
    assert jump.kind is JumpKind.SUSPENDED
    assert jump.voids
    assert jump.lost_s == pytest.approx(3600.0)
    assert jump.since_s == pytest.approx(before_s)
    assert jump.until_s - jump.since_s == pytest.approx(0.001 + (3600.0 if steady_goes_on else 0.0))


def test_waking_slowly_is_part_of_the_sleep() -> None:
    loop = Loop()
    loop.clock.suspend(5.0)
    loop.clock.wait_s(1.0)
    loop.turn()
    [jump] = loop.told
    assert (jump.kind, jump.lost_s) == (JumpKind.SUSPENDED, pytest.approx(5.0))
    assert jump.until_s - jump.since_s == pytest.approx(1.001)


def test_a_loop_that_is_kept_from_running() -> None:
    loop = Loop()
    loop.clock.wait_s(STALL_S - 0.002)
    loop.turn()
    assert loop.told == []
    loop.clock.wait_s(STALL_S)
    loop.turn(50)
    [jump] = loop.told
    assert (jump.kind, jump.voids) == (JumpKind.STALLED, True)
    assert jump.lost_s == pytest.approx(jump.until_s - jump.since_s) == pytest.approx(STALL_S + 0.001)


@pytest.mark.parametrize("by_s", [3600.0, -3600.0, 0.2, -0.2])
def test_a_wall_clock_that_is_set_harms_nothing(by_s: float) -> None:
    loop = Loop()
    loop.clock.set_wall_clock(by_s)
    loop.turn(50)
    [jump] = loop.told
    assert (jump.kind, jump.voids) == (JumpKind.WALL_CLOCK_SET, False)
    assert jump.lost_s == pytest.approx(by_s, abs=1e-6)


def test_a_wall_clock_that_is_bent_is_not_set() -> None:
    loop = Loop()
    for _ in range(5000):
        loop.clock.set_wall_clock(0.001 * 500e-6)  # the most by which a kernel bends it [mem]
        loop.turn()
    assert loop.told == []


def test_sleep_and_a_set_clock_at_once_are_both_told() -> None:
    loop = Loop()
    loop.clock.suspend(60.0)
    loop.clock.set_wall_clock(-10.0)
    loop.turn()
    assert [(jump.kind, round(jump.lost_s, 3)) for jump in loop.told] == [
        (JumpKind.SUSPENDED, 60.0),
        (JumpKind.WALL_CLOCK_SET, -10.0),
    ]


def test_a_rest_that_was_meant_is_left_out() -> None:
    loop = Loop()
    loop.watch.forget()
    loop.clock.wait_s(30.0)
    loop.turn(5)
    assert loop.told == []


def test_without_a_clock_that_tells_of_sleep_a_leap_forward_is_sleep_and_one_back_is_not() -> None:
    watch = JumpWatch()
    assert watch.look(Readings(1.0, 1000.0)) == ()
    assert watch.look(Readings(1.001, 1000.001)) == ()
    [slept] = watch.look(Readings(1.002, 1030.002))
    assert (slept.kind, slept.lost_s) == (JumpKind.SUSPENDED, pytest.approx(30.0))
    [back] = watch.look(Readings(1.003, 1000.003))
    assert (back.kind, back.lost_s) == (JumpKind.WALL_CLOCK_SET, pytest.approx(-30.0))
    [stalled] = watch.look(Readings(1.503, 1000.503))
    assert (stalled.kind, stalled.lost_s) == (JumpKind.STALLED, pytest.approx(0.5))


def test_clocks_that_were_read_far_apart_prove_nothing() -> None:
    # The reader was kept for 150 ms between its clocks: one seems to have gained that on the other.
    watch = JumpWatch()
    watch.look(Readings(1.0, 1000.0, 5.0, 1.0))
    kept_s = max(SLEEP_S, WALL_STEP_S) + 0.05
    late = Readings(1.001, 1000.001 + kept_s, 5.001 + kept_s, 1.001, took_s=kept_s)
    assert watch.look(late) == ()


def test_the_real_clock_reads_all_clocks_at_one_moment() -> None:
    clock = RealClock()
    before, after = clock.readings(), clock.readings()
    assert before.steady_s <= after.steady_s <= time.perf_counter()
    assert abs(after.wall_s - time.time()) < 60
    if sys.platform == "linux":
        assert before.with_sleep_s is not None
        assert before.with_sleep_s >= before.steady_s - before.took_s  # man 2 clock_gettime: CLOCK_BOOTTIME
        assert before.without_sleep_s == before.steady_s
    watch = JumpWatch()
    watch.look(before)
    assert [jump for jump in watch.look(after) if jump.kind is not JumpKind.STALLED] == []

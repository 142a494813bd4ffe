"""The simulated clock moves only when waited on; the real one keeps the contract of a clock."""

import math
import time

import pytest

from midifret.clock import RealClock, SimulatedClock


def test_a_simulated_clock_moves_only_by_waiting() -> None:
    clock = SimulatedClock(5.0)
    assert clock.now_s() == 5.0
    clock.wait_s(600.0)
    assert clock.now_s() == 605.0
    clock.wait_s(-1.0)
    assert clock.now_s() == 605.0


@pytest.mark.parametrize("seconds", [math.inf, math.nan])
def test_a_simulated_clock_refuses_to_wait_for_ever(seconds: float) -> None:
    with pytest.raises(ValueError, match="cannot wait"):
        SimulatedClock().wait_s(seconds)


def test_the_real_clock_is_the_steady_one_and_does_not_sleep_for_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    slept: list[float] = []
    monkeypatch.setattr(time, "sleep", slept.append)
    clock = RealClock()
    before = time.perf_counter()
    now = clock.now_s()
    assert before <= now <= time.perf_counter()
    clock.wait_s(0.0)
    clock.wait_s(-3.0)
    clock.wait_s(0.25)
    assert slept == [0.25]

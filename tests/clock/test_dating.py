"""Messages are dated by the driver's steps where these hold, by arrival where they do not."""

import itertools
import random
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.clock import MessageDater
from midifret.clock.dating import SLACK_S, WINDOW_S

POLL_S = 0.001  # the live loop asks each millisecond


def read_by_a_loop(
    sent_s: list[float], deltas_s: list[float], stalls: Sequence[tuple[float, float]] = ()
) -> list[tuple[float, bool]]:
    """Date messages as a loop would that asks each POLL_S, but not during the stalls (from, to)."""
    dater = MessageDater()
    dated: list[tuple[float, bool]] = []
    empty_s = sent_s[0] - POLL_S
    index = 0
    while index < len(sent_s):
        now_s = max(sent_s[index], empty_s)
        now_s = (now_s // POLL_S + 1) * POLL_S  # the next moment at which the loop asks
        for start_s, end_s in stalls:
            if start_s < now_s < end_s:
                now_s = end_s
        # Nothing waited at the last question before this one, unless the loop was kept from asking.
        empty_s = max(empty_s, min([now_s - POLL_S, *(s for s, e in stalls if s < now_s <= e)]))
        while index < len(sent_s) and sent_s[index] <= now_s:
            dated.append(dater.date(deltas_s[index], now_s, empty_s=empty_s))
            index += 1
        empty_s = now_s
    return dated


def steps(times_s: list[float]) -> list[float]:
    """The steps that a driver tells: the first is 0."""
    return [0.0, *(b - a for a, b in itertools.pairwise(times_s))]


def errors_s(dated: list[tuple[float, bool]], sent_s: list[float]) -> list[float]:
    return [time_s - sent for (time_s, _), sent in zip(dated, sent_s, strict=True)]


def test_the_first_message_is_dated_by_its_arrival() -> None:
    assert MessageDater().date(0.0, 12.5) == (12.5, True)


def test_a_stall_of_200_ms_does_not_move_what_was_sent_meanwhile() -> None:
    sent = [10 + n * 0.02 for n in range(50)]
    dated = read_by_a_loop(sent, steps(sent), stalls=[(10.305, 10.505)])
    assert max(abs(error) for error in errors_s(dated, sent)) <= 2 * POLL_S
    assert all(trusted for _, trusted in dated)


def test_drift_of_100_ppm_is_followed_for_an_hour() -> None:
    # The driver's clock runs slow or fast; one note a second.
    for rate in (1 - 1e-4, 1 + 1e-4):
        sent = [100 + n * 1.0003 for n in range(3600)]
        dated = read_by_a_loop(sent, steps([time * rate for time in sent]))
        assert max(abs(error) for error in errors_s(dated, sent)) <= 2 * POLL_S + WINDOW_S * 1e-4
        assert all(trusted for _, trusted in dated)


def test_steps_of_whole_milliseconds_lose_at_most_a_millisecond() -> None:
    # A driver that stamps in whole milliseconds: each stamp is cut, the sum of steps is not.
    sent = [3 + n * 0.0137 for n in range(500)]
    dated = read_by_a_loop(sent, steps([time * 1000 // 1 / 1000 for time in sent]))
    assert max(abs(error) for error in errors_s(dated, sent)) <= 3 * POLL_S


def test_one_step_for_every_message_of_a_packet_falls_back_to_arrival() -> None:
    # Three messages at once, each told the step of the first: the sum runs ahead of the arrivals.
    sent = [time for n in range(40) for time in (n * 0.5,) * 3]
    dated = read_by_a_loop(sent, [0.5] * len(sent))
    assert max(abs(error) for error in errors_s(dated, sent)) <= 2 * POLL_S
    assert [trusted for _, trusted in dated[3:6]] == [True, False, False]


def test_a_missing_step_falls_back_to_arrival_once() -> None:
    sent = [n * 0.3 for n in range(30)]
    deltas = steps(sent)
    deltas[10] = 0.0
    dated = read_by_a_loop(sent, deltas)
    assert max(abs(error) for error in errors_s(dated, sent)) <= 2 * POLL_S
    assert [n for n, (_, trusted) in enumerate(dated) if not trusted] == [10]


@pytest.mark.parametrize("wild", [1000.0, -1000.0, float("nan"), float("inf"), -float("inf"), 4.2e9, 1e300])
def test_a_wild_step_is_flagged_and_does_no_harm_after(wild: float) -> None:
    sent = [n * 0.3 for n in range(30)]
    deltas = steps(sent)
    deltas[10] = wild
    dated = read_by_a_loop(sent, deltas)
    assert max(abs(error) for error in errors_s(dated, sent)) <= 2 * POLL_S
    assert [n for n, (_, trusted) in enumerate(dated) if not trusted] == [10]


@pytest.mark.parametrize("driver_slept", [True, False])
def test_a_machine_that_slept_for_six_seconds(driver_slept: bool) -> None:
    # The clock of the arrivals went on while that of the driver stood still, or the other way round.
    sent = [n * 0.1 for n in range(20)] + [8 + n * 0.1 for n in range(20)]
    told = [n * 0.1 for n in range(40)]
    arrived, stepped = (sent, told) if driver_slept else (told, sent)
    dated = read_by_a_loop(arrived, steps(stepped))
    assert max(abs(error) for error in errors_s(dated, arrived)) <= 2 * POLL_S
    assert [n for n, (_, trusted) in enumerate(dated) if not trusted] == [20]


def test_steps_that_are_always_nothing_are_never_worse_than_the_slack() -> None:
    sent = [n * 0.004 for n in range(500)]
    dated = read_by_a_loop(sent, [0.0] * len(sent))
    assert max(abs(error) for error in errors_s(dated, sent)) <= SLACK_S + 2 * POLL_S
    assert not all(trusted for _, trusted in dated)


def test_a_reader_that_does_not_say_when_nothing_waited() -> None:
    dater = MessageDater()
    assert dater.date(0.0, 1.0) == (1.0, True)
    time_s, trusted = dater.date(0.5, 1.6)  # 100 ms late, still believed
    assert (time_s, trusted) == (pytest.approx(1.5), True)
    assert dater.date(0.5, 2.4) == (2.4, False)  # 400 ms late is not


def test_late_reading_beside_a_load_is_undone() -> None:
    # Stalls of up to 36 ms, as measured beside a parsing load; the times stay within two polling steps once
    # one message has been read in time.
    random_ = random.Random(7)
    sent = [n * 0.05 + random_.uniform(0, 0.04) for n in range(400)]
    stalls = [(s, s + random_.uniform(0.005, 0.036)) for s in (n * 0.06 + 0.1 for n in range(330))]
    dated = read_by_a_loop(sent, steps(sent), stalls=stalls)
    late = errors_s(dated, sent)
    assert max(late[20:]) <= 2 * POLL_S
    assert min(late) >= -1e-9


@given(
    st.lists(
        st.tuples(
            st.floats(allow_nan=True, allow_infinity=True),
            st.floats(min_value=-5, max_value=100),
            st.one_of(st.none(), st.floats(min_value=-10, max_value=10)),
        ),
        max_size=60,
    )
)
def test_any_steps_give_times_that_never_run_back_and_are_never_after_arrival(
    messages: list[tuple[float, float, float | None]],
) -> None:
    dater = MessageDater()
    arrival_s, last_s = 0.0, -float("inf")
    for delta_s, wait_s, empty_before_s in messages:
        arrival_s += max(0.0, wait_s)
        empty_s = None if empty_before_s is None else arrival_s - empty_before_s
        time_s, _ = dater.date(delta_s, arrival_s, empty_s=empty_s)
        assert last_s <= time_s <= arrival_s
        last_s = time_s


@given(
    st.lists(st.floats(min_value=0, max_value=30), min_size=1, max_size=60),
    st.lists(st.floats(min_value=0, max_value=0.2), min_size=60, max_size=60),
)
def test_true_steps_never_give_a_worse_time_than_the_arrival(gaps: list[float], delays: list[float]) -> None:
    dater = MessageDater()
    sent_s, arrival_s = 0.0, 0.0
    for index, (gap, delay) in enumerate(zip(gaps, delays, strict=False)):
        sent_s += gap
        arrival_s = max(arrival_s, sent_s + delay)
        time_s, _ = dater.date(gap if index else 0.0, arrival_s)
        assert sent_s - 1e-6 <= time_s <= arrival_s

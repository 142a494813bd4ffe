"""The clock of a page is found to known truth, and says how sure it is."""

import itertools
import math
import random
from collections.abc import Iterable

import pytest

from midifret.stand.sync import STALE_S, ClockSync, Exchange
from tests.stand.clocks import Delays, PageClock, exchanges, one_machine, watched, wifi

DRIFTS_PPM = (0, 50, -50, 200, -200)  # crystals are within 100 (common practice, no source); twice that
UNFAVOURABLE = {"lost": 0.3, "stalls": ((20.0, 6.0), (100.0, 2.0))}


def quantile(values: Iterable[float], share: float) -> float:
    ordered = sorted(values)
    return ordered[int(len(ordered) * share)]


def many(drift_ppm: float, delays: Delays, **how: object) -> tuple[list[float], list[float]]:
    errors: list[float] = []
    stated: list[float] = []
    for seed in range(8):
        clock = PageClock(1e6 + seed * 777.7, drift_ppm)
        e, s, sync = watched(clock, delays, random.Random(seed), seconds=240, **how)  # type: ignore[arg-type]
        assert sync.figures().jumps == 0
        errors += e
        stated += s
    return errors, stated


@pytest.mark.parametrize("how", [{}, UNFAVOURABLE], ids=["plain", "lost and stalled"])
@pytest.mark.parametrize("drift_ppm", DRIFTS_PPM)
def test_on_one_machine_the_error_is_under_1_ms_at_the_99th_percentile(
    drift_ppm: float, how: dict[str, object]
) -> None:
    errors, stated = many(drift_ppm, one_machine, **how)
    # The goal is 1 ms; 0.4 is what was measured with some room, so that a change for the worse is seen.
    assert quantile(map(abs, errors), 0.99) < 0.4
    assert all(abs(error) <= known for error, known in zip(errors, stated, strict=True))
    assert quantile(stated, 0.5) < 1


@pytest.mark.parametrize("how", [{}, UNFAVOURABLE], ids=["plain", "lost and stalled"])
@pytest.mark.parametrize("drift_ppm", DRIFTS_PPM)
def test_by_radio_the_stated_uncertainty_holds_the_truth(drift_ppm: float, how: dict[str, object]) -> None:
    errors, stated = many(drift_ppm, wifi, **how)
    held = sum(abs(error) <= known for error, known in zip(errors, stated, strict=True)) / len(errors)
    assert held >= 0.95  # what is asked for; by the bounds it is all of them
    assert held == 1
    assert quantile(stated, 0.5) < 3  # half of a round trip is 4 ms at the median: it has to say something


def test_it_is_nearer_than_the_best_of_the_last_eight_round_trips() -> None:
    # The clock filter of RFC 5905, section 10: of the last eight the one with the least delay counts.
    clock = PageClock(5e5, 80)
    sync = ClockSync()
    ours: list[float] = []
    theirs: list[float] = []
    window: list[Exchange] = []
    for exchange in exchanges(clock, wifi, random.Random(4), seconds=600):
        sync.add(exchange)
        window = [*window[-7:], exchange]
        best = min(window, key=lambda each: each.round_trip_ms)
        at_s = exchange.back_s + 0.2
        page = sync.to_page(at_s)
        assert page is not None
        ours.append(abs(page.time_ms - clock.true_ms(at_s)))
        ahead_ms = (best.came_ms + best.went_ms) / 2 - (best.sent_s + best.back_s) * 500
        theirs.append(abs(at_s * 1000 + ahead_ms - clock.true_ms(at_s)))
    # Half of what the ways differ by at least, 0.35 ms, is hidden from both; what comes on top is ours to
    # gain.
    assert quantile(ours, 0.5) == pytest.approx(0.35, abs=0.05)
    assert quantile(ours, 0.99) < quantile(theirs, 0.99) / 2


def test_delays_of_one_way_alone_are_within_the_uncertainty() -> None:
    # Nothing can be known of a delay that is always there: the error is half of it, and is stated.
    errors, stated, _ = watched(PageClock(0, 0), lambda draw: (0.040, 0.001), random.Random(1), seconds=60)
    assert abs(quantile(errors, 0.5)) == pytest.approx(19.5, abs=0.5)
    assert all(abs(error) <= known for error, known in zip(errors, stated, strict=True))


@pytest.mark.parametrize("grain_ms", [100, 50 / 3, 2, 1, 0.1, 0.005])
def test_the_grain_of_the_clock_is_found_and_stated(grain_ms: float) -> None:
    clock = PageClock(1234567, 20, grain_ms=grain_ms)
    errors, stated, sync = watched(clock, one_machine, random.Random(3), seconds=60)
    assert sync.figures().grain_ms == grain_ms
    assert sync.figures().jumps == 0
    assert all(abs(error) <= known for error, known in zip(errors, stated, strict=True))


@pytest.mark.parametrize(
    ("by_ms", "delays"),
    [
        # What is less than a round trip nobody can tell.
        *((by_ms, one_machine) for by_ms in (-3_600_000, -400, -20, -5, 5, 20, 60_000)),
        *((by_ms, wifi) for by_ms in (-3_600_000, -400, -100, 100, 60_000)),
    ],
)
def test_a_jump_of_the_page_clock_is_found_and_begun_anew(by_ms: float, delays: Delays) -> None:
    clock = PageClock(5e6, 30, jumps=[(1060.0, by_ms)])
    sync = ClockSync()
    found_s: list[float] = []
    for exchange in exchanges(clock, delays, random.Random(7), seconds=90):
        if sync.add(exchange):
            found_s.append(exchange.back_s)
        now_s = exchange.back_s + 0.01
        page = sync.to_page(now_s)
        assert page is not None
        if found_s:
            assert abs(page.time_ms - clock.true_ms(now_s)) <= page.error_ms
    assert len(found_s) == 1
    assert 1060 <= found_s[0] < 1063
    assert sync.figures().jumps == 1
    if by_ms > 0:
        assert sync.to_run(clock.shown_ms(1059.0)) is None  # of the time before nothing is known any more


def test_a_page_that_slept_is_found_by_the_first_exchange_after_it() -> None:
    # The page's clock stood still for ten minutes, as performance.now may while the device sleeps.
    clock = PageClock(0, 50, jumps=[(1300.0, -600_000)])
    sync = ClockSync()
    played = list(exchanges(clock, one_machine, random.Random(2), seconds=700))
    before = [each for each in played if each.sent_s < 1060]
    after = [each for each in played if each.sent_s > 1660]
    for exchange in before:
        assert not sync.add(exchange)
    # What it tells first is of a clock of which nothing was heard for long: not told, rather than guessed.
    asleep_s = before[-1].back_s + STALE_S + 1
    assert sync.to_page(asleep_s) is None
    assert sync.add(after[0])
    now_s = after[0].back_s
    page = sync.to_page(now_s)
    assert page is not None
    assert abs(page.time_ms - clock.true_ms(now_s)) <= page.error_ms


def test_another_drift_is_followed() -> None:
    # A clock that is being set right runs 500 parts in a million fast (adjtimex(2), from memory) from a
    # minute on.
    plain, slewed = PageClock(1e6, 10), PageClock(1e6 - 0.5 * 1060, 510)
    draw = random.Random(9)
    sync = ClockSync()
    errors = []
    for exchange in exchanges(plain, one_machine, draw, seconds=60):
        sync.add(exchange)
    for exchange in exchanges(slewed, one_machine, draw, seconds=120, from_s=1060.0):
        assert not sync.add(exchange)
        now_s = exchange.back_s + 0.3
        page = sync.to_page(now_s)
        assert page is not None
        errors.append(abs(page.time_ms - slewed.true_ms(now_s)))
    assert max(errors) < 2
    assert quantile(errors, 0.9) < 0.5
    drift_ppm = sync.figures().drift_ppm
    assert drift_ppm == pytest.approx(510, abs=30)


def test_nothing_is_told_before_the_first_exchange_or_too_long_after_the_last() -> None:
    sync = ClockSync()
    assert sync.to_run(1.0) is None
    assert sync.to_page(1.0) is None
    assert sync.figures().error_ms is None
    sync.add(Exchange(10.0, 5000.0, 5000.1, 10.002))
    page = sync.to_page(10.002 + STALE_S)
    assert page is not None
    assert sync.to_page(10.1 + STALE_S) is None
    assert sync.to_run(5000 + 1000 * STALE_S + 200) is None


def test_an_exchange_that_contradicts_itself_is_left_out() -> None:
    sync = ClockSync()
    good = Exchange(10.0, 5000.37, 5000.401, 10.002)
    sync.add(good)
    known = sync.to_page(10.01)
    for wrong in (
        Exchange(11.0, 6000.41, 6000.113, 11.002),  # gone before it came
        Exchange(11.0, 6000.113, 6500.113, 11.002),  # kept for longer than it was away
    ):
        assert not sync.add(wrong)
        assert sync.to_page(10.01) == known


def test_there_and_back_give_the_same() -> None:
    clock = PageClock(7e8, 120, grain_ms=0.005)
    _, _, sync = watched(clock, one_machine, random.Random(5), seconds=100)
    for at_s in (1050.0, 1099.9, 1101.0):
        page = sync.to_page(at_s)
        assert page is not None
        run = sync.to_run(page.time_ms)
        assert run is not None
        assert run.time_s == pytest.approx(at_s, abs=1e-6)


def test_hours_change_neither_error_nor_what_is_kept() -> None:
    clock = PageClock(0, 37)
    sync = ClockSync()
    errors = []
    corners = 0
    for exchange in exchanges(clock, one_machine, random.Random(6), seconds=4 * 3600):
        sync.add(exchange)
        page = sync.to_page(exchange.back_s)
        assert page is not None
        errors.append(abs(page.time_ms - clock.true_ms(exchange.back_s)))
        assert sync._fit is not None
        corners = max(corners, len(sync._fit.polygon))
    assert quantile(errors[-3600:], 0.99) < 0.4
    assert corners < 40
    assert len(sync._slots) <= 24


def test_what_lies_on_no_line_at_all_is_a_clock_that_jumps_each_time() -> None:
    draw = random.Random(8)
    sync = ClockSync()
    jumps = 0
    for second in itertools.islice(itertools.count(1000), 50):
        stamp_ms = draw.uniform(0, 1e9)
        jumps += sync.add(Exchange(second, stamp_ms, stamp_ms + 0.01, second + 0.001))
    assert jumps > 45
    assert math.isfinite(sync.figures().error_ms or math.inf)

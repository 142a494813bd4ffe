"""Simulated pages with clocks of known offset and drift, behind delays of known kinds; time is simulated."""

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from midifret.stand.sync import ClockSync, Exchange

# As the server asks: a burst, then each second.
BURST, BURST_S, EACH_S = 12, 0.04, 1.0


@dataclass
class PageClock:
    """What a page's clock shows: offset and drift over the run's, rounded down to its grain, with jumps."""

    offset_ms: float
    drift_ppm: float
    grain_ms: float = 0.1
    jumps: list[tuple[float, float]] = field(default_factory=list)  # (run's clock in s, by how many ms)

    def true_ms(self, run_s: float) -> float:
        jumped_ms = sum(by_ms for at_s, by_ms in self.jumps if at_s <= run_s)
        return self.offset_ms + run_s * 1000 * (1 + self.drift_ppm * 1e-6) + jumped_ms

    def shown_ms(self, run_s: float) -> float:
        return math.floor(self.true_ms(run_s) / self.grain_ms) * self.grain_ms


Delays = Callable[[random.Random], tuple[float, float]]  # there and back, in seconds


def one_machine(draw: random.Random) -> tuple[float, float]:
    """Python to JavaScript on one machine: median 0.5 to 0.6 ms, 1.2 ms at the 99th percentile, measured.

    Log-normal around 0.55 ms; (ln 1.2 - ln 0.55) / 2.326 is its spread.
    """
    spread = (math.log(1.2) - math.log(0.55)) / 2.326
    return tuple(0.00055 * math.exp(draw.gauss(0, spread)) for _ in range(2))  # type: ignore[return-value]


def wifi(draw: random.Random) -> tuple[float, float]:
    """A network by radio: some ms, longer there than back, with queues of tens of ms [ours, no source]."""
    there = 0.0015 + draw.expovariate(1 / 0.004)
    back = 0.0008 + draw.expovariate(1 / 0.002)
    if draw.random() < 0.15:
        there += draw.expovariate(1 / 0.04)
    if draw.random() < 0.05:
        back += draw.expovariate(1 / 0.1)
    return there, back


def exchanges(
    clock: PageClock,
    delays: Delays,
    draw: random.Random,
    *,
    seconds: float,
    from_s: float = 1000.0,
    lost: float = 0.0,
    stalls: tuple[tuple[float, float], ...] = (),
) -> Iterator[Exchange]:
    """Play the exchanges of so many seconds.

    lost: their share. stalls: (from when, for how long), in s from the first, in which the page answers
    nothing; afterwards it answers what came.
    """
    number = 0
    sent_s = from_s
    while sent_s < from_s + seconds:
        there_s, back_s = delays(draw)
        came_s = sent_s + there_s
        for begin_s, long_s in stalls:
            if from_s + begin_s <= came_s < from_s + begin_s + long_s:
                came_s = from_s + begin_s + long_s + draw.random() * 0.002
        went_s = came_s + draw.uniform(0.00002, 0.0002)
        if draw.random() >= lost:
            yield Exchange(sent_s, clock.shown_ms(came_s), clock.shown_ms(went_s), went_s + back_s)
        number += 1
        sent_s += BURST_S if number < BURST else EACH_S + draw.random() * 0.002


def watched(
    clock: PageClock,
    delays: Delays,
    draw: random.Random,
    *,
    seconds: float,
    lost: float = 0.0,
    stalls: tuple[tuple[float, float], ...] = (),
) -> tuple[list[float], list[float], ClockSync]:
    """Ask for the time at random moments between exchanges: errors and uncertainties in ms, of both ways."""
    sync = ClockSync()
    errors: list[float] = []
    stated: list[float] = []
    for exchange in exchanges(clock, delays, draw, seconds=seconds, lost=lost, stalls=stalls):
        sync.add(exchange)
        for _ in range(3):
            at_s = exchange.back_s + draw.uniform(-0.5, 1.0)
            page = sync.to_page(at_s)
            run = sync.to_run(clock.shown_ms(at_s))
            assert page is not None
            assert run is not None
            errors += [page.time_ms - clock.true_ms(at_s), (run.time_s - at_s) * 1000]
            stated += [page.error_ms, run.error_s * 1000]
    return errors, stated, sync

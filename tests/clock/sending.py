"""Simulated senders of known truth, and a reader that polls and is kept from polling."""

import itertools
import random
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.clock import MessageDater

POLL_S = 0.001  # the live loop asks each millisecond


@dataclass(frozen=True, slots=True)
class Sent:
    """Messages of a simulated guitar: when each was sent, and the steps that the driver told."""

    sent_s: list[float]
    deltas_s: list[float]


def steps(times_s: Sequence[float]) -> list[float]:
    """The steps that a driver tells: the first is 0."""
    return [0.0, *(b - a for a, b in itertools.pairwise(times_s))]


def send(
    seconds: float,
    *,
    seed: int,
    every_s: float = 0.3,
    drift_ppm: float = 0.0,
    grid_s: float = 1e-6,
    start_s: float = 1000.0,
) -> Sent:
    """Notes at random with that mean distance, each followed by a bend; stamped by a clock that runs fast."""
    draw = random.Random(seed)
    now_s, sent_s = start_s, []
    while now_s < start_s + seconds:
        sent_s += [now_s, now_s + 0.0012]  # DIN: a message of three bytes takes 0.96 ms
        now_s += 0.02 + draw.expovariate(1 / every_s)
    stamps_s = [(each * (1 + drift_ppm * 1e-6)) // grid_s * grid_s for each in sent_s]
    return Sent(sent_s, steps(stamps_s))


def stalls(
    seconds: float, *, seed: int, every_s: float, lasting_s: float, start_s: float = 1000.0
) -> list[tuple[float, float]]:
    """When something kept the reader from its queue: at random, each for an exponential time."""
    draw = random.Random(seed)
    found, now_s = [], start_s
    while now_s < start_s + seconds:
        now_s += draw.expovariate(1 / every_s)
        end_s = now_s + draw.expovariate(1 / lasting_s)
        found.append((now_s, end_s))
        now_s = end_s
    return found


def read(
    sent: Sent, *, kept: Sequence[tuple[float, float]] = (), dater: MessageDater | None = None, seed: int = 0
) -> list[tuple[float, bool]]:
    """Date messages as a loop would that asks each POLL_S, unevenly, but not while it is kept (from, to)."""
    dater = MessageDater() if dater is None else dater
    draw = random.Random(seed)
    dated: list[tuple[float, bool]] = []
    asked_s = sent.sent_s[0] - POLL_S
    index, at = 0, 0
    while index < len(sent.sent_s):
        sent_s = sent.sent_s[index]
        if sent_s - asked_s > 10 * POLL_S:  # it went on asking meanwhile; the next looks are enough to know
            asked_s = sent_s - POLL_S * (1 + draw.random())
            while at < len(kept) and kept[at][1] <= asked_s:
                at += 1
            if at < len(kept) and kept[at][0] < asked_s:
                asked_s = kept[at][0]
        now_s = asked_s + POLL_S * (1 + 0.3 * draw.random())
        while at < len(kept) and kept[at][1] <= asked_s:
            at += 1
        if at < len(kept) and kept[at][0] < now_s:
            now_s = max(now_s, kept[at][1])
        while index < len(sent.sent_s) and sent.sent_s[index] <= now_s:
            dated.append(dater.date(sent.deltas_s[index], now_s, empty_s=asked_s))
            index += 1
        asked_s = now_s
    return dated


def errors_ms(dated: Sequence[tuple[float, bool]], sent: Sent) -> list[float]:
    """Date less truth of each message."""
    return [1000 * (time_s - sent_s) for (time_s, _), sent_s in zip(dated, sent.sent_s, strict=True)]


def percentile(values: Sequence[float], share: float) -> float:
    """The value that this share of all do not exceed."""
    return sorted(values)[int(share * (len(values) - 1))]

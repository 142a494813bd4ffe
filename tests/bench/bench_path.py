"""Bytes to verdict in messages a second, against `mido.Message.from_bytes` alone in the same process.

Messages are already split, 80% of them pitch bends within the vibrato that leaves a fret alone; no screen.
Run: python tests/bench/bench_path.py
"""

import random
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import mido

from midifret.hear import Decoder
from midifret.neck import Neck, Tuning
from midifret.play import Run
from midifret.terms import CueKind, Exercise, Judged, Place, Prompt, SpelledPitch, TimedMessage, Wiring

GOAL = 1.5
PROMPTS, RUNS, ROUNDS = 100, 200, 7
BENDS_A_NOTE = 8
CHANNELS = (1, 2, 3, 4, 5, 6) + (None,) * 10


def stream(neck: Neck) -> tuple[Exercise, list[TimedMessage]]:
    """An exercise of random places and the messages of a perfect player of it, with vibrato."""
    draw = random.Random(1)
    prompts: list[Prompt] = []
    messages: list[TimedMessage] = []
    for n in range(1, PROMPTS + 1):
        place = Place(draw.randint(1, 6), draw.randint(0, 12))
        midi = neck.midi(place)
        pitch = SpelledPitch("C", 0, 4)
        prompts.append(Prompt(n, (CueKind.NAME,), Judged.PLACE, (place,), (midi,), pitch))
        channel, onset_s = place.string - 1, n * 0.1
        messages.append(TimedMessage(onset_s, bytes((0x90 | channel, midi, 90))))
        for i in range(BENDS_A_NOTE):
            raw = 8192 + draw.randint(-1500, 1500)  # at most 37 cents of a range of 2 semitones
            messages.append(TimedMessage(onset_s + 0.005 * i, bytes((0xE0 | channel, raw & 0x7F, raw >> 7))))
        messages.append(TimedMessage(onset_s + 0.08, bytes((0x80 | channel, midi, 0))))
    exercise = Exercise("bench", "Bench", "bench", "", (3, 5), Judged.PLACE, tuple(prompts))
    return exercise, messages


def whole_path(neck: Neck, exercise: Exercise, messages: list[TimedMessage]) -> None:
    """Hear and judge the stream once; every verdict must be right."""
    decoder, run = Decoder(neck, Wiring(CHANNELS)), Run(exercise)
    feed, hear = decoder.feed, run.hear
    run.start(0.0)
    for time_s, data in messages:
        for event in feed(time_s, data):
            hear(event)
    assert run.answered == PROMPTS
    assert all(answer.right for answer in run.answers)


def from_bytes(messages: list[TimedMessage]) -> None:
    """The baseline: each message made a mido message, and nothing more."""
    make = mido.Message.from_bytes
    for _, data in messages:
        make(data)


def rate(messages: int, work: Callable[[], None]) -> float:
    """Messages a second of processor time over RUNS repetitions."""
    start_s = time.process_time()
    for _ in range(RUNS):
        work()
    return messages * RUNS / (time.process_time() - start_s)


def main() -> None:
    neck = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
    exercise, messages = stream(neck)
    ours, theirs = [], []
    for _ in range(ROUNDS):
        ours.append(rate(len(messages), lambda: whole_path(neck, exercise, messages)))
        theirs.append(rate(len(messages), lambda: from_bytes(messages)))
    ratios = sorted(a / b for a, b in zip(ours, theirs, strict=True))
    print(f"{Path(sys.argv[0]).name}: {len(messages)} messages, {BENDS_A_NOTE * 10}% bends, {ROUNDS} rounds")
    print(f"  bytes to verdict         {statistics.median(ours):>12,.0f} messages/s")
    print(f"  mido.Message.from_bytes  {statistics.median(theirs):>12,.0f} messages/s")
    print(
        f"  ratio {statistics.median(ratios):.2f} (least {ratios[0]:.2f}, most {ratios[-1]:.2f}); goal {GOAL}"
    )


if __name__ == "__main__":
    main()

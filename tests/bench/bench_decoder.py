"""Decoding in messages a second on a stream of bends, against mido; memory over millions of messages.

Nine of ten messages are bends, as converters send them in floods: vibrato within 40 cents, and now and then a
slide over two frets. Messages are made before the clock starts; for memory they are made on the fly.
Run: python tests/bench/bench_decoder.py [--messages 10000000]
"""

import argparse
import gc
import math
import random
import statistics
import time
from collections.abc import Iterator
from pathlib import Path

import mido

from midifret.hear import Decoder
from midifret.neck import Neck, Tuning
from midifret.terms import Note, NoteEnded, TimedMessage, Wiring

GOAL_A_SECOND, GOAL_RATIO = 1_000_000, 2.0
ROUNDS, A_ROUND = 7, 200_000
BENDS_A_NOTE = 18  # beside a note-on and a note-off: 90%
SLIDE_SHARE = 0.1  # of notes whose bends go to another fret and stay there
GROWTH_GOAL_KIB = 1024
NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
WIRING = Wiring((1, 2, 3, 4, 5, 6) + (None,) * 10)


def stream(seed: int) -> Iterator[TimedMessage]:
    """Notes and their bends, without end: a note every 200 ms, a bend every 10 ms."""
    draw = random.Random(seed)
    now_s = 0.0
    while True:
        string, fret = draw.randint(1, 6), draw.randint(0, 12)
        channel, key = string - 1, NECK.open_midi(string) + fret
        slides = draw.random() < SLIDE_SHARE
        yield TimedMessage(now_s, bytes((0x90 | channel, key, draw.randint(40, 110))))
        for number in range(1, BENDS_A_NOTE + 1):
            raw = 8192 + round(1500 * math.sin(number))  # 37 cents of a range of 2 semitones
            if slides and number > 3:  # two frets, the whole bend range, within 70 ms, and there it stays
                raw = min(16383, 8192 + round(8192 * (number - 3) / 7))
            elif number == BENDS_A_NOTE:
                raw = 8192
            yield TimedMessage(now_s + 0.010 * number, bytes((0xE0 | channel, raw & 0x7F, raw >> 7)))
        yield TimedMessage(now_s + 0.199, bytes((0x80 | channel, key, 0)))
        now_s += 0.2


def ours(messages: list[TimedMessage]) -> tuple[float, int]:
    """Processor seconds and notes told."""
    decoder, notes = Decoder(NECK, WIRING), 0
    feed = decoder.feed
    start_s = time.process_time()
    for time_s, data in messages:
        for event in feed(time_s, data):
            if type(event) is Note:
                notes += 1
    return time.process_time() - start_s, notes


def theirs(messages: list[TimedMessage]) -> float:
    """Processor seconds of making each a mido message, and nothing more."""
    make = mido.Message.from_bytes
    start_s = time.process_time()
    for _, data in messages:
        make(data)
    return time.process_time() - start_s


def resident_kib() -> int:
    """Memory of this process (Linux)."""
    for row in Path("/proc/self/status").read_text().splitlines():
        if row.startswith("VmRSS"):
            return int(row.split()[1])
    raise RuntimeError("no VmRSS in /proc/self/status")


def memory(messages: int) -> None:
    """Feed so many and say what that took."""
    decoder, source = Decoder(NECK, WIRING), stream(2)
    started = ended = 0
    warm, marks = messages // 20, []
    for number, (time_s, data) in enumerate(source):
        if number == messages:
            break
        if number % warm == 0:
            gc.collect()
            marks.append(resident_kib())
        for event in decoder.feed(time_s, data):
            if isinstance(event, Note):
                started += 1
            elif isinstance(event, NoteEnded):
                ended += 1
    gc.collect()
    marks.append(resident_kib())
    print(f"  memory over {messages:,} messages, {started:,} notes told, {ended:,} ends")
    print(
        f"    after {warm:,}: {marks[1]:,} KiB; at the end: {marks[-1]:,} KiB; most between: "
        f"{max(marks[1:]):,} KiB; growth {marks[-1] - marks[1]:+,} KiB (goal: under {GROWTH_GOAL_KIB:,})"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--messages", type=int, default=10_000_000, help="fed to see memory")
    chosen = parser.parse_args()
    source = stream(1)
    messages = [next(source) for _ in range(A_ROUND)]
    bends = sum(data[0] & 0xF0 == 0xE0 for _, data in messages)
    ours_a_second, theirs_a_second, notes = [], [], 0
    for _ in range(ROUNDS):
        took_s, notes = ours(messages)
        ours_a_second.append(A_ROUND / took_s)
        theirs_a_second.append(A_ROUND / theirs(messages))
    ratios = sorted(a / b for a, b in zip(ours_a_second, theirs_a_second, strict=True))
    print(f"{A_ROUND:,} messages, {100 * bends / A_ROUND:.0f}% bends, {notes:,} notes told, {ROUNDS} rounds")
    print(f"  Decoder.feed             {statistics.median(ours_a_second):>12,.0f} messages/s")
    print(f"  mido.Message.from_bytes  {statistics.median(theirs_a_second):>12,.0f} messages/s")
    print(
        f"  ratio {statistics.median(ratios):.2f} (least {ratios[0]:.2f}, most {ratios[-1]:.2f}); "
        f"goal {GOAL_A_SECOND:,} messages/s, or a ratio of {GOAL_RATIO}"
    )
    memory(chosen.messages)


if __name__ == "__main__":
    main()

"""What is heard of faulty converters: right string, right fret, false, missed and doubtful notes.

Every shipped tuning, eight ways of sending each, and MPE and one channel by pitch; "set up" has the
thresholds that `midifret setup` derives on this converter, else those shipped hold. Beside it the plain
mapping: the channel's string by the guitar's own map, the fret by the note number, every note-on a note.
How notes are matched stands in hearing.py.
Run: python tests/bench/bench_hearing.py [--notes 100000] [--live 10000] [--seed N] [SCENARIO ...]
"""

import argparse
import statistics
import time
from collections import Counter

from hearing import (
    AFTER_TOLD_S,
    BEFORE_MOVE_S,
    BEFORE_S,
    Figures,
    Live,
    heard_by_decoder,
    heard_plainly,
    listen,
    match,
    measured_thresholds,
    play,
    set_ups,
)

from midifret.terms import Encoding
from midifret.wire.scenarios import SCENARIOS, Scenario

GOALS = {
    "clean": "string 100, fret 100, false 0, missed 0 [ours]",
    "ordinary": "string 100, fret at least 99.95, false and missed at most 0.1",
    "poor": "fret at least 99.5, false at most 0.5",
    "hostile": "no crash, no stuck note",
}


def line(title: str, figures: Figures) -> str:
    return (
        f"  {title:<22} string {figures.string_percent:7.3f}%  fret {figures.fret_percent:7.3f}%  "
        f"false {figures.false_percent:7.3f}%  missed {figures.missed_percent:7.3f}%"
    )


def counts(title: str, found: Counter[str]) -> str:
    listed = ", ".join(f"{name} {count:,}" for name, count in found.most_common()) or "none"
    return f"  {title:<22} {listed}"


def per_string(scenario: Scenario, notes: int, seed: int, *, each: bool) -> None:
    ours, measured, plainly = Figures(), Figures(), Figures()
    messages, every = 0, set_ups()
    for number, set_up in enumerate(every):
        sent = play(set_up, scenario, notes // len(every) + 1, seed=seed + number)
        messages += len(sent.messages)
        heard, voided = heard_by_decoder(sent)
        figures = match(sent, heard)
        figures.voided = voided
        if each:
            print(line(set_up.title[:60], figures))
        ours.add(figures)
        thresholds = measured_thresholds(set_up, scenario, seed + number)
        measured.add(match(sent, heard_by_decoder(sent, thresholds)[0]))
        plainly.add(match(sent, heard_plainly(sent)))
    print(
        f"  {ours.meant:,} notes, {messages:,} messages, {len(every)} set-ups; goal: {GOALS[scenario.name]}"
    )
    print(line("midifret", ours))
    print(line("midifret, set up", measured))
    print(line("plain mapping", plainly))
    print(counts("made up", ours.made))
    print(counts("voided", ours.voided))
    print(counts("false came from", ours.false_by))
    print(counts("missed were", ours.missed_by))


def by_pitch(scenario: Scenario, encoding: Encoding, notes: int, seed: int) -> None:
    figures, every = Figures(), set_ups(encoding)
    plainly = Figures()
    for number, set_up in enumerate(every):
        sent = play(set_up, scenario, notes // len(every) + 1, seed=seed + 1000 + number)
        heard, _ = heard_by_decoder(sent)
        figures.add(match(sent, heard, by_pitch=True))
        plainly.add(match(sent, heard_plainly(sent), by_pitch=True))
    for title, found in ((str(encoding), figures), (f"{encoding}, plain", plainly)):
        print(
            f"  {title:<22} pitch  {found.fret_percent:7.3f}%  of {found.meant:,};  "
            f"false {found.false_percent:7.3f}%  missed {found.missed_percent:7.3f}%"
        )


def live(scenario: Scenario, notes: int, seed: int) -> None:
    every, total = set_ups(), Live()
    for number, set_up in enumerate(every):
        found = listen(play(set_up, scenario, notes // len(every) + 1, seed=seed + 2000 + number))
        total.doubts_s += found.doubts_s
        total.told_late_s += found.told_late_s
        total.moved_late_s += found.moved_late_s
        total.stuck += found.stuck
        total.never_settled += found.never_settled
    doubts_ms = sorted(1000 * doubt_s for doubt_s in total.doubts_s)
    late_ms = 1000 * max(total.told_late_s, default=0.0)
    if doubts_ms:
        last_percent = doubts_ms[min(len(doubts_ms) - 1, round(0.99 * len(doubts_ms)))]
        print(
            f"  {'in doubt':<22} {len(doubts_ms):,} notes: median {statistics.median(doubts_ms):.1f} ms, "
            f"99% {last_percent:.1f} ms, most {doubts_ms[-1]:.1f} ms (goal: at most 60, and 1 to look)"
        )
    print(f"  {'clear notes':<22} {len(total.told_late_s):,}, told at most {late_ms:.3f} ms late (goal: 0)")
    if total.moved_late_s:
        moved_ms = [1000 * late_s for late_s in total.moved_late_s]
        print(
            f"  {'clear moves':<22} {len(moved_ms):,}, told {statistics.median(moved_ms):.1f} ms after they "
            f"arrived, at most {max(moved_ms):.1f} ms"
        )
    print(f"  {'stuck':<22} {total.stuck}; doubts never ended: {total.never_settled}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--notes", type=int, default=100_000, help="of each scenario")
    parser.add_argument("--live", type=int, default=10_000, help="of these, heard by the millisecond")
    parser.add_argument("--seed", type=int, default=0, help="another one: material that nobody has looked at")
    parser.add_argument("--each", action="store_true", help="print every set-up")
    parser.add_argument("scenarios", nargs="*", default=list(SCENARIOS))
    chosen = parser.parse_args()
    print(
        f"matched from {BEFORE_S * 1000:.0f} ms before the hand ({BEFORE_MOVE_S * 1000:.0f} for moves) "
        f"to {AFTER_TOLD_S * 1000:.0f} ms after the converter told it"
    )
    for name in chosen.scenarios:
        scenario, start_s = SCENARIOS[name], time.perf_counter()
        print(f"{name}")
        per_string(scenario, chosen.notes, chosen.seed, each=chosen.each)
        for encoding in (Encoding.MPE, Encoding.ONE_CHANNEL):
            by_pitch(scenario, encoding, chosen.notes // 10, chosen.seed)
        live(scenario, chosen.live, chosen.seed)
        print(f"  {'took':<22} {time.perf_counter() - start_s:.0f} s")


if __name__ == "__main__":
    main()

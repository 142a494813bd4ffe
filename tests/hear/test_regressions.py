"""Scripts of messages that fuzzing found (tests/bench/fuzz.py), made as short as they go; all have to hold.

What has to hold is said in tests/bench/fuzz_hearing.py: every note started ends or is voided once, no string
sounds two, no note is doubtful for more than 60 ms looked at each millisecond, none is stuck at the end, and
all is the same for a recording that nobody looked at.
"""

import pytest

from midifret.neck import Neck, Tuning
from midifret.terms import Encoding, Wiring
from tests.bench.fuzz_hearing import check_decoder

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)), frets=24)
STRINGS = Wiring((1, 2, 3, 4, 5, 6) + (None,) * 10)
MPE = Wiring(encoding=Encoding.MPE)

# Name: wiring, (milliseconds, bytes) of each message.
FOUND: dict[str, tuple[Wiring, list[tuple[float, str]]]] = {
    "a soft note, a move from it, and an octave below where that led: the soft note was stuck": (
        STRINGS,
        [(0.0, "94 42 14"), (0.32, "94 53 14"), (12.32, "94 40 0A"), (514.64, "B4 7C 4A")],
    ),
    "the same, bent in between": (
        Wiring(STRINGS.channels, bend_range_semitones=48.0),
        [(1, "93 4A 14"), (7, "E3 00 00"), (7.32, "93 3E 14"), (33.32, "93 32 40")],
    ),
    "the same on a member channel of MPE": (
        MPE,
        [(512.32, "99 45 01"), (512.64, "99 40 14"), (518.64, "99 34 14")],
    ),
    "the same with the move and the note at one moment": (
        STRINGS,
        [(0, "93 43 14"), (0, "93 47 20"), (54, "93 3B 20")],
    ),
    "the same, loud at last": (STRINGS, [(0, "95 2D 01"), (0, "95 39 01"), (36, "95 2D 40")]),
    "the same, doubtful for more than 60 ms": (
        STRINGS,
        [(0, "94 3B 01"), (5, "94 53 01"), (5, "94 3B 28"), (65, "84 3A 00")],
    ),
}


@pytest.mark.parametrize("name", FOUND)
def test_what_fuzzing_found(name: str) -> None:
    wiring, script = FOUND[name]
    check_decoder(NECK, wiring, [(time_ms / 1000, bytes.fromhex(text)) for time_ms, text in script])

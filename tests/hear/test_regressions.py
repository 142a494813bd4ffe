"""Scripts of messages that fuzzing found (tests/bench/fuzz.py), made as short as they go; all have to hold.

What has to hold is said in tests/bench/fuzz_hearing.py: every note started ends or is voided once, no string
sounds two, no note is doubtful for more than 60 ms looked at each millisecond, none is stuck at the end, and
all is the same for a recording that nobody looked at.
"""

import pytest

from midifret.neck import Neck, Tuning
from midifret.terms import Encoding, Thresholds, Wiring
from tests.bench.fuzz_hearing import check_decoder

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)), frets=24)
STRINGS = Wiring((1, 2, 3, 4, 5, 6) + (None,) * 10)
MPE = Wiring(encoding=Encoding.MPE)
ALL_SOFT = Wiring(STRINGS.channels, thresholds=Thresholds(soft_velocity=127, short_s=0.06))

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
    "the same with every note soft": (
        ALL_SOFT,
        [(0, "94 64 28"), (54, "94 18 40"), (58, "94 00 40"), (94, "B4 65 7F")],
    ),
    "a clear note, a soft move from it, and an octave below that: two notes sounded on the string": (
        STRINGS,
        [(0, "90 2D 28"), (25, "90 39 0A"), (50, "90 2D 21")],
    ),
    "the same on the neck": (STRINGS, [(0, "91 3D 28"), (36, "91 47 20"), (72, "91 3B 20")]),
    "a soft note, a softer one two octaves up, a loud one below it at the time of an order to be silent": (
        STRINGS,
        [(0, "90 53 14"), (6, "90 5F 7F"), (6, "90 53 14"), (7, "B0 7B 00")],
    ),
    "off the neck, a softer octave, and back": (
        STRINGS,
        [(54, "90 49 14"), (55, "B0 7B 36"), (211, "90 53 14"), (217, "90 5F 7F"), (217, "90 53 14")],
    ),
    "many soft notes on one string, the last below the last but one": (
        STRINGS,
        [
            (0, "92 3F 20"),
            (49, "92 3C 01"),
            (219, "92 3C 20"),
            (268, "92 3C 20"),
            (326, "92 3C 21"),
            (376, "92 3C 20"),
            (471, "E2 29 29"),
            (622.32, "92 3C 21"),
            (634.32, "92 1C 20"),
            (640.32, "92 05 01"),
        ],
    ),
}


@pytest.mark.parametrize("name", FOUND)
def test_what_fuzzing_found(name: str) -> None:
    wiring, script = FOUND[name]
    check_decoder(NECK, wiring, [(time_ms / 1000, bytes.fromhex(text)) for time_ms, text in script])

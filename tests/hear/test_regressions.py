"""Scripts of messages that fuzzing and tunes found, made as short as they go; all have to hold.

Of what fuzzing found (tests/bench/fuzz.py) all has to hold that tests/bench/fuzz_hearing.py says: every note
started ends or is voided once, no string sounds two, no note is doubtful for more than 60 ms looked at each
millisecond, none is stuck at the end, and all is the same for a recording that nobody looked at.
"""

import pytest

from midifret.hear import Decoder, decode
from midifret.neck import Neck, Tuning
from midifret.terms import Encoding, TimedMessage, Wiring
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


# Found by tunes on faulty converters (tests/outside/test_melodies.py): wiring, messages, places heard.
TUNES: dict[str, tuple[list[tuple[float, str]], list[str]]] = {
    "a pluck of the same fret after a lift-off note: it was taken for the first pluck told twice": (
        [
            (0, "90 4A 3D"),
            (400, "80 4A 00"),
            (440, "90 40 0F"),  # the open string, softly, when the finger leaves
            (470, "80 40 00"),
            (498, "90 4A 47"),  # half a second after the first
            (900, "80 4A 00"),
        ],
        ["1:10", "1:10"],
    ),
    "a note bent up to its fret, then that fret plucked before its note-off: the pluck was lost": (
        [
            (0, "90 4B 5A"),  # a semitone below
            (15, "E0 00 60"),  # bent to fret 12
            (420, "E0 00 40"),
            (421, "90 4C 33"),  # fret 12 plucked
            (425, "80 4B 00"),  # the end of the first
            (600, "80 4C 00"),
        ],
        ["1:12", "1:12"],
    ),
}


@pytest.mark.parametrize("name", TUNES)
def test_what_tunes_found(name: str) -> None:
    script, expected = TUNES[name]
    messages = [TimedMessage(time_ms / 1000, bytes.fromhex(text)) for time_ms, text in script]
    decoded = decode(messages, Decoder(NECK, STRINGS))
    assert [str(item.note.place) for item in decoded.notes] == expected

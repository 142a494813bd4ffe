"""Takes that fuzzing found (tests/bench/fuzz.py), made as short as they go."""

import pytest

from midifret.terms import TimedMessage
from midifret.wire.take import Take, format_take, parse_take


@pytest.mark.parametrize(
    "cut_short",
    [
        *("E5", "E5 00", "F2", "F2 40", "F1", "F3", "90", "90 40", "C0", "40", "", "90 80 40", "F4"),
    ],
)
def test_what_is_no_whole_message_is_left_out_of_a_take(cut_short: str) -> None:
    """Lengths of messages: MIDI 1.0, table of status bytes."""
    whole = TimedMessage(0.5, bytes.fromhex("904050"))
    take = Take((TimedMessage(0.25, bytes.fromhex(cut_short)), whole))
    assert parse_take(format_take(take), "t.mid").messages == (whole,)

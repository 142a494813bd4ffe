"""The byte splitter against the rules of MIDI 1.0, as commented hex."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.hear import ByteSplitter

# Source of every rule: MIDI 1.0 detailed specification, "running status", "system real time messages",
# "system exclusive"; also facts.md of the design (running status, realtime bytes inside messages).
RULES = [
    ("90 3C 40", ["90 3C 40"]),  # one whole message
    ("90 3C 40 3E 40", ["90 3C 40", "90 3E 40"]),  # running status: two notes
    ("90 3C F8 40", ["F8", "90 3C 40"]),  # a clock byte inside a note-on
    ("90 F8 3C FE 40 3E F8 40", ["F8", "FE", "90 3C 40", "F8", "90 3E 40"]),  # the same with running status
    ("C3 05 06", ["C3 05", "C3 06"]),  # program change has one data byte
    ("D3 05", ["D3 05"]),  # so has channel pressure
    ("F2 01 02 3C 40", ["F2 01 02"]),  # song position ends running status: the rest belongs nowhere
    ("90 3C 40 F6 3C 40", ["90 3C 40", "F6"]),  # so does tune request
    ("F0 7E 7F 06 01 F7 90 3C 40", ["F0 7E 7F 06 01 F7", "90 3C 40"]),  # system exclusive
    ("F0 01 F8 02 F7", ["F8", "F0 01 02 F7"]),  # realtime inside system exclusive
    ("F0 01 90 3C 40", ["90 3C 40"]),  # a status byte ends an unfinished one
    ("90 3C 80 3C 40", ["80 3C 40"]),  # a message cut short by another
    ("3C 40 90 3C 40", ["90 3C 40"]),  # data before any status
    ("F4 F5 F7 90 3C 40", ["90 3C 40"]),  # undefined bytes, and an end without a beginning
]


@pytest.mark.parametrize(("sent", "expected"), RULES)
def test_rules_of_the_standard(sent: str, expected: list[str]) -> None:
    whole = ByteSplitter().split(bytes.fromhex(sent))
    assert [message.hex(" ").upper() for message in whole] == expected
    one_by_one = ByteSplitter()
    pieces = [message for byte in bytes.fromhex(sent) for message in one_by_one.split(bytes([byte]))]
    assert [message.hex(" ").upper() for message in pieces] == expected


def test_dropped_bytes_are_counted() -> None:
    splitter = ByteSplitter()
    splitter.split(bytes.fromhex("3C 40 90 3C 80 3C 40 F5"))
    assert splitter.dropped == 4  # two without a status, one cut short, one undefined


def test_system_exclusive_without_end_takes_no_memory() -> None:
    splitter = ByteSplitter()
    splitter.split(b"\xf0" + b"\x01" * 100_000)
    assert splitter.dropped > 90_000
    assert splitter.split(bytes.fromhex("90 3C 40")) == [bytes.fromhex("90 3C 40")]


@given(st.binary(max_size=300), st.lists(st.integers(0, 300), max_size=5))
def test_any_bytes_cut_anywhere_give_the_same_whole_messages(data: bytes, cuts: list[int]) -> None:
    whole = ByteSplitter().split(data)
    splitter, pieces, begin = ByteSplitter(), [], 0
    for cut in [*sorted(cuts), len(data)]:
        pieces += splitter.split(data[begin:cut])
        begin = max(begin, min(cut, len(data)))
    assert pieces == whole
    for message in whole:
        assert message[0] >= 0x80
        inside = message[1:-1] if message[0] == 0xF0 else message[1:]
        assert all(byte < 0x80 for byte in inside)

"""Names of ports without what changes in them, and a port found again by its name."""

import pytest

from midifret.terms import Unavailable
from midifret.wire import driver
from midifret.wire.port_names import PLACE_IN_LIST, bare_name, choose_port, find_again


@pytest.mark.parametrize(
    ("name", "bare"),
    [
        ("GK Guitar:GK Guitar MIDI 1 20:0", "gk guitar:gk guitar midi 1"),  # ALSA, as RtMidi names it
        ("guitar-01:out", "guitar:out"),  # JACK, a client whose name was taken
        (
            "a2j:GK [20] (capture): MIDI 1",
            "a2j:gk (capture): midi 1",
        ),  # JACK's bridge from ALSA [from memory]
        ("Pickup 7-01", "pickup 7-01"),  # no client's name
        ("UM-ONE MIDI 2", "um-one midi 2"),  # the second port of an interface stays the second
    ],
)
def test_what_changes_is_left_out(name: str, bare: str) -> None:
    assert bare_name(name) == bare


def test_on_windows_the_place_in_the_list_is_left_out() -> None:
    assert driver.WIN_MM.changing is PLACE_IN_LIST
    assert bare_name("GK Guitar 1", PLACE_IN_LIST) == "gk guitar"
    assert choose_port("GK Guitar 1", ["GK Guitar 0"], changing=PLACE_IN_LIST) == 0


def test_a_whole_name_of_before_still_chooses_the_port() -> None:
    assert choose_port("GK Guitar 20:0", ["Keys 20:0", "GK Guitar 24:0"]) == 1
    with pytest.raises(Unavailable, match="fits 2"):
        choose_port("GK Guitar 20:0", ["GK Guitar 24:0", "GK Guitar 28:0"])


@pytest.mark.parametrize(
    ("names", "others", "index"),
    [
        ([], [], None),
        (["Keys 24:0"], ["Keys 24:0"], None),
        (["Keys 24:0", "GK 20:0"], ["Keys 24:0"], 1),  # the very same name
        (["Keys 24:0", "GK 28:0"], ["Keys 24:0"], 1),  # another number
        (["GK 28:0", "GK 20:0"], [], 1),  # both new: the one of the very same name
        (["GK 24:0"], ["GK 24:0"], None),  # the other guitar, which was there all the time
        (["GK 24:0", "GK 28:0"], ["GK 24:0"], 1),
        (["GK Two 28:0"], [], None),
    ],
)
def test_a_port_is_found_again(names: list[str], others: list[str], index: int | None) -> None:
    assert find_again("GK 20:0", names, others) == index


@pytest.mark.parametrize(
    ("names", "others"),
    [
        (["GK 28:0", "GK 32:0"], []),  # two new ones
        (["GK 28:0"], ["GK 24:0"]),  # both were pulled out, and one came back under a new number
    ],
)
def test_nothing_is_guessed(names: list[str], others: list[str]) -> None:
    with pytest.raises(Unavailable, match="GK 28:0"):
        find_again("GK 20:0", names, others)


def test_ports_of_one_and_the_same_name_cannot_be_told_apart() -> None:
    assert find_again("GK", ["GK"], ["GK"]) is None  # the other one, which stayed
    with pytest.raises(Unavailable, match="which of the 2 ports called 'GK'"):
        find_again("GK", ["GK", "GK"], ["GK"])

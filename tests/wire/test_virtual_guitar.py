"""The virtual guitar: every place comes back through the decoder as itself, on any tuning and channels."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.clock import SimulatedClock
from midifret.gear.guitar import Guitar, channel_map
from midifret.hear import Decoder, decode
from midifret.neck import Neck, Tuning, spell
from midifret.players import Player, Pluck, Skill, TypedName, named_skill
from midifret.terms import Attack, CueKind, Judged, Place, Prompt, TimedMessage, Verdict, Wiring
from midifret.wire.scenarios import CLEAN, Spread
from midifret.wire.virtual_guitar import VirtualGuitar, VirtualSource

STANDARD = Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40))
# Every fretted note is first told a semitone flat and bent into place within 20 ms, before two periods of E2.
SETTLING = replace(CLEAN, name="settling", late_bend_share=1.0, late_bend_after=Spread(0.02, 0.0))


def guitar(
    neck: Neck | None = None, channels: tuple[int, ...] = (0, 1, 2, 3, 4, 5), bend: float = 2.0
) -> Guitar:
    return Guitar("test", "Test", neck or Neck(STANDARD), Wiring(channel_map(channels), bend))


def heard(of: Guitar, messages: list[TimedMessage]) -> list[tuple[int | None, int | None, int]]:
    decoded = decode(messages, Decoder(of.neck, of.wiring))
    assert decoded.voided == ()
    return [(item.note.string, item.note.fret, item.note.velocity) for item in decoded.notes]


@st.composite
def guitars(draw: st.DrawFn) -> Guitar:
    """Any tuning of one to ten strings, capo, frets, and channel map."""
    strings = draw(st.integers(1, 10))
    tuning = Tuning(
        "any", "Any", tuple(draw(st.lists(st.integers(24, 80), min_size=strings, max_size=strings)))
    )
    neck = Neck(tuning, draw(st.integers(12, 24)), draw(st.integers(0, 7)))
    channels = draw(st.permutations(range(16)))[:strings]
    return guitar(neck, tuple(channels), draw(st.sampled_from((1.0, 2.0, 12.0, 24.0))))


@given(guitars(), st.integers(0, 999), st.booleans())
def test_place_to_bytes_to_place(of: Guitar, seed: int, settles: bool) -> None:
    virtual = VirtualGuitar(of, scenario=SETTLING if settles else CLEAN)
    places = list(of.neck.all_places())
    for index, place in enumerate(places):
        virtual.pluck(place, index * 0.5, velocity=1 + (seed + index) % 127)
    messages = virtual.due(len(places) * 0.5 + 1)
    expected = [(place.string, place.fret, 1 + (seed + n) % 127) for n, place in enumerate(places)]
    assert heard(of, messages) == expected
    assert virtual.next_s() is None


def test_the_bytes_of_a_note_are_those_of_the_standard() -> None:
    # String 6 open is E2, MIDI 40 (note table); channel 6 is 5 in the status byte (MIDI 1.0).
    virtual = VirtualGuitar(guitar())
    virtual.pluck(Place(6, 0), 1.0, velocity=64, hold_s=0.5)
    assert virtual.due(0.999) == []
    assert virtual.next_s() == 1.0
    assert virtual.due(1.2) == [TimedMessage(1.0, b"\x95\x28\x40")]
    assert virtual.due(9.0) == [TimedMessage(1.5, b"\x85\x28\x00")]


def test_a_string_sounds_one_note_at_a_time() -> None:
    for late in (False, True):  # read as it happens, and all at once
        virtual = VirtualGuitar(guitar())
        virtual.pluck(Place(2, 1), 1.0, hold_s=5.0)
        virtual.pluck(Place(2, 3), 2.0, hold_s=1.0)
        virtual.pluck(Place(3, 0), 2.0, hold_s=1.0)
        messages = [] if late else virtual.due(1.5) + virtual.due(2.0)
        messages += virtual.due(9.0)
        second = [message for message in messages if message.data[0] & 0x0F == 1]
        assert second == [
            (1.0, b"\x91\x3c\x5a"),
            (2.0, b"\x81\x3c\x00"),
            (2.0, b"\x91\x3e\x5a"),
            (3.0, b"\x81\x3e\x00"),
        ]
        assert [message.time_s for message in messages] == sorted(message.time_s for message in messages)


def test_a_slide_by_bends_ends_on_its_fret() -> None:
    of = guitar()
    virtual = VirtualGuitar(of)
    virtual.pluck(Place(4, 5), 0.0, hold_s=2.0)
    messages = virtual.due(0.5)
    virtual.slide(4, 7, 0.5)
    virtual.pluck(Place(4, 5), 3.0)  # the bend is back at its centre
    messages += virtual.due(9.0)
    notes = decode(messages, Decoder(of.neck, of.wiring)).notes
    assert [(item.note.fret, item.note.attack) for item in notes] == [
        (5, Attack.PLUCKED),
        (7, Attack.MOVED),
        (5, Attack.PLUCKED),
    ]
    with pytest.raises(ValueError, match="nothing sounds on string 1"):
        virtual.slide(1, 3, 9.0)


def test_a_slide_beyond_the_bend_range_is_refused() -> None:
    virtual = VirtualGuitar(guitar())
    virtual.pluck(Place(4, 5), 0.0, hold_s=2.0)
    virtual.due(0.1)
    with pytest.raises(ValueError, match="3 semitones"):
        virtual.slide(4, 8, 0.5)


def test_a_place_that_the_guitar_has_not_is_refused() -> None:
    with pytest.raises(ValueError, match="1:20"):
        VirtualGuitar(guitar()).pluck(Place(1, 20), 0.0)


def prompt_at(place: Place, n: int = 1, judged: Judged = Judged.PLACE) -> Prompt:
    midi = Neck(STANDARD).midi(place)
    return Prompt(n, (CueKind.NAME,), judged, (place,), (midi,), spell(midi)[0])


def test_a_player_answers_cues_through_a_source() -> None:
    of = guitar()
    clock = SimulatedClock(50.0)
    virtual = VirtualGuitar(of, Player(named_skill("perfect"), of.neck))
    source = VirtualSource(virtual, clock)
    assert source.poll() == []
    virtual.cue(prompt_at(Place(3, 2)), clock.now_s())
    clock.wait_s(10.0)
    messages = source.poll()
    assert heard(of, messages)[0][:2] == (3, 2)
    assert 50.0 < messages[0].time_s < 60.0
    assert source.connected()
    assert source.name


def test_a_new_cue_drops_what_was_still_to_come() -> None:
    of = guitar()
    skill = Skill(accuracy=0.0, errors=((Verdict.WRONG, 1.0),), median_response_s=1.0, spread=0.0)
    virtual = VirtualGuitar(of, Player(skill, of.neck))
    virtual.cue(prompt_at(Place(3, 2)), 0.0)
    first = virtual.due(1.0)  # the wrong note; the right one would come at 1.6 s
    assert len(first) == 1
    virtual.cue(prompt_at(Place(5, 2), 2), 1.2)
    rest = virtual.due(9.0)
    places = [place[:2] for place in heard(of, first + rest)]
    assert (3, 2) not in places
    assert places[-1] == (5, 2)


def test_names_are_typed_when_they_are_due() -> None:
    of = guitar()
    skill = Skill(accuracy=1.0, median_response_s=1.0, spread=0.0)
    virtual = VirtualGuitar(of, Player(skill, of.neck))
    virtual.cue(prompt_at(Place(6, 2), judged=Judged.NAME), 5.0)  # F sharp
    assert virtual.next_s() == 6.0
    assert virtual.typed_due(5.9) == []
    assert virtual.typed_due(6.0) == [(6.0, "f#")]
    assert virtual.typed_due(9.0) == []
    assert virtual.due(9.0) == []


def test_a_script_of_ones_own_can_play() -> None:
    class Script:
        def answer(self, prompt: Prompt) -> list[TypedName]:
            return [TypedName(0.5, "b")]

    virtual = VirtualGuitar(guitar(), Script())
    virtual.cue(prompt_at(Place(1, 0)), 1.0)
    assert virtual.typed_due(2.0) == [(1.5, "b")]


def test_it_plays_through_a_port() -> None:
    sent: list[bytes] = []

    class Sink:
        def send(self, data: bytes) -> None:
            sent.append(data)

    virtual = VirtualGuitar(guitar())
    virtual.pluck(Place(1, 0), 0.0, velocity=5)
    assert virtual.send_due(0.1, Sink()) == 1
    assert virtual.send_due(0.1, Sink()) == 0
    assert virtual.send_due(9.0, Sink()) == 1
    assert sent == [b"\x90\x40\x05", b"\x80\x40\x00"]


def test_what_was_swallowed_is_played_again_at_each_place_in_turn() -> None:
    class Once:
        def answer(self, prompt: Prompt) -> list[Pluck]:
            return [Pluck(0.5, prompt.places[0], 90, 0.4)]

    of = guitar()
    prompt = replace(prompt_at(Place(1, 0)), places=(Place(1, 0), Place(2, 5)))
    for again_after_s, places in ((None, [(1, 0)]), (2.0, [(1, 0), (1, 0), (2, 5), (1, 0)])):
        virtual = VirtualGuitar(of, Once(), again_after_s=again_after_s)
        virtual.cue(prompt, 1.0)
        messages = virtual.due(8.0)  # the first at 1.5 s, then every 2 s
        assert [place[:2] for place in heard(of, messages)] == places
    virtual.cue(prompt_at(Place(3, 2), 2), 8.0)
    assert [place[:2] for place in heard(of, virtual.due(9.0))] == [(3, 2)]

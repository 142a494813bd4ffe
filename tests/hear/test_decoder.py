"""The decoder: bytes of the MIDI standard to string and fret, and what never breaks it."""

import mido
import pretty_midi
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.hear import Decoded, Decoder, decode
from midifret.hear.rules import AT_ONCE_S, SETTLE_S
from midifret.neck import Neck, Tuning
from midifret.terms import (
    Attack,
    Encoding,
    HearingWarning,
    Note,
    NoteEnded,
    NoteRevised,
    NoteSettled,
    Place,
    TimedMessage,
    Voided,
    Wiring,
)


def hear(neck: Neck, channels: tuple[int | None, ...], *script: tuple[float, str]) -> Decoded:
    messages = [TimedMessage(time_s, bytes.fromhex(text)) for time_s, text in script]
    return decode(messages, Decoder(neck, Wiring(channels)))


def places(decoded: Decoded) -> list[str]:
    return [str(item.note.place) for item in decoded.notes]


def bend(channel: int, semitones: float, bend_range: float = 2.0) -> str:
    """A bend message. Value by MIDI 1.0: 14 bits, LSB first, centre 8192, full up one step short."""
    raw = min(16383, round(8192 + semitones / bend_range * 8192))
    return bytes((0xE0 | channel, raw & 0x7F, raw >> 7)).hex()


# Each row: messages as (seconds, hex), the places heard. String n sends on channel n; open strings
# 64 59 55 50 45 40 (music21 instrument.Guitar().stringPitches).
RULES = {
    "note-on and note-off": ([(0, "90 40 50"), (1, "80 40 00")], ["1:0"]),
    "note-on with velocity 0 is a note-off (MIDI 1.0)": (
        [(0, "95 2D 50"), (1, "95 2D 00"), (2, "95 2D 50")],
        ["6:5", "6:5"],
    ),
    "the same pitch on two strings": ([(0, "90 40 50"), (1, "91 40 50")], ["1:0", "2:5"]),
    # B0 65 00 64 00 06 02 26 04 sets 2.04 semitones (MIDI 1.0 RPN 0; facts.md)
    "RPN 0 sets the bend range: 12 semitones, half bend is 6": (
        [(0, "B0 65 00"), (0, "B0 64 00"), (0, "B0 06 0C"), (0, "E0 00 60"), (0, "90 40 50")],
        ["1:6"],
    ),
    "RPN null: data entry after it changes nothing": (
        [(0, "B0 65 7F"), (0, "B0 64 7F"), (0, "B0 06 18"), (0, "E0 7F 7F"), (0, "90 40 50")],
        ["1:2"],
    ),
    "NRPN selects away from RPN": (
        [
            (0, "B0 65 00"),
            (0, "B0 64 00"),
            (0, "B0 63 00"),
            (0, "B0 06 18"),
            (0, "E0 7F 7F"),
            (0, "90 40 50"),
        ],
        ["1:2"],
    ),
    "RPN 1 is not the bend range": (
        [(0, "B0 65 00"), (0, "B0 64 01"), (0, "B0 06 40"), (0, "E0 7F 7F"), (0, "90 40 50")],
        ["1:2"],
    ),
    "reset all controllers centres the bend (RP-015)": (
        [(0, "E0 7F 7F"), (0, "B0 79 00"), (0, "90 40 50")],
        ["1:0"],
    ),
    "reset all controllers keeps the bend range (RP-015)": (
        [
            (0, "B0 65 00"),
            (0, "B0 64 00"),
            (0, "B0 06 0C"),
            (0, "B0 79 00"),
            (0, "E0 00 60"),
            (0, "90 40 50"),
        ],
        ["1:6"],
    ),
    "a bend on one string leaves the others alone": ([(0, "E0 7F 7F"), (0, "91 40 50")], ["2:5"]),
}


@pytest.mark.parametrize("rule", RULES)
def test_rules_of_the_standard(rule: str, neck: Neck, channels: tuple[int | None, ...]) -> None:
    script, expected = RULES[rule]
    assert places(hear(neck, channels, *script)) == expected


def test_bend_range_in_cents(neck: Neck, channels: tuple[int | None, ...]) -> None:
    """B0 65 00 64 00 06 02 26 04 is 2.04 semitones (facts.md, MIDI 1.0 RPN 0)."""
    decoded = hear(
        neck,
        channels,
        (0, "B0 65 00"),
        (0, "B0 64 00"),
        (0, "B0 06 02"),
        (0, "B0 26 04"),
        (0, "E0 00 60"),
        (0, "90 40 50"),
    )
    assert decoded.notes[0].note.cents == pytest.approx(2.04 / 2 * 100 - 100)


@pytest.mark.parametrize("semitones", [-2.0, -1.3, 0.0, 0.7, 1.9])
def test_bend_values_agree_with_pretty_midi(
    semitones: float, neck: Neck, channels: tuple[int | None, ...]
) -> None:
    """pretty_midi.pitch_bend_to_semitones is the independent reading of a bend value."""
    raw = int.from_bytes(bytes.fromhex(bend(0, semitones))[1:2]) + 128 * bytes.fromhex(bend(0, semitones))[2]
    note = hear(neck, channels, (0, bend(0, semitones)), (0, "90 45 50")).notes[0].note
    assert note.midi + note.cents / 100 - 69 == pytest.approx(
        pretty_midi.pitch_bend_to_semitones(raw - 8192), abs=1e-9
    )


@pytest.mark.parametrize("cents", [-40, -25, 25, 40])
def test_vibrato_never_changes_a_fret(cents: int, neck: Neck, channels: tuple[int | None, ...]) -> None:
    script = [(0.0, "90 45 50")]
    for i in range(100):
        script.append((0.05 + i * 0.08, bend(0, (cents if i % 2 else -cents) / 100)))
    decoded = hear(neck, channels, *script)
    assert places(decoded) == ["1:5"]


def test_a_slide_by_bending_ends_on_its_real_fret(neck: Neck, channels: tuple[int | None, ...]) -> None:
    """From fret 5 to fret 7 in 100 ms, one message each millisecond, then held."""
    slide = [(0.5 + i / 1000, bend(0, 2 * i / 100)) for i in range(101)]
    decoded = hear(neck, channels, (0, "90 45 50"), *slide, (1, "80 45 00"))
    assert places(decoded) == ["1:5", "1:7"]
    first, second = decoded.notes
    assert second.note.attack is Attack.MOVED
    # It arrives within 40 cents of fret 7 after 80 of the 100 ms.
    assert second.note.onset_s == pytest.approx(0.5 + 0.08, abs=0.002)
    assert first.duration_s == pytest.approx(second.note.onset_s)


def test_both_encodings_of_a_slide_end_on_the_same_fret(neck: Neck, channels: tuple[int | None, ...]) -> None:
    by_notes = [(0.0, "90 45 50")]
    for i, key in enumerate(("46", "47", "48", "49")):
        by_notes += [(0.5 + i * 0.03, f"90 {key} 40"), (0.5 + i * 0.03, f"80 {int(key, 16) - 1:02X} 00")]
    decoded = hear(neck, channels, *by_notes, (1, "80 49 00"))
    assert places(decoded) == ["1:5", "1:9"]
    assert decoded.notes[1].note.onset_s == pytest.approx(0.59)
    assert [item.note.fret for item in decoded.voided] == [6, 7, 8]  # named, not hidden
    slide = [(0.5 + i / 1000, bend(0, 4 * i / 120, 12)) for i in range(121)]
    wide = [(0, "B0 65 00"), (0, "B0 64 00"), (0, "B0 06 0C")]
    assert places(hear(neck, channels, *wide, (0, "90 45 50"), *slide, (1, "80 45 00"))) == ["1:5", "1:9"]


def test_a_note_bent_at_once_simply_has_the_fret_it_reaches(
    neck: Neck, channels: tuple[int | None, ...]
) -> None:
    decoded = hear(neck, channels, (0, "90 45 50"), (0.01, bend(0, 1.0)), (0.5, "80 45 00"))
    assert places(decoded) == ["1:6"]
    note = decoded.notes[0].note
    assert (note.attack, note.onset_s) == (Attack.PLUCKED, 0)


def test_a_hammer_on_and_a_pull_off(neck: Neck, channels: tuple[int | None, ...]) -> None:
    decoded = hear(
        neck,
        channels,
        (0, "92 37 50"),
        (0.3, "92 39 30"),
        (0.3, "82 37 00"),
        (0.6, "92 37 30"),
        (0.6, "82 39 00"),
    )
    assert places(decoded) == ["3:0", "3:2", "3:0"]
    assert [item.note.attack for item in decoded.notes] == [Attack.PLUCKED, Attack.MOVED, Attack.MOVED]


def test_a_live_move_is_told_once_it_has_settled(neck: Neck, channels: tuple[int | None, ...]) -> None:
    decoder = Decoder(neck, Wiring(channels))
    [note] = decoder.feed(0.0, bytes.fromhex("904550"))
    assert isinstance(note, Note)
    assert decoder.feed(0.5, bytes.fromhex(bend(0, 1.0))) == []
    assert not decoder.advance(0.5 + SETTLE_S - 0.001)
    ended, moved = decoder.advance(0.5 + SETTLE_S)
    assert ended == NoteEnded(note.id, 0.5)
    assert isinstance(moved, Note)
    assert (moved.place, moved.onset_s) == (Place(1, 6), 0.5)


def test_a_live_note_bent_at_once_is_revised(neck: Neck, channels: tuple[int | None, ...]) -> None:
    decoder = Decoder(neck, Wiring(channels))
    [note] = decoder.feed(0.0, bytes.fromhex("904550"))
    assert isinstance(note, Note)
    decoder.feed(AT_ONCE_S, bytes.fromhex(bend(0, 1.0)))
    [revised] = decoder.advance(0.2)
    assert isinstance(revised, NoteRevised)
    assert (revised.note.id, revised.note.place) == (note.id, Place(1, 6))


def test_off_the_neck_is_a_warning_never_a_stop(neck: Neck, channels: tuple[int | None, ...]) -> None:
    decoded = hear(neck, channels, (0, "90 20 50"), (1, "9F 40 50"), (2, "90 40 50"))
    assert [(item.note.string, item.note.fret) for item in decoded.notes] == [
        (None, None),
        (None, None),
        (1, 0),
    ]
    assert len(decoded.warnings) == 2
    assert "channel 16 has no string" in decoded.warnings[1].message
    assert "fret -32 of string 1" in decoded.warnings[0].message


def test_a_chord_on_a_channel_without_a_string(neck: Neck, channels: tuple[int | None, ...]) -> None:
    decoded = hear(neck, channels, (0, "9F 40 50"), (0, "9F 43 50"), (1, "8F 40 00"), (2, "8F 43 00"))
    assert [(item.note.midi, item.duration_s) for item in decoded.notes] == [(64, 1), (67, 2)]


@pytest.mark.parametrize("controller", [120, 123, 124, 125, 126, 127])
def test_controllers_that_end_all_notes(
    controller: int, neck: Neck, channels: tuple[int | None, ...]
) -> None:
    """MIDI 1.0 channel mode messages: 120, 123, and 124 to 127 act as all notes off."""
    decoded = hear(neck, channels, (0, "90 45 50"), (0.5, f"B0 {controller:02X} 00"), (2, "F8"))
    assert decoded.notes[0].duration_s == 0.5


def test_a_note_off_written_after_the_next_note_on_of_the_same_moment(
    neck: Neck, channels: tuple[int | None, ...]
) -> None:
    decoded = hear(neck, channels, (0, "90 45 50"), (1, "90 45 50"), (1, "80 45 00"), (2, "80 45 00"))
    assert [item.duration_s for item in decoded.notes] == [1, 1]


# Seven strings: common practice, no source; the others from facts.md.
TUNINGS = [
    (64, 59, 55, 50, 45, 40),
    (64, 59, 54, 50, 45, 40),
    (64, 59, 55, 50, 43, 38),
    (64, 59, 55, 50, 45, 40, 35),
    (64, 59, 55, 50, 45, 40, 38, 35),
]


@given(
    open_midi=st.sampled_from(TUNINGS),
    order=st.permutations(range(16)),
    frets=st.integers(12, 24),
    capo=st.integers(0, 11),
    use_bend=st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_every_place_goes_to_bytes_and_back(
    open_midi: tuple[int, ...], order: list[int], frets: int, capo: int, use_bend: bool
) -> None:
    neck = Neck(Tuning("t", "t", open_midi), frets=frets, capo=capo)
    channels: list[int | None] = [None] * 16
    for string in range(1, neck.strings + 1):
        channels[order[string - 1]] = string
    decoder = Decoder(neck, Wiring(channels))
    for number, place in enumerate(neck.all_places()):
        channel = order[place.string - 1]
        key = neck.midi(place)
        messages = []
        if use_bend and place.fret > 0:
            key -= 1
            messages.append(mido.Message.from_hex(bend(channel, 1.0).upper()).bin())
        else:
            messages.append(mido.Message("pitchwheel", channel=channel, pitch=0).bin())
        messages.append(mido.Message("note_on", channel=channel, note=key, velocity=70).bin())
        messages.append(mido.Message("note_off", channel=channel, note=key).bin())
        heard = [event for message in messages for event in decoder.feed(float(number), bytes(message))]
        [note] = [event for event in heard if isinstance(event, Note)]
        assert note.place == place
        assert note.midi == neck.midi(place)


@given(st.lists(st.binary(min_size=0, max_size=5), max_size=200), st.floats(0, 0.2))
@settings(deadline=None)
def test_any_messages_decode_without_error(messages: list[bytes], step_s: float) -> None:
    neck = Neck(Tuning("t", "t", TUNINGS[0]))
    channels = (1, 2, 3, 4, 5, 6) + (None,) * 10
    timed = [TimedMessage(i * step_s, data) for i, data in enumerate(messages)]
    _consistent(decode(timed, Decoder(neck, Wiring(channels))))


# Few channels, notes and velocities, so that the same note comes again, softly as well.
_musical = st.one_of(
    st.tuples(
        st.sampled_from([0x80, 0x90, 0xB0, 0xE0]), st.integers(0, 7), st.integers(0, 127), st.integers(0, 127)
    ),
    st.tuples(
        st.sampled_from([0x80, 0x90, 0x90, 0xE0]),
        st.sampled_from([0, 1, 7]),
        st.sampled_from([64, 65, 76]),
        st.sampled_from([0, 5, 20, 64, 90, 127]),
    ),
).map(lambda parts: bytes((parts[0] | parts[1], parts[2], parts[3])))


@given(st.lists(_musical, max_size=300), st.floats(0, 0.1))
@settings(deadline=None)
def test_any_musical_messages_give_notes_that_start_and_end_once(
    messages: list[bytes], step_s: float
) -> None:
    neck = Neck(Tuning("t", "t", TUNINGS[0]))
    decoder = Decoder(neck, Wiring((1, 2, 3, 4, 5, 6) + (None,) * 10))
    events = [e for i, data in enumerate(messages) for e in decoder.feed(i * step_s, data)]
    events += decoder.finish(len(messages) * step_s)
    sounding: set[int] = set()
    doubtful: set[int] = set()
    done: set[int] = set()
    for event in events:
        match event:
            case Note(id=note_id):
                assert note_id not in sounding | done
                sounding.add(note_id)
                if event.doubtful:
                    doubtful.add(note_id)
            case NoteRevised(note):
                assert note.id in sounding - doubtful
            case NoteSettled(note):
                assert note.id in sounding
                doubtful.remove(note.id)
            case NoteEnded(note_id, _):
                assert note_id in sounding - doubtful
                sounding.remove(note_id)
                done.add(note_id)
            case Voided(note):
                sounding.discard(note.id)
                doubtful.discard(note.id)
                done.add(note.id)
                if event.continues is not None and event.continues in done:
                    done.remove(event.continues)
                    sounding.add(event.continues)
            case HearingWarning():
                pass
    assert not sounding | doubtful  # no note is stuck


def _consistent(decoded: Decoded) -> None:
    for item in decoded.notes:
        assert item.duration_s >= 0
        assert (item.note.string is None) == (item.note.fret is None)


@pytest.mark.parametrize(("told", "heard"), [(2.0, 84), (48.0, 84), (24.0, 72)])
def test_a_guitar_file_may_name_another_bend_range_for_mpe(told: float, heard: int, neck: Neck) -> None:
    """Half of a full bend above 60: 24 semitones of MPE's usual 48 (MPE 1.1), or 12 of 24."""
    decoder = Decoder(neck, Wiring(encoding=Encoding.MPE, bend_range_semitones=told))
    script = [(0, bend(1, 1.0)), (0, "91 3C 50")]
    messages = [TimedMessage(time_s, bytes.fromhex(text)) for time_s, text in script]
    assert [item.note.midi for item in decode(messages, decoder).notes] == [heard]

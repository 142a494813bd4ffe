"""What converters make up: each glitch voided with its kind, and its innocent double left alone.

Kinds and sizes of the glitches: what converters really do (support notes and players' guides, from memory):
false notes an octave, twelfth or two octaves up, soft, under about 50 ms, just before the true one; the open
string, soft, when a finger leaves. Open strings 64 59 55 50 45 40 (music21 Guitar().stringPitches).
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.hear import Decoded, Decoder, decode
from midifret.neck import Neck, Tuning
from midifret.terms import (
    Attack,
    Encoding,
    Glitch,
    HeardEvent,
    Note,
    NoteEnded,
    NoteSettled,
    Thresholds,
    TimedMessage,
    Voided,
    Wiring,
)

CHANNELS = (1, 2, 3, 4, 5, 6) + (None,) * 10
LOUD, SOFT = 90, 15
Step = tuple[float, int, int, int]  # time in ms, string, MIDI number, velocity (0 is a note-off)


def messages(*steps: Step) -> list[TimedMessage]:
    return [
        TimedMessage(time_ms / 1000, bytes((0x90 | string - 1, midi, velocity)))
        for time_ms, string, midi, velocity in steps
    ]


def hear(neck: Neck, *steps: Step, wiring: Wiring | None = None) -> Decoded:
    return decode(messages(*steps), Decoder(neck, wiring or Wiring(CHANNELS)))


def told(decoded: Decoded) -> tuple[list[str], list[Glitch]]:
    return [str(item.note.place) for item in decoded.notes], [item.glitch for item in decoded.voided]


# Name: steps, places heard, glitches voided.
CASES: dict[str, tuple[list[Step], list[str], list[Glitch]]] = {
    "an octave above, then the true note": (
        [(0, 5, 60, SOFT), (30, 5, 60, 0), (32, 5, 48, LOUD), (600, 5, 48, 0)],
        ["5:3"],
        [Glitch.FALSE_HARMONIC],
    ),
    "a twelfth above, its note-off after the true note-on": (
        [(0, 5, 67, SOFT), (30, 5, 48, LOUD), (31, 5, 67, 0), (600, 5, 48, 0)],
        ["5:3"],
        [Glitch.FALSE_HARMONIC],
    ),
    "two octaves above, off the neck, loud": (
        [(0, 5, 72, LOUD), (30, 5, 72, 0), (31, 5, 48, LOUD), (600, 5, 48, 0)],
        ["5:3"],
        [Glitch.FALSE_HARMONIC],
    ),
    "an octave above before a pluck of a string that still rang": (
        [(0, 5, 50, LOUD), (400, 5, 60, SOFT), (401, 5, 50, 0), (430, 5, 48, LOUD), (431, 5, 60, 0)],
        ["5:5", "5:3"],
        [Glitch.FALSE_HARMONIC],
    ),
    "an octave above, held: a note, and another one an octave below after it": (
        [(0, 5, 60, LOUD), (200, 5, 60, 0), (201, 5, 48, LOUD), (600, 5, 48, 0)],
        ["5:15", "5:3"],
        [],
    ),
    "a fifth above is no false note that converters make": (
        [(0, 5, 55, LOUD), (40, 5, 55, 0), (41, 5, 48, LOUD), (600, 5, 48, 0)],
        ["5:10", "5:3"],
        [],
    ),
    "the open string when a finger leaves": (
        [(0, 3, 60, LOUD), (400, 3, 60, 0), (410, 3, 55, SOFT), (440, 3, 55, 0)],
        ["3:5"],
        [Glitch.LIFT_OFF],
    ),
    "the open string plucked softly after a fretted note": (
        [(0, 3, 60, LOUD), (400, 3, 60, 0), (410, 3, 55, SOFT), (900, 3, 55, 0)],
        ["3:5", "3:0"],
        [],
    ),
    "one pluck told twice": (
        [(0, 1, 69, LOUD), (20, 1, 69, 0), (22, 1, 69, 60), (500, 1, 69, 0)],
        ["1:5"],
        [Glitch.DOUBLE_TRIGGER],
    ),
    "one pluck told twice without a note-off between": (
        [(0, 1, 69, LOUD), (30, 1, 69, 60), (500, 1, 69, 0)],
        ["1:5"],
        [Glitch.DOUBLE_TRIGGER],
    ),
    "fast repeats, 70 ms apart (14 a second) [common practice, no source]": (
        [step for i in range(5) for step in ((70 * i, 1, 69, LOUD), (70 * i + 60, 1, 69, 0))],
        ["1:5"] * 5,
        [],
    ),
    "fast repeats as soft as glitches": (
        [step for i in range(5) for step in ((70 * i, 1, 69, SOFT), (70 * i + 60, 1, 69, 0))],
        ["1:5"] * 5,
        [],
    ),
    "a neighbour speaks after the string that was struck": (
        [(0, 4, 57, LOUD), (10, 3, 55, SOFT), (30, 3, 55, 0), (500, 4, 57, 0)],
        ["4:7"],
        [Glitch.CROSSTALK],
    ),
    "a neighbour speaks before the string that was struck": (
        [(0, 3, 55, SOFT), (15, 4, 57, LOUD), (30, 3, 55, 0), (500, 4, 57, 0)],
        ["4:7"],
        [Glitch.CROSSTALK],
    ),
    "the same pitch on two strings, one softly": (
        [(0, 4, 57, LOUD), (5, 3, 57, SOFT), (400, 3, 57, 0), (500, 4, 57, 0)],
        ["4:7", "3:2"],
        [],
    ),
    "a neighbour struck softly in a chord": (
        [(0, 4, 57, LOUD), (10, 3, 55, SOFT), (400, 3, 55, 0), (500, 4, 57, 0)],
        ["4:7", "3:0"],
        [],
    ),
    "a unison on two strings, both loud": (
        [(0, 4, 57, LOUD), (5, 3, 57, 70), (400, 3, 57, 0), (500, 4, 57, 0)],
        ["4:7", "3:2"],
        [],
    ),
    "open strings of a loud chord, cut short": (
        [(0, 6, 40, 90), (8, 5, 45, 85), (16, 4, 50, 80), (49, 6, 40, 0), (54, 5, 45, 0), (62, 4, 50, 0)],
        ["6:0", "5:0", "4:0"],
        [],
    ),
    "a palm-muted note of ordinary strength": ([(0, 3, 60, 40), (35, 3, 60, 0)], ["3:5"], []),
    "an open string plucked shortly after a fretted one": (
        [(0, 3, 60, LOUD), (200, 3, 60, 0), (205, 3, 55, 54), (250, 3, 55, 0)],
        ["3:5", "3:0"],
        [],
    ),
    "one pluck told twice, each with a note-off of its own": (
        [(0, 1, 69, 90), (30, 1, 69, 60), (33, 1, 69, 0), (600, 1, 69, 0)],
        ["1:5"],
        [Glitch.DOUBLE_TRIGGER],
    ),
    "a pluck louder than the hammer-on just before it": (
        [(0, 3, 55, LOUD), (200, 3, 57, 50), (254, 3, 57, 0), (255, 3, 57, 95), (600, 3, 57, 0)],
        ["3:0", "3:2"],
        [Glitch.PASSED],
    ),
    "fast repeats of an unsteady hand": (
        [step for ms in (0, 58, 132, 190) for step in ((ms, 1, 69, LOUD), (ms + 50, 1, 69, 0))],
        ["1:5"] * 4,
        [],
    ),
    "soft and short": ([(0, 2, 59, SOFT), (30, 2, 59, 0)], [], [Glitch.TOO_SHORT]),
    "soft and long": ([(0, 2, 59, SOFT), (300, 2, 59, 0)], ["2:0"], []),
    "loud and short: a grace note": ([(0, 2, 59, LOUD), (2, 2, 59, 0)], ["2:0"], []),
    "a slide told by notes, each ended before the next": (
        [
            (0, 4, 55, LOUD),
            (300, 4, 55, 0),
            (300, 4, 56, 50),
            (340, 4, 56, 0),
            (340, 4, 57, 50),
            (380, 4, 57, 0),
            (380, 4, 58, 50),
            (800, 4, 58, 0),
        ],
        ["4:5", "4:8"],
        [Glitch.PASSED, Glitch.PASSED],
    ),
    "a slide told by notes, each ended after the next began": (
        [
            (0, 4, 55, LOUD),
            (300, 4, 56, 50),
            (300, 4, 55, 0),
            (340, 4, 57, 50),
            (340, 4, 56, 0),
            (800, 4, 57, 0),
        ],
        ["4:5", "4:7"],
        [Glitch.PASSED],
    ),
    "a slide told by notes hardly softer than the pluck": (
        [
            (0, 4, 55, LOUD),
            (300, 4, 55, 0),
            (301, 4, 56, 80),
            (340, 4, 56, 0),
            (341, 4, 57, 72),
            (380, 4, 57, 0),
            (381, 4, 58, 66),
            (800, 4, 58, 0),
        ],
        ["4:5", "4:8"],
        [Glitch.PASSED, Glitch.PASSED],
    ),
    "steps plucked one after the other, 70 ms apart": (
        [(0, 4, 55, LOUD), (70, 4, 55, 0), (70, 4, 56, LOUD), (140, 4, 56, 0), (140, 4, 57, LOUD)],
        ["4:5", "4:6", "4:7"],
        [],
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_what_was_meant_and_what_was_not(case: str, neck: Neck) -> None:
    steps, places, glitches = CASES[case]
    assert told(hear(neck, *steps)) == (places, glitches)


@pytest.mark.parametrize("case", CASES)
def test_no_doubt_lasts_longer_than_60_ms(case: str, neck: Neck) -> None:
    """Fed as a live loop does, a look each millisecond: every doubtful note is settled or voided in time."""
    steps = messages(*CASES[case][0])
    decoder = Decoder(neck, Wiring(CHANNELS))
    doubtful: dict[int, float] = {}
    for ms in range(1200):
        events: list[HeardEvent] = list(decoder.advance(ms / 1000))
        for message in steps:
            if round(message.time_s * 1000) == ms:
                events += decoder.feed(*message)
        for event in events:
            match event:
                case Note(id=note_id, doubtful=True):
                    doubtful[note_id] = ms / 1000
                case NoteSettled(note) | Voided(note):
                    doubtful.pop(note.id, None)
        assert all(ms / 1000 - since_s <= 0.060 for since_s in doubtful.values())
    assert not doubtful


@pytest.mark.parametrize("case", CASES)
def test_live_and_recorded_hearing_agree(case: str, neck: Neck) -> None:
    """With a look each millisecond and with none at all."""
    steps = messages(*CASES[case][0])
    decoder = Decoder(neck, Wiring(CHANNELS))
    events: list[HeardEvent] = []
    for ms in range(2000):
        events += decoder.advance(ms / 1000)
        for message in steps:
            if round(message.time_s * 1000) == ms:
                events += decoder.feed(*message)
    events += decoder.finish(2.0)
    heard: dict[int, Note] = {}
    for event in events:
        match event:
            case Note():
                heard[event.id] = event
            case NoteSettled(note):
                heard[note.id] = note
            case Voided(note):
                heard.pop(note.id, None)
    expected = hear(neck, *CASES[case][0])
    assert sorted(heard.values(), key=lambda n: n.id) == sorted(
        (item.note for item in expected.notes), key=lambda n: n.id
    )


def test_a_clear_note_is_told_at_once(neck: Neck) -> None:
    [note] = Decoder(neck, Wiring(CHANNELS)).feed(0.0, bytes((0x90, 64, LOUD)))
    assert isinstance(note, Note)
    assert not note.doubtful


def test_a_doubtful_note_is_told_at_once_as_doubtful(neck: Neck) -> None:
    decoder = Decoder(neck, Wiring(CHANNELS))
    [note] = decoder.feed(0.0, bytes((0x90, 64, SOFT)))
    assert isinstance(note, Note)
    assert note.doubtful
    assert not decoder.advance(Thresholds().doubt_s - 0.001)
    [settled] = decoder.advance(Thresholds().doubt_s)
    assert settled == NoteSettled(note._replace(doubtful=False))


def test_a_double_trigger_lets_the_first_note_sound_on(neck: Neck) -> None:
    decoder = Decoder(neck, Wiring(CHANNELS))
    steps = messages((0, 1, 69, LOUD), (20, 1, 69, 0), (22, 1, 69, 60), (500, 1, 69, 0))
    events = [event for message in steps for event in decoder.feed(*message)]
    note, ended, voided, ended_again = events
    assert isinstance(note, Note)
    assert ended == NoteEnded(note.id, 0.02)
    assert isinstance(voided, Voided)
    assert voided.continues == note.id
    assert ended_again == NoteEnded(note.id, 0.5)
    [item] = decode(steps, Decoder(neck, Wiring(CHANNELS))).notes
    assert item.duration_s == 0.5


def test_a_bend_that_still_stands_at_the_next_note(neck: Neck) -> None:
    """The bend of a slide goes home 4 ms after the next note-on: it was not of that note."""
    steps = [
        *messages((0, 1, 69, LOUD)),
        TimedMessage(0.3, bytes((0xE0, 0x7F, 0x7F))),
        *messages((700, 1, 69, 0), (701, 1, 69, LOUD)),
        TimedMessage(0.705, bytes((0xE0, 0x00, 0x40))),
        *messages((1200, 1, 69, 0)),
    ]
    decoded = decode(steps, Decoder(neck, Wiring(CHANNELS)))
    assert told(decoded)[0] == ["1:5", "1:7", "1:5"]
    assert decoded.notes[2].note.attack is Attack.PLUCKED


def test_a_note_bent_at_once_and_soon_over_has_the_fret_it_reached(neck: Neck) -> None:
    steps = [
        *messages((0, 1, 69, LOUD)),
        TimedMessage(0.015, bytes((0xE0, 0x00, 0x60))),  # half of two semitones: one
        *messages((60, 1, 69, 0)),
    ]
    assert told(decode(steps, Decoder(neck, Wiring(CHANNELS))))[0] == ["1:6"]


def test_thresholds_are_the_guitars_own(neck: Neck) -> None:
    lenient = Wiring(CHANNELS, thresholds=Thresholds(soft_velocity=5))
    assert told(hear(neck, (0, 2, 59, SOFT), (30, 2, 59, 0), wiring=lenient)) == (["2:0"], [])
    strict = Wiring(CHANNELS, thresholds=Thresholds(least_s=0.012))
    assert told(hear(neck, (0, 2, 59, LOUD), (8, 2, 59, 0), wiring=strict)) == ([], [Glitch.TOO_SHORT])


_WIRINGS = (
    Wiring(CHANNELS),
    Wiring(CHANNELS, controller_channel=15),
    Wiring(CHANNELS, thresholds=Thresholds(least_s=0.012)),
    Wiring(encoding=Encoding.ONE_CHANNEL),
    Wiring(encoding=Encoding.MPE),
)
# Two strings and a channel for controllers, few notes, steps of some ms: what belongs together meets.
_steps = st.lists(
    st.tuples(
        st.integers(0, 45),
        st.sampled_from([0x90, 0x90, 0x90, 0x80, 0xE0, 0xB0]),
        st.sampled_from([0, 1, 15]),
        st.sampled_from([59, 64, 65, 66, 76, 101, 100, 6, 121]),
        st.sampled_from([0, 0, 12, 40, 64, 96, 127]),
    ),
    max_size=40,
)


@given(wiring=st.sampled_from(_WIRINGS), steps=_steps)
@settings(max_examples=300, deadline=None)
def test_looking_often_or_never_hears_the_same(
    wiring: Wiring, steps: list[tuple[int, int, int, int, int]]
) -> None:
    neck = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
    timed: list[TimedMessage] = []
    time_ms = 0
    for gap_ms, status, channel, first, second in steps:
        time_ms += gap_ms
        timed.append(TimedMessage(time_ms / 1000, bytes((status | channel, first, second))))
    seldom, often = Decoder(neck, wiring), Decoder(neck, wiring)
    seldom_told = [event for message in timed for event in seldom.feed(*message)]
    often_told: list[HeardEvent] = []
    waiting = list(timed)
    doubtful: dict[int, float] = {}
    for ms in range(time_ms + 1):
        events = list(often.advance(ms / 1000))
        while waiting and waiting[0].time_s == ms / 1000:
            events += often.feed(*waiting.pop(0))
        often_told += events
        for event in events:
            match event:
                case Note(id=note_id, doubtful=True):
                    doubtful[note_id] = event.onset_s
                case NoteSettled(note) | Voided(note):
                    doubtful.pop(note.id, None)
        assert all(ms / 1000 - onset_s < 0.060 + 1e-9 for onset_s in doubtful.values())
    end_s = time_ms / 1000
    assert [*often_told, *often.finish(end_s)] == [*seldom_told, *seldom.finish(end_s)]


def test_in_mpe_a_pluck_told_twice_is_told_on_two_channels(neck: Neck) -> None:
    """Member channels follow each other (MPE 1.1); what sounds on may still move."""
    script = [(0, "91 45 5A"), (20, "81 45 00"), (22, "92 45 3C"), (300, "92 47 30"), (800, "82 47 00")]
    messages = [TimedMessage(time_ms / 1000, bytes.fromhex(text)) for time_ms, text in script]
    decoded = decode(messages, Decoder(neck, Wiring(encoding=Encoding.MPE)))
    assert [(item.note.midi, item.note.attack) for item in decoded.notes] == [
        (69, Attack.PLUCKED),
        (71, Attack.MOVED),
    ]
    assert [item.glitch for item in decoded.voided] == [Glitch.DOUBLE_TRIGGER]


def test_on_one_channel_a_unison_of_two_strings_is_two_notes(neck: Neck) -> None:
    script = [(0, "90 40 5A"), (20, "90 40 50"), (400, "80 40 00"), (900, "80 40 00")]
    messages = [TimedMessage(time_ms / 1000, bytes.fromhex(text)) for time_ms, text in script]
    decoded = decode(messages, Decoder(neck, Wiring(encoding=Encoding.ONE_CHANNEL)))
    assert [item.note.onset_s for item in decoded.notes] == [0.0, 0.02]


@pytest.mark.parametrize(
    ("wiring", "bent", "reset", "struck"),
    [
        (Wiring(CHANNELS, controller_channel=15), "E0 00 60", "BF 79 00", "90 40 5A"),
        (Wiring(encoding=Encoding.MPE), "E1 00 60", "B0 79 00", "91 40 5A"),
    ],
)
def test_reset_on_the_channel_that_speaks_for_others(
    wiring: Wiring, bent: str, reset: str, struck: str, neck: Neck
) -> None:
    """Reset all controllers centres bends (RP-015); mode 4 and MPE send it once for all."""
    script = [(0, bent), (10, reset), (100, struck)]
    messages = [TimedMessage(time_ms / 1000, bytes.fromhex(text)) for time_ms, text in script]
    assert [item.note.midi for item in decode(messages, Decoder(neck, wiring)).notes] == [64]

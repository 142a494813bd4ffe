"""The MIDI standard as a table: bytes with their meaning beside them, and the notes that follow from it.

Sources: MIDI 1.0 detailed specification; RP-015, response to reset all controllers; RP-018, response to data
increment and decrement, whose text was not at hand: what a step is stands here as two public programs state
it from that text, in agreement; MPE 1.1 (M1-100-UM); rows marked [mem] rest on memory of the standard alone.

Each line of a row is sent half a second after the line before it, byte by byte; what follows # is the
meaning. Open strings 64 59 55 50 45 40 (music21 instrument.Guitar().stringPitches), 19 frets.
"""

from dataclasses import dataclass

import pytest

from midifret.hear import ByteSplitter, Decoded, Decoder, decode
from midifret.neck import Neck
from midifret.terms import Encoding, TimedMessage, Wiring

LINE_S = 0.5
NOBODY = (None,) * 16

WIRINGS = {
    "strings": Wiring((1, 2, 3, 4, 5, 6, *NOBODY[:10])),  # string n on channel n, as people count
    # Mode 4 with base channel 2: strings 1 to 6 on channels 2 to 7, controllers for all on channel 1.
    "mode 4": Wiring((None, 1, 2, 3, 4, 5, 6, *NOBODY[:9]), controller_channel=0),
    # Mode 4 with base channel 1: the channel below it is 16 [mem].
    "mode 4 from 1": Wiring((1, 2, 3, 4, 5, 6, *NOBODY[:10]), controller_channel=15),
    "one channel": Wiring(encoding=Encoding.ONE_CHANNEL),
    "MPE": Wiring(encoding=Encoding.MPE),
}


@dataclass(frozen=True, slots=True)
class Heard:
    """A note expected. lines: how long it lasts, in lines of the row; None for to the end."""

    string: int | None
    fret: int | None
    midi: int
    cents: float = 0.0
    lines: int | None = None


def on(string: int, fret: int, cents: float = 0.0, lines: int | None = None) -> Heard:
    """A note with a place, its pitch by the open strings."""
    return Heard(string, fret, (64, 59, 55, 50, 45, 40)[string - 1] + fret, cents, lines)


def pitch(midi: int, cents: float = 0.0, lines: int | None = None) -> Heard:
    """A note whose string nobody knows."""
    return Heard(None, None, midi, cents, lines)


Row = tuple[str, str, list[Heard]]

NOTES: dict[str, Row] = {
    "note-on and note-off": (
        "strings",
        """
        90 40 50        # channel 1, note-on, key 64, velocity 80
        80 40 00        # note-off
        """,
        [on(1, 0, lines=1)],
    ),
    "the velocity of a note-off means nothing here": (
        "strings",
        """
        95 2D 50        # channel 6, key 45
        85 2D 7F        # note-off, velocity 127
        """,
        [on(6, 5, lines=1)],
    ),
    "note-on with velocity 0 is a note-off": (
        "strings",
        """
        94 2D 50        # channel 5, key 45
        94 2D 00        # the same with velocity 0
        94 2D 50        # the next note
        """,
        [on(5, 0, lines=1), on(5, 0)],
    ),
    "a note-off of another key ends nothing": (
        "strings",
        """
        90 45 50        # channel 1, key 69
        80 44 00        # note-off of key 68
        80 45 00
        """,
        [on(1, 5, lines=2)],
    ),
    "a note-off of another channel ends nothing": (
        "strings",
        """
        90 40 50        # channel 1, key 64
        81 40 00        # channel 2, note-off of key 64
        80 40 00
        """,
        [on(1, 0, lines=2)],
    ),
    "the same key on two channels is two places": (
        "strings",
        """
        90 40 50        # channel 1, key 64
        91 40 50        # channel 2, key 64
        """,
        [on(1, 0), on(2, 5)],
    ),
    "least and greatest velocity": (
        "strings",
        """
        90 40 7F        # 127
        80 40 00
        90 41 01        # 1: soft, and held long enough to be meant
        80 41 00
        """,
        [on(1, 0, lines=1), on(1, 1, lines=1)],
    ),
    "pressure and programs move no pitch": (
        "strings",
        """
        C0 05           # program change, one data byte
        D0 40           # channel pressure, one data byte
        A0 40 40        # pressure of a key, two
        90 40 50
        """,
        [on(1, 0)],
    ),
}

SPLITTING: dict[str, Row] = {
    "running status: two notes with one status byte": (
        "one channel",
        """
        90 3C 40 3E 40  # key 60 and key 62
        """,
        [pitch(60), pitch(62)],
    ),
    "running status with velocity 0: how converters save bytes": (
        "strings",
        """
        90 40 50        # key 64
        40 00           # no status byte: its end
        41 50           # key 65
        41 00
        """,
        [on(1, 0, lines=1), on(1, 1, lines=1)],
    ),
    "realtime bytes inside messages": (
        "one channel",
        """
        90 F8 3C FE 40  # clock after the status, active sensing after the key
        3E FA 40        # running status goes on; start inside it
        F8 40 FF 40     # clock before the data, reset inside
        """,
        [pitch(60), pitch(62), pitch(64)],
    ),
    "realtime bytes inside a registered parameter": (
        "strings",
        """
        B0 65 F8 00 64 FE 00 06 F8 0C  # RPN 0: 12 semitones
        E0 00 F8 60                    # bend half up: 6
        90 40 50
        """,
        [on(1, 6)],
    ),
    "system common ends running status": (
        "one channel",
        """
        90 3C 40        # key 60
        F6              # tune request
        3E 40           # data without a status: dropped
        90 40 40        # key 64
        """,
        [pitch(60), pitch(64)],
    ),
    "song position and song select have data of their own": (
        "one channel",
        """
        F2 3C 40        # song position: two data bytes
        F3 3C           # song select: one
        F1 3C           # quarter frame: one
        90 40 40
        """,
        [pitch(64)],
    ),
    "system exclusive ends running status and holds no notes": (
        "one channel",
        """
        90 3C 40              # key 60
        F0 7E 7F 09 01 F7     # universal: General MIDI on
        3E 40                 # data without a status: dropped
        """,
        [pitch(60)],
    ),
    "realtime bytes inside system exclusive": (
        "one channel",
        """
        F0 7E F8 7F 09 FE 01 F7
        90 3C 40
        """,
        [pitch(60)],
    ),
    "a status byte ends system exclusive that nobody closed": (
        "one channel",
        """
        F0 7D 01 02     # no F7
        90 3C 40
        """,
        [pitch(60)],
    ),
    "a status byte in place of data: the message cut short is dropped": (
        "one channel",
        """
        90 3C           # velocity is missing
        90 3E 40        # key 62
        """,
        [pitch(62)],
    ),
    "undefined system bytes end running status [mem]": (
        "one channel",
        """
        90 3C 40
        F4              # undefined
        3E 40           # dropped
        """,
        [pitch(60)],
    ),
    "running status of messages with one data byte": (
        "one channel",
        """
        C0 05 06 07     # three program changes
        90 3C 40
        """,
        [pitch(60)],
    ),
}

# What a bend of +-2 semitones is at its top: 2 * 8191 / 8192 = 1.99976 (pretty_midi, facts of MIDI).
TOP_CENTS = 100 * (2 * 8191 / 8192 - 2)

BENDS: dict[str, Row] = {
    "centre": ("strings", "E0 00 40  # 8192\n 90 40 50", [on(1, 0)]),
    "full up": ("strings", "E0 7F 7F  # 16383\n 90 40 50", [on(1, 2, TOP_CENTS)]),
    "full down": ("strings", "E0 00 00  # 0: two semitones down\n 90 42 50  # key 66", [on(1, 0)]),
    "LSB first": ("strings", "E0 40 40  # 8256: 64 steps up\n 90 40 50", [on(1, 0, 100 * 2 * 64 / 8192)]),
    "one step": ("strings", "E0 01 40  # 8193\n 90 40 50", [on(1, 0, 100 * 2 / 8192)]),
    "half up": ("strings", "E0 00 60  # 12288: one semitone\n 90 40 50", [on(1, 1)]),
    "of one channel only": ("strings", "E0 7F 7F\n 91 40 50  # channel 2", [on(2, 5)]),
    "while a note sounds": (
        "strings",
        """
        90 45 50        # key 69, fret 5
        E0 00 60        # one semitone up
        E0 00 40        # and back
        80 45 00
        """,
        [on(1, 5, lines=1), on(1, 6, lines=1), on(1, 5, lines=1)],
    ),
    "it holds until the next one, over notes": (
        "strings",
        """
        E0 00 60        # one semitone up
        90 45 50
        80 45 00
        90 48 50
        """,
        [on(1, 6, lines=1), on(1, 9)],
    ),
}

REGISTERED: dict[str, Row] = {
    "RPN 0: 12 semitones": (
        "strings",
        """
        B0 65 00 64 00  # RPN 0, bend range
        06 0C           # running status: data entry, 12 semitones
        E0 00 60        # half up
        90 40 50
        """,
        [on(1, 6)],
    ),
    "RPN 0: 2.04 semitones": (
        "strings",
        """
        B0 65 00 64 00 06 02 26 04  # RPN 0: 2 semitones, 4 cents
        E0 00 60                    # half up: 1.02
        90 40 50
        """,
        [on(1, 1, 2.0)],
    ),
    "RPN 0: the number's LSB before its MSB": (
        "strings",
        """
        B0 64 00 65 00 06 0C
        E0 00 60
        90 40 50
        """,
        [on(1, 6)],
    ),
    "RPN 0: of one channel only": (
        "strings",
        """
        B0 65 00 64 00 06 0C  # channel 1
        E1 00 60              # channel 2, half up of 2
        91 3B 50
        """,
        [on(2, 1)],
    ),
    "RPN 0: no semitones at all": (
        "strings",
        """
        B0 65 00 64 00 06 00
        E0 7F 7F
        90 40 50
        """,
        [on(1, 0)],
    ),
    "RPN 0: changed while a bend stands": (
        "strings",
        """
        E0 00 60              # half up: 1
        B0 65 00 64 00 06 0C  # from now on: 6
        90 40 50
        """,
        [on(1, 6)],
    ),
    "setting the MSB resets the LSB": (
        "strings",
        """
        B0 65 00 64 00 06 02 26 32  # 2.50
        B0 06 02                    # 2.00 again, not 2.50
        E0 00 60                    # half up: 1.00
        90 40 50
        """,
        [on(1, 1)],
    ),
    "the LSB before the MSB is lost": (
        "strings",
        """
        B0 65 00 64 00 26 32 06 02  # cents 50, then 2 semitones and so 0 cents
        E0 00 60
        90 40 50
        """,
        [on(1, 1)],
    ),
    "the LSB alone leaves the MSB": (
        "strings",
        """
        B0 65 00 64 00 06 02  # 2.00
        B0 26 14              # 2.20
        E0 00 60              # 1.10
        90 40 50
        """,
        [on(1, 1, 10.0)],
    ),
    "RPN 1: centre is no shift": (
        "strings",
        """
        B0 65 00 64 01 06 40 26 00  # 8192
        90 40 50
        """,
        [on(1, 0)],
    ),
    "RPN 1: a quarter of the way up": (
        "strings",
        """
        B0 65 00 64 01 06 50 26 00  # 10240: (10240 - 8192) * 100 / 8192 = 25 cents
        90 40 50
        """,
        [on(1, 0, 25.0)],
    ),
    "RPN 1: least": (
        "strings",
        """
        B0 65 00 64 01 06 00 26 00  # -100 cents
        90 41 50                    # key 65
        """,
        [on(1, 0)],
    ),
    "RPN 1: greatest": (
        "strings",
        """
        B0 65 00 64 01 06 7F 26 7F  # 16383: 99.988 cents
        90 40 50
        """,
        [on(1, 1, 100 * 8191 / 8192 - 100)],
    ),
    "RPN 1: the MSB resets the LSB": (
        "strings",
        """
        B0 65 00 64 01 06 50 26 40
        B0 06 50                    # 25 cents again
        90 40 50
        """,
        [on(1, 0, 25.0)],
    ),
    "RPN 2: centre is no shift": (
        "strings",
        """
        B0 65 00 64 02 06 40
        90 40 50
        """,
        [on(1, 0)],
    ),
    "RPN 2: three semitones up": (
        "strings",
        """
        B0 65 00 64 02 06 43  # 67 - 64
        90 40 50
        """,
        [on(1, 3)],
    ),
    "RPN 2: an octave down": (
        "strings",
        """
        B0 65 00 64 02 06 34  # 52 - 64
        90 4C 50              # key 76
        """,
        [on(1, 0)],
    ),
    "RPN 2: the LSB has no meaning": (
        "strings",
        """
        B0 65 00 64 02 06 41 26 40
        90 40 50
        """,
        [on(1, 1)],
    ),
    "RPN 2 and 1 and a bend add up": (
        "strings",
        """
        B0 65 00 64 02 06 43  # +3
        B0 65 00 64 01 06 48  # 9216: +12.5 cents
        E0 00 60              # +1
        90 40 50
        """,
        [on(1, 4, 12.5)],
    ),
    "RPN 2 moves what sounds": (
        "strings",
        """
        90 40 50
        B0 65 00 64 02 06 43  # +3
        80 40 00
        """,
        [on(1, 0, lines=1), on(1, 3, lines=1)],
    ),
    "RPN 5, modulation depth, is no bend range": (
        "strings",
        """
        B0 65 00 64 05 06 18
        E0 00 60
        90 40 50
        """,
        [on(1, 1)],
    ),
    "RPN null: data entry after it changes nothing": (
        "strings",
        """
        B0 65 00 64 00 06 02  # 2
        B0 65 7F 64 7F        # null
        B0 06 18 26 32 60 00  # entry and step go nowhere
        E0 00 60
        90 40 50
        """,
        [on(1, 1)],
    ),
    "no parameter is selected after switching on": (
        "strings",
        """
        B0 06 18
        E0 00 60
        90 40 50
        """,
        [on(1, 1)],
    ),
    "NRPN selects away": (
        "strings",
        """
        B0 65 00 64 00        # RPN 0
        B0 63 01 62 08        # NRPN
        B0 06 18 60 00        # entry and step go to the NRPN
        E0 00 60
        90 40 50
        """,
        [on(1, 1)],
    ),
    "an RPN selects away from NRPN": (
        "strings",
        """
        B0 63 01 62 08        # NRPN
        B0 65 00 64 00 06 0C  # RPN 0: 12
        E0 00 60
        90 40 50
        """,
        [on(1, 6)],
    ),
}

STEP_CENTS = 100 / 8192  # RPN 1, MIDI 1.0

STEPS: dict[str, Row] = {
    "RPN 0 up: one cent": (
        "strings",
        """
        B0 65 00 64 00 06 02  # 2.00
        B0 60 00              # increment: 2.01
        E0 00 60              # half up: 1.005
        90 40 50
        """,
        [on(1, 1, 0.5)],
    ),
    "the value of a step means nothing": (
        "strings",
        """
        B0 65 00 64 00 06 02
        B0 60 7F              # one step, not 127
        E0 00 60
        90 40 50
        """,
        [on(1, 1, 0.5)],
    ),
    "RPN 0 up: the 100th cent is a semitone": (
        "strings",
        """
        B0 65 00 64 00 06 02 26 63  # 2.99
        B0 60 00                    # 3.00
        B0 26 28                    # 3.40: the semitones were carried
        E0 00 60                    # 1.70
        90 40 50
        """,
        [on(1, 2, -30.0)],
    ),
    "RPN 0 down: below a semitone": (
        "strings",
        """
        B0 65 00 64 00 06 02  # 2.00
        B0 61 00              # decrement: 1.99
        E0 00 60              # 0.995
        90 40 50
        """,
        [on(1, 1, -0.5)],
    ),
    "RPN 0 down: not below nothing [mem]": (
        "strings",
        """
        B0 65 00 64 00 06 00
        B0 61 00
        E0 7F 7F
        90 40 50
        """,
        [on(1, 0)],
    ),
    "RPN 0 up from what the guitar began with": (
        "strings",
        """
        B0 65 00 64 00 60 00  # 2.01
        E0 00 60
        90 40 50
        """,
        [on(1, 1, 0.5)],
    ),
    "RPN 1 up: the LSB by one": (
        "strings",
        """
        B0 65 00 64 01 60 00
        90 40 50
        """,
        [on(1, 0, STEP_CENTS)],
    ),
    "RPN 1 down: through the MSB": (
        "strings",
        """
        B0 65 00 64 01 61 00  # 8191
        90 40 50
        """,
        [on(1, 0, -STEP_CENTS)],
    ),
    "RPN 1 up: it stops at the end [mem]": (
        "strings",
        """
        B0 65 00 64 01 06 7F 26 7F
        B0 60 00
        90 40 50
        """,
        [on(1, 1, 100 * 8191 / 8192 - 100)],
    ),
    "RPN 2 up: the MSB, so a semitone": (
        "strings",
        """
        B0 65 00 64 02 60 00
        90 40 50
        """,
        [on(1, 1)],
    ),
    "RPN 2 down: three steps": (
        "strings",
        """
        B0 65 00 64 02 61 00 61 00 61 00
        90 43 50              # key 67
        """,
        [on(1, 0)],
    ),
    "RPN 2 up: it stops at the end [mem]": (
        "strings",
        """
        B0 65 00 64 02 06 7F 60 00  # +63
        90 01 50                    # key 1
        """,
        [on(1, 0)],
    ),
}

RESETS: dict[str, Row] = {
    "reset all controllers centres the bend": ("strings", "E0 7F 7F\n B0 79 00\n 90 40 50", [on(1, 0)]),
    "reset all controllers keeps the bend range": (
        "strings",
        """
        B0 65 00 64 00 06 0C  # 12
        B0 79 00
        E0 00 60
        90 40 50
        """,
        [on(1, 6)],
    ),
    "reset all controllers keeps the tuning": (
        "strings",
        """
        B0 65 00 64 02 06 43        # +3
        B0 65 00 64 01 06 50        # +25 cents
        B0 79 00
        90 40 50
        """,
        [on(1, 3, 25.0)],
    ),
    "reset all controllers selects no parameter": (
        "strings",
        """
        B0 65 00 64 00
        B0 79 00
        B0 06 0C
        E0 00 60
        90 40 50
        """,
        [on(1, 1)],
    ),
    "reset all controllers is no note-off": (
        "strings",
        "90 40 50\n B0 79 00\n 80 40 00",
        [on(1, 0, lines=2)],
    ),
    "reset all controllers is for one channel": ("strings", "E1 00 60\n B0 79 00\n 91 3B 50", [on(2, 1)]),
    "all sound off": ("strings", "90 40 50\n B0 78 00\n F8", [on(1, 0, lines=1)]),
    "local control is no note-off": ("strings", "90 40 50\n B0 7A 00\n 80 40 00", [on(1, 0, lines=2)]),
    "all notes off": ("strings", "90 40 50\n B0 7B 00\n F8", [on(1, 0, lines=1)]),
    "all notes off is for one channel": ("strings", "91 40 50\n B0 7B 00\n 81 40 00", [on(2, 5, lines=2)]),
    "omni off is all notes off": ("strings", "90 40 50\n B0 7C 00\n F8", [on(1, 0, lines=1)]),
    "omni on is all notes off": ("strings", "90 40 50\n B0 7D 00\n F8", [on(1, 0, lines=1)]),
    "mono on is all notes off": ("strings", "90 40 50\n B0 7E 06\n F8", [on(1, 0, lines=1)]),
    "poly on is all notes off": ("strings", "90 40 50\n B0 7F 00\n F8", [on(1, 0, lines=1)]),
    "a note after all notes off": (
        "strings",
        "90 40 50\n B0 7B 00\n 90 40 50\n 80 40 00",
        [on(1, 0, lines=1), on(1, 0, lines=1)],
    ),
}

MODE_4: dict[str, Row] = {
    "switching it on": (
        "mode 4",
        """
        B1 7C 00        # channel 2: omni off
        B1 7E 06        # mono on, six channels
        91 40 50        # channel 2, string 1
        96 2D 50        # channel 7, string 6
        """,
        [on(1, 0), on(6, 5)],
    ),
    "a bend of one string": ("mode 4", "E3 00 60\n 93 3C 50\n 91 40 50", [on(3, 6), on(1, 0)]),
    "a bend of all strings on the channel below": (
        "mode 4",
        """
        E0 00 60        # channel 1, half up: one semitone for all
        91 40 50        # string 1
        96 28 50        # string 6
        """,
        [on(1, 1), on(6, 1)],
    ),
    "a bend of all strings adds to that of a string": (
        "mode 4",
        """
        E0 00 60        # all: +1
        E1 00 60        # string 1: +1
        91 40 50
        92 3B 50
        """,
        [on(1, 2), on(2, 1)],
    ),
    "a bend of all strings moves what sounds": (
        "mode 4",
        """
        91 40 50
        E0 00 60
        E0 00 40
        81 40 00
        """,
        [on(1, 0, lines=1), on(1, 1, lines=1), on(1, 0, lines=1)],
    ),
    "RPN 0 on the channel below holds for all": (
        "mode 4",
        """
        B0 65 00 64 00 06 0C  # 12
        E1 00 60              # string 1: +6
        91 40 50
        E6 00 60              # string 6: +6
        96 28 50
        """,
        [on(1, 6), on(6, 6)],
    ),
    "RPN 2 on the channel below holds for all": (
        "mode 4",
        """
        B0 65 00 64 02 06 43  # +3
        91 40 50
        96 28 50
        """,
        [on(1, 3), on(6, 3)],
    ),
    "RPN 1 on the channel below holds for all": (
        "mode 4",
        """
        B0 65 00 64 01 06 50  # +25 cents
        91 40 50
        B1 65 00 64 01 06 48  # string 1: +12.5 more
        81 40 00
        91 40 50
        """,
        [on(1, 0, 25.0, lines=2), on(1, 0, 37.5)],
    ),
    "all notes off on the channel below": (
        "mode 4",
        "91 40 50\n 92 40 50\n B0 7B 00\n F8",
        [on(1, 0, lines=2), on(2, 5, lines=1)],
    ),
    "all notes off of one string": (
        "mode 4",
        "91 40 50\n 92 40 50\n B1 7B 00\n F8",
        [on(1, 0, lines=2), on(2, 5)],
    ),
    "with base channel 1 the controllers are on 16": (
        "mode 4 from 1",
        "EF 00 60\n 90 40 50\n 95 28 50",
        [on(1, 1), on(6, 1)],
    ),
}

ONE_CHANNEL: dict[str, Row] = {
    "a chord": (
        "one channel",
        "90 40 50 43 50 48 50\n 80 43 00\n 80 40 00 48 00",
        [pitch(64, lines=2), pitch(67, lines=1), pitch(72, lines=2)],
    ),
    "a bend before a note": ("one channel", "E0 00 60\n 90 40 50", [pitch(65)]),
    "RPN 0 and 2": (
        "one channel",
        "B0 65 00 64 00 06 0C 65 00 64 02 06 41\n E0 00 60\n 90 40 50",
        [pitch(71)],
    ),
    "any channel": ("one channel", "99 40 50\n 89 40 00", [pitch(64, lines=1)]),
    "the end of the number range": (
        "one channel",
        "90 00 50\n 80 00 00\n 90 7F 50",
        [pitch(0, lines=1), pitch(127)],
    ),
}

# 48 * 8191 / 8192 is 0.586 cents short of 48.
MPE: dict[str, Row] = {
    "a note on a member channel has no string": ("MPE", "91 40 50\n 81 40 00", [pitch(64, lines=1)]),
    "a chord: a channel for each note": (
        "MPE",
        "91 40 50 \n 92 43 50\n 93 48 50",
        [pitch(64), pitch(67), pitch(72)],
    ),
    "members bend by 48": ("MPE", "E1 7F 7F\n 91 28 50", [pitch(88, 100 * (48 * 8191 / 8192 - 48))]),
    "members bend by 48: half up is two octaves": ("MPE", "E1 00 60\n 91 28 50", [pitch(64)]),
    "the manager bends all by 2": ("MPE", "E0 00 60\n 91 40 50\n 92 43 50", [pitch(65), pitch(68)]),
    "member and manager add up": (
        "MPE",
        """
        E0 00 60        # manager: +1
        E1 00 50        # member: a quarter up: +12
        91 40 50
        """,
        [pitch(77)],
    ),
    "bends move what sounds": (
        "MPE",
        """
        91 40 50
        E1 2B 41        # 171 steps: 171 * 48 / 8192 = 1.00195 semitones
        81 40 00
        """,
        [pitch(64, lines=1), pitch(65, 100 * (171 * 48 / 8192 - 1), lines=1)],
    ),
    "the manager's bend moves what sounds": (
        "MPE",
        "91 40 50\n E0 00 60\n 81 40 00",
        [pitch(64, lines=1), pitch(65, lines=1)],
    ),
    "RPN 0 on a member holds for all members": (
        "MPE",
        """
        B1 65 00 64 00 06 18  # 24
        E1 00 60              # +12
        91 40 50
        E2 00 60              # +12 on the other as well
        92 40 50
        """,
        [pitch(76), pitch(76)],
    ),
    "RPN 0 on the manager is the manager's": (
        "MPE",
        """
        B0 65 00 64 00 06 0C  # 12
        E0 00 60              # +6
        91 40 50
        E2 00 50              # member: a quarter of 48: +12
        92 40 50
        """,
        [pitch(70), pitch(82)],
    ),
    "RPN 6 lays out a zone and sets its bend ranges": (
        "MPE",
        """
        B1 65 00 64 00 06 18  # member 24
        B0 65 00 64 00 06 0C  # manager 12
        B0 65 00 64 06 06 06  # RPN 6: six members, channels 2 to 7; 48 and 2 again
        E0 00 60              # +1
        E1 00 60              # +24
        91 28 50              # key 40
        """,
        [pitch(65)],
    ),
    "a channel outside the zone does not follow the manager": (
        "MPE",
        """
        B0 65 00 64 06 06 06  # six members: channels 2 to 7
        E0 00 60
        97 40 50              # channel 8
        96 40 50              # channel 7, the last member
        """,
        [pitch(64), pitch(65)],
    ),
    "a channel outside the zone bends by 2 [mem]": (
        "MPE",
        """
        B0 65 00 64 06 06 06
        E7 00 60              # channel 8
        97 40 50
        """,
        [pitch(65)],
    ),
    "the upper zone: manager channel 16, members from 15 down": (
        "MPE",
        """
        BF 65 00 64 06 06 03  # three members: channels 15, 14, 13
        EF 00 60              # its manager: +1
        9E 40 50              # channel 15
        9C 40 50              # channel 13
        9B 40 50              # channel 12, not of this zone
        """,
        [pitch(65), pitch(65), pitch(64)],
    ),
    "no members: the zone is gone": (
        "MPE",
        """
        B0 65 00 64 06 06 00
        E0 00 60
        91 40 50
        """,
        [pitch(64)],
    ),
    "RPN 6 on another channel means nothing": (
        "MPE",
        """
        B3 65 00 64 06 06 03
        E0 00 60
        91 40 50
        """,
        [pitch(65)],
    ),
    "a note on the manager channel": ("MPE", "E0 00 60\n 90 40 50", [pitch(65)]),
}

TABLE: dict[str, Row] = {
    f"{chapter}: {name}": row
    for chapter, rows in {
        "notes": NOTES,
        "bytes": SPLITTING,
        "bends": BENDS,
        "parameters": REGISTERED,
        "steps": STEPS,
        "resets": RESETS,
        "mode 4": MODE_4,
        "one channel": ONE_CHANNEL,
        "MPE": MPE,
    }.items()
    for name, row in rows.items()
}


def line_bytes(text: str) -> list[bytes]:
    """The bytes of each line, comments and empty lines left out."""
    lines = [line.partition("#")[0].strip() for line in text.splitlines()]
    return [bytes.fromhex(line) for line in lines if line]


def hear(neck: Neck, wiring: Wiring, text: str, *, chunk: int) -> tuple[Decoded, float]:
    """Send a row in chunks of so many bytes; return what was heard, and when the row ended."""
    splitter = ByteSplitter()
    messages: list[TimedMessage] = []
    lines = line_bytes(text)
    for number, line in enumerate(lines):
        for start in range(0, len(line), chunk):
            for message in splitter.split(line[start : start + chunk]):
                messages.append(TimedMessage(number * LINE_S, message))
    end_s = len(lines) * LINE_S
    return decode(messages, Decoder(neck, wiring), end_s=end_s), end_s


@pytest.mark.parametrize("chunk", [1, 2, 3, 64])
@pytest.mark.parametrize("name", TABLE)
def test_standard(name: str, chunk: int, neck: Neck) -> None:
    wiring, text, expected = TABLE[name]
    decoded, end_s = hear(neck, WIRINGS[wiring], text, chunk=chunk)
    notes = [item.note for item in decoded.notes]
    assert [(n.string, n.fret, n.midi) for n in notes] == [(h.string, h.fret, h.midi) for h in expected]
    for item, right in zip(decoded.notes, expected, strict=True):
        # 0.001 cents: a rounding of a bend or a tuning by one step is twelve times as much.
        assert item.note.cents == pytest.approx(right.cents, abs=0.001)
        lasts_s = end_s - item.note.onset_s if right.lines is None else right.lines * LINE_S
        assert item.duration_s == pytest.approx(lasts_s)
    assert decoded.warnings == ()
    assert decoded.voided == ()
    assert not any(n.doubtful for n in notes)

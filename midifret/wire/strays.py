"""What no converter ought to send, beside the notes: stray controllers, wrong parameters, damaged bytes."""

import random

from midifret.terms import Encoding, Wiring

# Controllers that a guitar has no reason to send and that change no pitch (MIDI 1.0): modulation, breath,
# volume, pan, expression, sustain, sostenuto, effects.
_HARMLESS = (1, 2, 7, 10, 11, 64, 66, 91)
_RESET_ALL_CONTROLLERS, _ALL_NOTES_OFF = 121, 123
_WRONG_FOR_S = 0.5
_STRAYS = ("controller", "other", "reset", "all notes off", "no parameter", "wrong range", "no string")
_WEIGHTS = (6, 4, 1, 1, 4, 1, 4)
_DAMAGED = (
    b"",
    b"\x90",
    b"\x90\x40",
    b"\xe0\x00",
    b"\x40\x40\x40",  # no status byte
    b"\x90\x80\x40",  # data bytes are 0 to 127
    b"\x90\x40\xff",
    b"\xb0\x90\x40",
    b"\xe0\xff\xff",
    b"\x91\x40\x40\x40",
    b"\xf4",  # undefined (MIDI 1.0)
    b"\xff\xff\xff",
)


def stray_messages(
    draw: random.Random, wiring: Wiring, bend_range_semitones: float, garbage_share: float
) -> list[tuple[float, bytes]]:
    """Draw something that does not belong there: (seconds after the first, bytes).

    garbage_share: of 1, how often it is bytes that are no message.
    """
    if draw.random() < garbage_share:
        return [(0.0, draw.choice(_DAMAGED))]
    per_string = wiring.encoding is Encoding.PER_STRING
    used = [index for index, string in enumerate(wiring.channels) if string is not None] or list(range(16))
    unused = [index for index, string in enumerate(wiring.channels) if string is None]
    channel = draw.choice(used)
    control, value = 0xB0 | channel, draw.randint(0, 127)

    def controllers(*pairs: tuple[int, int]) -> list[tuple[float, bytes]]:
        return [(0.0, bytes((control, number, content))) for number, content in pairs]

    match draw.choices(_STRAYS, _WEIGHTS)[0]:
        case "controller":
            return controllers((draw.choice(_HARMLESS), value))
        case "other":  # program, pressure of a channel, pressure of a key, system exclusive
            key = draw.randint(0, 127)
            return [
                (
                    0.0,
                    draw.choice(
                        (
                            bytes((0xC0 | channel, value)),
                            bytes((0xD0 | channel, value)),
                            bytes((0xA0 | channel, key, value)),
                            bytes((0xF0, 0x7D, value, 0xF7)),
                        )
                    ),
                )
            ]
        case "reset":
            return controllers((_RESET_ALL_CONTROLLERS, 0))
        case "all notes off":
            return controllers((_ALL_NOTES_OFF, 0))
        case "no parameter":  # data entry after null, for an unregistered and for an unknown parameter
            null, unregistered = ((101, 127), (100, 127)), ((99, 1), (98, value))
            unknown = ((101, 0), (100, 5))
            return controllers(*draw.choice((null, unregistered, unknown)), (6, value), *null)
        case "wrong range" if per_string:  # RPN 0 told wrong, and right again a little later
            select, null = ((101, 0), (100, 0)), ((101, 127), (100, 127))
            semitones, cents = divmod(round(bend_range_semitones * 100), 100)
            wrong = controllers(*select, (6, draw.randint(1, 24)), *null)
            right = controllers(*select, (6, semitones), (38, cents), *null)
            return [*wrong, *((_WRONG_FOR_S, data) for _, data in right)]
        case "no string" if per_string and unused:
            status, key = 0x90 | draw.choice(unused), draw.randint(30, 90)
            return [(0.0, bytes((status, key, max(1, value)))), (0.1, bytes((status, key, 0)))]
    return controllers((draw.choice(_HARMLESS), value))

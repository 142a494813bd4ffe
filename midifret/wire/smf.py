"""Reads Standard MIDI Files: header, tracks and times, every fault told with its byte.

The MIDI library's own reader is not used: it misreads the header of files in SMPTE time, refuses chunks that
the standard asks readers to skip, stops at meta events that do not matter here, and takes 4 s and 280 MB for
a million events.
"""

from collections.abc import Iterator
from fractions import Fraction

from midifret.terms import BadInput

# The largest file that is read: two hours of six strings bent without a pause (600 messages a second of 4
# bytes), which bounds reading to some seconds and some hundred megabytes.
LARGEST_FILE_BYTES = 16_000_000

_HEADER_BYTES = 14
_USUAL_TEMPO_US = 500_000  # until the file says otherwise (SMF 1.0)
_SET_TEMPO, _END_OF_TRACK = 0x51, 0x2F
_META, _SYSEX, _ESCAPE = 0xFF, 0xF0, 0xF7
_DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
# Frames a second by the number in the header; 29 stands for 30 frames with some left out, which run at the
# rate of colour television, 30000/1001 (SMF 1.0, SMPTE 12M).
_FRAME_RATES = {24: Fraction(24), 25: Fraction(25), 29: Fraction(30_000, 1001), 30: Fraction(30)}
_ALLOWED = "a whole Standard MIDI File of type 0 or 1"


def read_smf(data: bytes, name: str) -> Iterator[tuple[float, bytes]]:
    """Check a whole file and return its channel messages and meta events in the order of time, as (s, bytes).

    Meta events are FF, the type and the content without its length. System exclusive and other system
    messages are left out. Within one tick the tracks follow each other in the order of the file, but the
    note-offs with which a track begins that tick come first of all: two tracks may share a string, and its
    old note has to end before its new one begins. name: of the file, for errors. Raises BadInput.
    """
    if len(data) > LARGEST_FILE_BYTES:
        raise BadInput(
            f"{name}: the file is too large for a recording",
            allowed=f"at most {LARGEST_FILE_BYTES:,} bytes, about two hours of playing",
        )
    seconds_a_tick, ticks_a_quarter, tracks = _read_header(data, name)
    merged: list[tuple[int, int, int, int, bytes]] = []
    for track, (start, end) in enumerate(_chunks(data, tracks, name)):
        merged += _ranked(_read_track(data, start, end, name), track)
    merged.sort()
    return _timed(merged, seconds_a_tick, ticks_a_quarter)


def _fault(name: str, offset: int, message: str, allowed: str = _ALLOWED) -> BadInput:
    return BadInput(f"{name}: byte {offset}: {message}", allowed=allowed)


def _read_header(data: bytes, name: str) -> tuple[Fraction | None, int, int]:
    """Return the seconds of a tick where the file says them, else the ticks of a quarter, and the tracks."""
    if not data:
        raise _fault(name, 0, "the file is empty")
    if data[:4] != b"MThd"[: len(data)]:
        raise _fault(name, 0, "this is not a MIDI file")
    if len(data) < _HEADER_BYTES:
        raise _fault(name, len(data), "the file ends inside its header")
    length = int.from_bytes(data[4:8], "big")
    if length < 6:
        raise _fault(name, 4, f"a header of {length} bytes is too short")
    kind, tracks, division = (int.from_bytes(data[n : n + 2], "big") for n in (8, 10, 12))
    if kind not in (0, 1):
        what = (
            "a file of type 2 holds songs apart from each other" if kind == 2 else f"there is no type {kind}"
        )
        raise _fault(name, 8, what, "a Standard MIDI File of type 0 or 1")
    if tracks == 0:
        raise _fault(name, 10, "the file has no track")
    if division < 0x8000:
        if division == 0:
            raise _fault(name, 12, "0 ticks in a quarter note", "1 to 32,767 ticks")
        return None, division, tracks
    frames, ticks = 256 - (division >> 8), division & 0xFF
    if frames not in _FRAME_RATES or ticks == 0:
        raise _fault(
            name,
            12,
            f"SMPTE time of {frames} frames with {ticks} ticks each",
            "24, 25, 29 or 30 frames of 1 to 255 ticks",
        )
    return 1 / (_FRAME_RATES[frames] * ticks), 0, tracks


def _chunks(data: bytes, tracks: int, name: str) -> Iterator[tuple[int, int]]:
    """Yield where the content of each track begins and ends; other chunks are skipped (SMF 1.0)."""
    at = 8 + int.from_bytes(data[4:8], "big")
    found = 0
    while found < tracks:
        if at + 8 > len(data):
            raise _fault(name, len(data), f"the file ends after {found} of {tracks} tracks")
        start = at + 8
        end = start + int.from_bytes(data[at + 4 : start], "big")
        if end > len(data):
            raise _fault(
                name,
                len(data),
                f"the file ends inside the chunk at byte {at}, {end - len(data)} bytes too early",
            )
        if data[at : at + 4] == b"MTrk":
            found += 1
            yield start, end
        at = end


def _read_track(data: bytes, at: int, end: int, name: str) -> list[tuple[int, bytes]]:
    """Return the (tick, bytes) of one track's channel messages and meta events."""
    events: list[tuple[int, bytes]] = []
    tick = 0
    running = 0  # the status of the last channel message
    try:
        while at < end:
            byte = data[at]
            at += 1
            delta = byte & 0x7F
            if byte >= 0x80:
                delta, at = _read_long_number(data, at, delta, name)
            tick += delta
            status = data[at]
            if status < 0x80:
                if not running:
                    raise _fault(name, at, f"{status:#04x} where a status byte has to stand")
                status = running
            else:
                at += 1
            if status < 0xF0:
                running = status
                after = at + _DATA_BYTES[status >> 4]
                body = data[at:after]
                if after > end:
                    raise IndexError
                if not body.isascii():  # a byte over 127
                    raise _fault(
                        name, at, f"a data byte over 127 after status {status:#04x}", "data bytes of 0 to 127"
                    )
                events.append((tick, bytes((status,)) + body))
                at = after
            elif status in (_META, _SYSEX, _ESCAPE):
                kind = at
                at += status == _META
                size = data[at]
                at += 1
                if size >= 0x80:
                    size, at = _read_long_number(data, at, size & 0x7F, name)
                if at + size > end:
                    raise IndexError
                if status == _META:
                    if data[kind] == _END_OF_TRACK:
                        events.append((tick, bytes((_META, _END_OF_TRACK))))
                        break
                    if data[kind] == _SET_TEMPO and (size != 3 or not any(data[at : at + 3])):
                        raise _fault(
                            name, at, "a tempo that is none", "1 to 16,777,215 microseconds, in 3 bytes"
                        )
                    events.append((tick, data[kind - 1 : kind + 1] + data[at : at + size]))
                at += size
            elif status < 0xF8 and status not in (0xF1, 0xF2, 0xF3, 0xF6):
                raise _fault(name, at - 1, f"status byte {status:#04x} is not defined")
            else:  # system common and realtime have no place in a file; they are stepped over
                at += {0xF1: 1, 0xF2: 2, 0xF3: 1}.get(status, 0)
        if at > end:
            raise IndexError
    except IndexError:
        raise _fault(name, end, "the track ends inside an event") from None
    return events


def _read_long_number(data: bytes, at: int, value: int, name: str) -> tuple[int, int]:
    """Go on reading a number of seven bits a byte, at most four (SMF 1.0); return it and where it ended."""
    for _ in range(3):
        byte = data[at]
        at += 1
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at
    raise _fault(name, at - 1, "a time or a length of more than four bytes")


def _ranked(events: list[tuple[int, bytes]], track: int) -> Iterator[tuple[int, int, int, int, bytes]]:
    """Add what puts the events of all tracks in order: the note-offs that begin a tick rank first."""
    tick, leading = -1, True
    for index, (at, data) in enumerate(events):
        if at != tick:
            tick, leading = at, True
        leading = leading and (data[0] & 0xF0 == 0x80 or (data[0] & 0xF0 == 0x90 and data[2] == 0))
        yield at, 0 if leading else 1, track, index, data


def _timed(
    merged: list[tuple[int, int, int, int, bytes]], seconds_a_tick: Fraction | None, ticks_a_quarter: int
) -> Iterator[tuple[float, bytes]]:
    """Turn ticks into seconds; a tempo holds for all tracks. In SMPTE time there is no tempo (SMF 1.0)."""
    start_tick, start_s = 0, 0.0
    if seconds_a_tick is None:
        tick_s = _USUAL_TEMPO_US / (1e6 * ticks_a_quarter)
    else:
        tick_s = float(seconds_a_tick)
    for tick, _, _, _, data in merged:
        time_s = start_s + (tick - start_tick) * tick_s
        if seconds_a_tick is None and data[0] == _META and data[1] == _SET_TEMPO:
            start_tick, start_s = tick, time_s
            tick_s = int.from_bytes(data[2:], "big") / (1e6 * ticks_a_quarter)
        yield time_s, data

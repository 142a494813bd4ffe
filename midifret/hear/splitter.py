"""From a stream of MIDI bytes to whole messages: running status, and realtime bytes inside other messages."""

# Data bytes after each status byte (MIDI 1.0 detailed specification, table of status bytes).
_CHANNEL_DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
_COMMON_DATA_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1, 0xF6: 0}
_SYSEX, _SYSEX_END, _FIRST_REALTIME = 0xF0, 0xF7, 0xF8
# Nothing that this program listens for is sent as system exclusive; a longer one is cut, so that a stream
# that opens one and never ends it takes no memory.
_LONGEST_SYSEX = 4096


class ByteSplitter:
    """Splits the bytes of one port. Chunks may begin and end anywhere.

    dropped: bytes so far that belonged to no message (data without a status, messages cut short).
    """

    def __init__(self) -> None:
        """Start with no running status."""
        self.dropped = 0
        self._status = 0  # of the message being read; a channel status stays on as running status
        self._needed = 0
        self._data = bytearray()

    def split(self, data: bytes) -> list[bytes]:
        """Return the messages that this chunk completes, each with its status byte first."""
        if (
            len(data) == 3
            and not self._data
            and self._status != _SYSEX
            and 0x80 <= data[0] < 0xF0
            and data[0] & 0xE0 != 0xC0
            and data[1] < 0x80
            and data[2] < 0x80
        ):
            self._status, self._needed = data[0], 2
            return [bytes(data)]
        messages: list[bytes] = []
        for byte in data:
            if byte >= _FIRST_REALTIME:
                messages.append(bytes((byte,)))
            elif byte >= 0x80:
                self._begin(byte, messages)
            else:
                self._continue(byte, messages)
        return messages

    def _begin(self, status: int, messages: list[bytes]) -> None:
        if status == _SYSEX_END and self._status == _SYSEX:
            messages.append(bytes((_SYSEX, *self._data, _SYSEX_END)))
            self._forget()
            return
        self.dropped += len(self._data)
        self._forget()
        if status == _SYSEX:
            self._status = status
        elif status < _SYSEX:
            self._status, self._needed = status, _CHANNEL_DATA_BYTES[status >> 4]
        elif _COMMON_DATA_BYTES.get(status) == 0:
            messages.append(bytes((status,)))
        elif status in _COMMON_DATA_BYTES:
            self._status, self._needed = status, _COMMON_DATA_BYTES[status]
        else:  # undefined, or the end of a system exclusive that never began
            self.dropped += 1

    def _continue(self, byte: int, messages: list[bytes]) -> None:
        if self._status == _SYSEX:
            if len(self._data) < _LONGEST_SYSEX:
                self._data.append(byte)
            else:
                self.dropped += 1
            return
        if not self._status:
            self.dropped += 1
            return
        self._data.append(byte)
        if len(self._data) == self._needed:
            messages.append(bytes((self._status, *self._data)))
            self._data.clear()
            if self._status > _SYSEX:  # system common messages end running status
                self._forget()

    def _forget(self) -> None:
        self._status = self._needed = 0
        self._data.clear()

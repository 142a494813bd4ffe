"""How a terminal shows what stands between the parts of a session, and where the reply comes from."""

from collections.abc import Callable, Sequence
from typing import IO, Protocol

from midifret.clock import Clock
from midifret.session.around import Source
from midifret.session.interlude import Interlude, Reply
from midifret.show.drill_screen import DrillScreen
from midifret.show.interlude_screen import interlude_frame, interlude_lines
from midifret.show.rows import can_print_signs, clean, to_ascii

_POLL_S = 0.02
# So long a string that still rings, or is put to rest, begins nothing [ours].
_STILL_S = 1.0
_NOTE_ON, _KIND = 0x90, 0xF0


class _Listening(Source, Protocol):
    pass


def await_reply(
    interlude: Interlude,
    source: _Listening,
    clock: Clock,
    *,
    show: Callable[[float, str], None],
    keys: Callable[[], Sequence[str]],
) -> Reply:
    """Show an interlude until a key, a plucked string or its own time gives the reply.

    show: draws it, told how long it has waited in seconds and what is wrong with the guitar, if anything.
    keys: gives those pressed since the last call. Raises KeyboardInterrupt at ctrl-c.
    """
    began_s = clock.now_s()
    replies = {option.key: option.reply for option in interlude.options}
    source.poll()
    while True:
        waited_s = clock.now_s() - began_s
        show(waited_s, "" if source.connected() else source.trouble)
        for key in keys():
            if key == "ctrl-c":
                raise KeyboardInterrupt
            known = replies.get(key.lower() if len(key) == 1 else key)
            if known is not None:
                return known
        plucked = any(data[0] & _KIND == _NOTE_ON and data[2] for _, data in source.poll())
        if interlude.plucked and plucked and waited_s > _STILL_S:
            return interlude.options[0].reply
        if interlude.counts_s is not None and waited_s >= interlude.counts_s:
            return interlude.unasked
        clock.wait_s(_POLL_S)


class TerminalAsks:
    """Shows an interlude on the screen of the runs, and takes a key, or a plucked string, for the reply."""

    def __init__(self, screen: DrillScreen, source: _Listening, clock: Clock, player: str) -> None:
        """Take what the runs have too."""
        self._screen = screen
        self._source = source
        self._clock = clock
        self._player = player

    def __call__(self, interlude: Interlude) -> Reply:
        """Show it and wait. Raises KeyboardInterrupt at ctrl-c."""
        screen = self._screen
        screen.keys()  # what was pressed before was meant for something else

        def show(waited_s: float, trouble: str) -> None:
            size = screen.size
            shown = interlude_frame(
                interlude,
                self._player,
                *size,
                waited_s=waited_s,
                ascii_only=screen.ascii_only,
                trouble=trouble,
            )
            screen.draw(shown, size)

        return await_reply(interlude, self._source, self._clock, show=show, keys=screen.keys)


class LineAsks:
    """Writes an interlude as lines and goes on: a pipe has no keys. A break is kept."""

    def __init__(self, stream: IO[str] | None, source: _Listening, clock: Clock) -> None:
        """stream: None writes nothing."""
        self._stream = stream
        self._source = source
        self._clock = clock

    def __call__(self, interlude: Interlude) -> Reply:
        """Write it, and give the reply that holds where nobody can be asked."""
        if self._stream is not None:
            _write(self._stream, interlude_lines(interlude))
        until_s = self._clock.now_s() + (interlude.counts_s or 0.0)
        while self._clock.now_s() < until_s:
            self._source.poll()
            self._clock.wait_s(_POLL_S)
        return interlude.unasked


def _write(stream: IO[str], lines: Sequence[str]) -> None:
    text = "".join(f"{clean(line)}\n" for line in lines)
    stream.write(text if can_print_signs(getattr(stream, "encoding", None)) else to_ascii(text))
    stream.flush()

"""Clicks through the sound card, each at its sample, planned ahead of time."""

import contextlib
import threading
from collections import deque
from collections.abc import Callable, Iterable
from typing import Any, Protocol

from midifret.clock import Clock
from midifret.tempo import Click
from midifret.wire.click import ClickFigures
from midifret.wire.sound_track import ClickTrack

# The sound card is given so much ahead, so that an interpreter that is busy elsewhere does not make it run
# dry; it does not make clicks late, as they are planned further ahead [ours].
AHEAD_S = 0.1
# Clicks have to be planned so much ahead: what the card was given, once more for cards that take more, and a
# turn of the loop [ours].
LEAD_S = 0.25
# A card asks for a block at least each 0.1 s; so long without means that it has gone [ours].
GONE_S = 1.0
# Closing takes some milliseconds; so long, and the device does not answer [ours].
CLOSE_S = 2.0
# So often dry within so long, and the clicks cannot be relied on [ours].
DRY_TIMES = 3
DRY_WITHIN_S = 10.0
# What a device says of when a block is heard is believed up to here; some say nothing, 0 [ours].
_MOST_AHEAD_S = 2.0


class Stream(Protocol):
    """An output stream of the sound library, opened."""

    samplerate: float
    latency: float

    def start(self) -> None:
        """Begin to ask for blocks."""
        ...

    def abort(self) -> None:
        """End at once."""
        ...

    def close(self) -> None:
        """Let go of the device."""
        ...


def _nothing() -> None:
    """What is done where nobody asked to be told."""


class SoundClick:
    """Clicks through a stream that asks `fill` for blocks, on a thread of the sound library.

    What is already in the card's memory when this is stopped is still heard, 0.1 s or more by its latency.
    """

    lead_s = LEAD_S

    def __init__(
        self,
        device: str,
        clock: Clock,
        *,
        channels: int,
        volume_percent: float,
        stuck: Callable[[], None] = _nothing,
    ) -> None:
        """Belong to a device by its name; `start` makes it sound. stuck: told where it cannot be closed."""
        self.trouble = ""
        self._device = device
        self._clock = clock
        self._channels = channels
        self._volume_percent = volume_percent
        self._stuck = stuck
        self._stream: Stream | None = None
        self._track: ClickTrack | None = None
        self._underruns = 0
        self._dry_s: deque[float] = deque(maxlen=DRY_TIMES)
        self._ahead_s: float | None = None
        self._filled_s: float | None = None

    @property
    def name(self) -> str:
        """The device."""
        return f"sound on {self._device}"

    @property
    def ahead_s(self) -> float | None:
        """How long before it is heard the device last asked for a block; None before the first."""
        return self._ahead_s

    def start(self, stream: Stream) -> None:
        """Begin; what the stream raises goes on."""
        self._stream = stream
        self._track = ClickTrack(stream.samplerate, self._channels, self._volume_percent)
        self._filled_s = self._clock.now_s()
        stream.start()

    def fill(self, out: Any, frames: int, times: Any, status: Any) -> None:
        """Fill a block: the callback that the sound library asks for.

        out: a buffer of so many frames. times: of the stream's clock, now and when the block is heard.
        status: whether the card ran dry before this.
        """
        now_s = self._clock.now_s()
        track = self._track
        if track is None or self._stream is None:
            out[:] = bytes(len(out))
            return
        if status.output_underflow:
            self._underruns += 1
            self._dry_s.append(now_s)
            track.line.forget()
        ahead_s = times.outputBufferDacTime - times.currentTime
        if not 0 < ahead_s <= _MOST_AHEAD_S:
            ahead_s = self._stream.latency
        self._ahead_s, self._filled_s = ahead_s, now_s
        out[:] = track.block(frames, now_s + ahead_s)

    def plan(self, clicks: Iterable[Click]) -> None:
        """Take clicks to come; those less than `lead_s` ahead may be late or be left out."""
        if self._track is not None:
            self._track.plan(clicks)

    def due(self, now_s: float) -> None:
        """See whether the card still asks for sound, and in time."""
        if self._filled_s is None:
            return
        dry_s = tuple(self._dry_s)
        if now_s - self._filled_s > GONE_S:
            self.trouble = (
                f"The sound output has stopped ({self._device}). Look at its cable, then start the drill "
                "again; until then the beat is only seen."
            )
        elif len(dry_s) == DRY_TIMES and now_s - dry_s[0] <= DRY_WITHIN_S:
            self.trouble = (
                f"The sound output runs dry ({self._device}): clicks come late or not at all. Close what "
                "else is at work; where your sound system lets you choose a buffer, take 1024 frames or more."
            )
        else:
            self.trouble = ""

    def stop(self) -> None:
        """Be silent from the next block on, and forget what was planned."""
        if self._track is not None:
            self._track.silence()

    def figures(self) -> ClickFigures:
        """How well it went. The latency is what the device last said of a block, and is made good for."""
        if self._track is None:
            return ClickFigures()
        ahead_ms = None if self._ahead_s is None else self._ahead_s * 1000
        return self._track.tally.figures(output_latency_ms=ahead_ms, underruns=self._underruns)

    def close(self) -> None:
        """Be silent and let go of the device; of one that does not answer the program still gets away."""
        self.stop()
        stream, self._stream = self._stream, None
        self._filled_s = None
        if stream is None:
            return
        # Where a sound server has gone the library waits for it without end (seen: JACK, killed or stopped).
        closing = threading.Thread(target=_close, args=(stream,), name="sound-close", daemon=True)
        closing.start()
        closing.join(CLOSE_S)
        if closing.is_alive():
            self._stuck()


def _close(stream: Stream) -> None:
    with contextlib.suppress(Exception):  # a device that has gone: whatever the library says of it
        stream.abort()
    with contextlib.suppress(Exception):
        stream.close()

"""The sound of clicks and where in a stream of samples they stand; no sound library here.

A sound card has a clock of its own. It asks for blocks of samples ahead of time and says of each block when
its first sample will be heard. Blocks follow one another without a gap, so every block says the same thing:
when sample 0 was heard. That is taken from the earliest claim of the last seconds, because a claim is late by
as long as the call was held up, and hardly ever early.
"""

import math
from array import array
from collections import deque
from collections.abc import Iterable

from midifret.tempo import Click, ClickKind
from midifret.wire.click import LATEST_S, Tally

# Claims this old are forgotten: a sound card's clock that is off by 100 parts in a million moves by 0.2 ms
# meanwhile [calc], and there are 20 to 200 blocks in it to find one that was not held up.
CLAIMS_S = 2.0
# Each click ends before the next one, at 400 bpm with 8 clicks a beat 18.75 ms later [calc].
CLICK_S = 0.018
_ATTACK_S = 0.0005
_DECAY_S = 0.004
_FADE_S = 0.003
# Hz, and share of the volume. Above the fundamental of any fret: fret 24 of an E4 string is 1,319 Hz [calc].
_SOUNDS = {
    ClickKind.BAR: (2400.0, 1.0),
    ClickKind.BEAT: (1800.0, 0.8),
    ClickKind.SUBDIVISION: (1400.0, 0.5),
}  # [ours]
_SAMPLE_BYTES = 4  # a float of 32 bits


def click_samples(kind: ClickKind, rate_hz: float, volume_percent: float) -> tuple[float, ...]:
    """Return one click, a short tone that dies away: samples from -1 to 1, for one ear.

    Its loudest sample is the kind's share of the volume, 0 to 100% of full scale. It starts with its first
    sample and is silent at its end.
    """
    tone_hz, share = _SOUNDS[kind]
    count = int(CLICK_S * rate_hz)
    samples = []
    for n in range(count):
        at_s = n / rate_hz
        rise = min(at_s / _ATTACK_S, 1.0)
        fade = min((count - 1 - n) / (_FADE_S * rate_hz), 1.0)
        samples.append(rise * fade * math.exp(-at_s / _DECAY_S) * math.sin(math.tau * tone_hz * at_s))
    loudest = max(map(abs, samples))
    scale = share * volume_percent / 100 / loudest
    return tuple(sample * scale for sample in samples)


class SampleLine:
    """When each sample of a stream is heard: a straight line, found from what the device says of blocks."""

    def __init__(self, rate_hz: float) -> None:
        """Know nothing yet. rate_hz: samples a second, as the device counts them."""
        self._rate_hz = rate_hz
        self._claims: deque[tuple[int, float]] = deque()  # sample, when sample 0 was heard; both rising

    def add(self, sample: int, heard_s: float) -> None:
        """Take the claim that a sample is heard at a time of the run's clock; samples never go back."""
        zero_s = heard_s - sample / self._rate_hz
        oldest = sample - CLAIMS_S * self._rate_hz
        while self._claims and self._claims[-1][1] >= zero_s:
            self._claims.pop()
        self._claims.append((sample, zero_s))
        while self._claims[0][0] < oldest:
            self._claims.popleft()

    def forget(self) -> None:
        """Believe nothing of before: there was a gap."""
        self._claims.clear()

    def sample_at(self, time_s: float) -> int:
        """Return the sample that is heard at a time, to the nearest; there must have been a claim."""
        return round((time_s - self._claims[0][1]) * self._rate_hz)

    def heard_s(self, sample: int) -> float:
        """Return when a sample is heard; there must have been a claim."""
        return self._claims[0][1] + sample / self._rate_hz


class ClickTrack:
    """Clicks laid into blocks of samples as the device asks for them. Filled from another thread than read.

    Nothing here waits: the hearing thread only appends to the queue or puts a new one in its place.
    """

    def __init__(self, rate_hz: float, channels: int, volume_percent: float) -> None:
        """Be silent. channels: of the device; all get the same."""
        self.tally = Tally()
        self.line = SampleLine(rate_hz)
        self._rate_hz = rate_hz
        self._frame_bytes = channels * _SAMPLE_BYTES
        self._sounds = {
            kind: _interleaved(click_samples(kind, rate_hz, volume_percent), channels) for kind in ClickKind
        }
        self._waiting: deque[Click] = deque()
        self._sample = 0  # the first of the next block
        self._rest: memoryview = memoryview(b"")  # of the click that sounds
        self._silenced = False

    def plan(self, clicks: Iterable[Click]) -> None:
        """Take clicks to come."""
        self._waiting.extend(clicks)

    def silence(self) -> None:
        """Forget all clicks and break off one that sounds, from the next block on."""
        self._waiting = deque()
        self._silenced = True

    def block(self, frames: int, heard_s: float) -> bytearray:
        """Return the next block. heard_s: when its first sample is heard, as the device says just now."""
        block = bytearray(frames * self._frame_bytes)
        first, waiting = self._sample, self._waiting
        self._sample += frames
        self.line.add(first, heard_s)
        if self._silenced:
            self._silenced = False
            self._rest = memoryview(b"")
        self._lay(block, 0)
        while waiting:
            click = waiting[0]
            at = self.line.sample_at(click.time_s) - first
            if at >= frames:
                break
            waiting.popleft()
            late_s = max(-at, 0) / self._rate_hz
            if late_s > LATEST_S:
                self.tally.skipped += 1
                continue
            self.tally.add(late_s)
            self._rest = self._sounds[click.kind]
            self._lay(block, max(at, 0))
        return block

    def _lay(self, block: bytearray, at: int) -> None:
        """Put the rest of the click that sounds at a sample of a block, in place of what stood there."""
        begin = at * self._frame_bytes
        size = min(len(self._rest), len(block) - begin)
        block[begin : begin + size] = self._rest[:size]
        block[begin + size :] = bytes(len(block) - begin - size)
        self._rest = self._rest[size:]


def _interleaved(samples: Iterable[float], channels: int) -> memoryview:
    return memoryview(array("f", (sample for sample in samples for _ in range(channels))).tobytes())

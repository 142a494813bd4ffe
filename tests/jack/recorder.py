"""A program of its own that records what a sound card would get over JACK, and says when each sound began.

Takes the block size as its argument. Prints a line when it runs; reads a line and joins itself to what then
plays; reads another and prints one JSON document: the beginnings of sounds in s on the machine's steady
clock, for each channel, as they pass in JACK's cycle; the gaps in the recording.
"""

import json
import statistics
import sys
import time
from array import array

import jack

SILENCE_S = 0.001  # a sound begins after so long without one
# Frame 0 is told anew with each block: a server that was held up moves it. The median of so many blocks
# before and after counts.
NEAR = 20


class Recorder:
    """Two inputs, and every block that came."""

    def __init__(self, frames: int) -> None:
        self.blocks: list[tuple[int, list[array[float]], float]] = []  # and when frame 0 was
        self.gaps = 0
        self.client = jack.Client("ears", no_start_server=True)
        self.client.blocksize = frames
        self.ports = [self.client.inports.register(f"in_{n}") for n in (1, 2)]
        self.client.set_process_callback(self._process)
        self.client.activate()

    def _process(self, frames: int) -> None:
        before_s = time.perf_counter()
        now = self.client.frame_time
        after_s = time.perf_counter()
        channels = [array("f", bytes(port.get_buffer())) for port in self.ports]
        frame = self.client.last_frame_time
        if self.blocks and frame != self.blocks[-1][0] + len(self.blocks[-1][1][0]):
            self.gaps += 1
        zero_s = (before_s + after_s) / 2 - now / self.client.samplerate
        self.blocks.append((frame, channels, zero_s))

    def join(self) -> None:
        """Connect to the two ports that play, once they are there."""
        end_s = time.monotonic() + 5
        while time.monotonic() < end_s:
            ports = self.client.get_ports(is_audio=True, is_output=True)
            others = sorted(port.name for port in ports if not port.is_physical)
            if len(others) == 2:
                for other, port in zip(others, self.ports, strict=True):
                    self.client.connect(other, port)
                return
            time.sleep(0.01)
        sys.exit("nothing plays")

    def begins_s(self, channel: int) -> list[float]:
        """When sounds began. A click's first sample is 0, so it begins one before what is heard first."""
        rate_hz = self.client.samplerate
        found, silent = [], rate_hz
        for at, (frame, channels, _) in enumerate(self.blocks):
            for n, sample in enumerate(channels[channel]):
                if sample and silent >= SILENCE_S * rate_hz:
                    near = self.blocks[max(at - NEAR, 0) : at + NEAR]
                    zero_s = statistics.median(zero_s for _, _, zero_s in near)
                    found.append((frame + n - 1) / rate_hz + zero_s)
                silent = 0 if sample else silent + 1
        return found


recorder = Recorder(int(sys.argv[1]))
print("ready", flush=True)
input()
recorder.join()
print("joined", flush=True)
input()
recorder.client.deactivate()
begins_s = [recorder.begins_s(channel) for channel in (0, 1)]
recorder.client.close()
print(json.dumps({"begins_s": begins_s, "gaps": recorder.gaps}), flush=True)

"""The sounding click over JACK: recorded by another client and laid beside the plan, sample by sample."""

import importlib.metadata
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from midifret.terms import Unavailable
from midifret.wire import sound_device

from .conftest import SERVER, running_server

try:
    importlib.metadata.version("JACK-Client")
except importlib.metadata.PackageNotFoundError:
    pytest.skip("JACK-Client is not installed", allow_module_level=True)

try:
    sound_device.load_library()
except Unavailable as error:  # no library, or not its engine
    pytest.skip(str(error), allow_module_level=True)

pytestmark = [pytest.mark.jack, pytest.mark.usefixtures("jack_server")]

RATE_HZ = 48_000  # as conftest starts the server
# A process of its own plays, as for a player: it says when each click is planned and how it went.
PLAYER = """
import json, sys, time
from midifret.clock import RealClock
from midifret.gear import ClickSettings
from midifret.tempo import Beats
from midifret.wire.sound_device import open_sound_click
clock = RealClock()
click = open_sound_click(ClickSettings(volume_percent=50), clock)
print("open", flush=True)
input()
beats = Beats(float(sys.argv[1]), clock.now_s() + click.lead_s, a_bar=4, parts=int(sys.argv[2]))
clicks = list(beats.clicks(int(sys.argv[3])))
click.plan(clicks)
end_s = clicks[-1].time_s + 0.3
while clock.now_s() < end_s:
    click.due(clock.now_s())
    if sys.argv[4] == "busy":
        sum(range(200_000))  # holds the interpreter, a few ms at a time
    clock.wait_s(0.001)
figures = click.figures()
print(json.dumps({
    "planned_s": [c.time_s for c in clicks],
    "sent": figures.sent, "skipped": figures.skipped, "underruns": figures.underruns,
    "late_most_ms": figures.late_most_ms, "latency_ms": figures.output_latency_ms,
    "trouble": click.trouble,
}), flush=True)
click.close()
"""


def played(environment: dict[str, str], block: int, *arguments: object) -> tuple[dict, dict]:
    """What the player says and what the recorder heard."""
    recorder = subprocess.Popen(
        [sys.executable, Path(__file__).parent / "recorder.py", str(block)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    )
    player = None
    try:
        assert recorder.stdout.readline() == "ready\n"
        player = subprocess.Popen(
            [sys.executable, "-c", PLAYER, *map(str, arguments)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=environment,
        )
        assert player.stdout.readline() == "open\n"
        recorder.stdin.write("\n")
        recorder.stdin.flush()
        assert recorder.stdout.readline() == "joined\n"
        out, _ = player.communicate("\n", timeout=60)
        assert player.returncode == 0
        latency_ms = playback_latency_ms(environment)
        heard, _ = recorder.communicate("\n", timeout=60)
        return json.loads(out), {**json.loads(heard), "playback_latency_ms": latency_ms}
    finally:
        for process in (player, recorder):
            if process is not None:
                process.kill()
                process.wait()
        subprocess.run(["jack_bufsize", "64"], capture_output=True, env=environment, check=False)  # conftest


def playback_latency_ms(environment: dict[str, str]) -> float:
    """By how much later the server's sound card plays a block than it passes in the cycle."""
    told = subprocess.run(
        ["jack_lsp", "-l", "system:playback_1"], capture_output=True, text=True, env=environment, check=True
    )
    least, most = re.search(r"playback latency = \[ (\d+) (\d+) \] frames", told.stdout).groups()
    assert least == most
    return int(least) / RATE_HZ * 1000


@pytest.mark.parametrize("load", ["idle", "busy"])
def test_each_click_sounds_when_it_was_planned(jack_environment, load):
    told, heard = played(jack_environment, 1024, 240, 2, 16, load)
    assert (told["sent"], told["skipped"], told["underruns"], told["trouble"]) == (32, 0, 0, "")
    assert heard["gaps"] == 0
    begins_s, right_s = heard["begins_s"]
    assert begins_s == right_s
    # The recorder hears a block in the cycle in which it was written, the card plays it later.
    later_ms = heard["playback_latency_ms"]
    off_ms = [
        (begin_s - planned_s) * 1000 + later_ms
        for planned_s, begin_s in zip(told.pop("planned_s"), begins_s, strict=True)
    ]
    print(f"{load}: off the plan by {min(off_ms):.3f} to {max(off_ms):.3f} ms; {told}")
    # Measured 0.2 ms at most in eight runs on a shared machine, of which some is the recorder's [ours].
    assert max(map(abs, off_ms)) < 1.0
    assert max(off_ms) - min(off_ms) < 0.5
    assert told["latency_ms"] == pytest.approx(later_ms, abs=1.0)


def test_periods_that_are_too_short_are_refused(jack_environment):
    told = opening(jack_environment, "ClickSettings()")
    # conftest: periods of 64 frames at 48,000 Hz
    assert told.startswith(
        "the sound output 'system (JACK Audio Connection Kit)' asks for sound only 1 ms ahead"
    )


def opening(environment: dict[str, str], settings: str) -> str:
    """What is told when a program of its own opens the sound output with these settings."""
    code = (
        "from midifret.clock import RealClock\nfrom midifret.gear import ClickSettings\n"
        "from midifret.wire.sound_device import open_sound_click\n"
        "from midifret.terms import Unavailable\n"
        f"try: open_sound_click({settings}, RealClock())\n"
        "except Unavailable as error: print(error)\n"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=environment, timeout=60, check=True
    )
    assert told.stderr == ""
    return told.stdout


def test_the_sound_device_that_is_not_there_is_told_with_those_that_are(jack_environment):
    told = opening(jack_environment, "ClickSettings(device='Gramophone')")
    assert told.startswith("no sound output has 'Gramophone' in its name (there are: 'system (JACK")


# The run goes on for four seconds whatever becomes of the server, and then the program ends.
DYING = """
from midifret.clock import RealClock
from midifret.gear import ClickSettings
from midifret.wire.sound_device import open_sound_click
clock = RealClock()
click = open_sound_click(ClickSettings(), clock)
print("open", flush=True)
end_s = clock.now_s() + 4
while clock.now_s() < end_s:
    click.due(clock.now_s())
    clock.wait_s(0.001)
print(click.trouble, flush=True)
click.close()
"""


def test_the_server_dies_and_the_program_still_ends():
    with running_server(f"{SERVER}-async") as server:
        subprocess.run(["jack_bufsize", "1024"], capture_output=True, check=True)
        player = subprocess.Popen(
            [sys.executable, "-c", DYING], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        try:
            assert player.stdout.readline() == "open\n"
            server.kill()
            server.wait(10)
            out, err = player.communicate(timeout=20)
        finally:
            player.kill()
            player.wait()
    assert out.startswith("The sound output has stopped (system (JACK")
    assert (player.returncode, err) == (0, "")

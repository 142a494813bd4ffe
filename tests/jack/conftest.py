"""A JACK server with its dummy driver, for tests that use real MIDI ports."""

import os
import shutil
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

SERVER = (
    "midifret-test"  # one fixed name: a machine has eight slots, and a server that dies badly keeps its own
)
DEADLINE_S = 5.0


def why_not() -> str | None:
    """Why no JACK server can be used here, or None."""
    if shutil.which("jackd") is None:
        return "jackd is not installed"
    try:
        import rtmidi
    except ImportError:
        return "python-rtmidi is not installed (rtmidi2's wheels carry a JACK too old for this server)"
    if rtmidi.API_UNIX_JACK not in rtmidi.get_compiled_api():
        return "this build of python-rtmidi has no JACK"
    return None


def wait_until(holds: Callable[[], object], what: str, deadline_s: float = DEADLINE_S) -> None:
    """Ask again until something holds; fail the test after the deadline."""
    end_s = time.monotonic() + deadline_s
    while not holds():
        if time.monotonic() > end_s:
            pytest.fail(f"not within {deadline_s} s: {what}")
        time.sleep(0.002)


@contextmanager
def running_server(name: str, *options: str) -> Iterator[subprocess.Popen[bytes]]:
    """Run a JACK server of that name, and tell it and JACK to this process and its children meanwhile.

    Close every client before the end: a server loses its slot where clients die with it.
    """
    reason = why_not()
    if reason is not None:
        pytest.skip(reason)
    command = ["jackd", *options, "--no-realtime", "-n", name, "-d", "dummy", "-r", "48000", "-p", "64"]
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JACK_DEFAULT_SERVER", name)
        patch.setenv("MIDIFRET_MIDI_SYSTEM", "JACK")
        server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            wait_until(lambda: server.poll() is not None or _answers(), "the JACK server answers")
            if server.poll() is not None:
                pytest.skip(f"jackd ended at once with {server.returncode}")
            yield server
        finally:
            if server.poll() is None:
                server.send_signal(signal.SIGINT)
                try:
                    server.wait(DEADLINE_S)
                except subprocess.TimeoutExpired:
                    server.kill()
                    server.wait()


@pytest.fixture(scope="session")
def jack_server() -> Iterator[str]:
    """The name of a JACK server that waits for its clients, so that nothing is lost on a busy machine."""
    with running_server(SERVER, "-S"):
        yield SERVER


def _answers() -> bool:
    from midifret.terms import Unavailable
    from midifret.wire import driver

    try:
        return driver.find_system() is driver.JACK
    except Unavailable:
        return False


@pytest.fixture
def jack_environment(jack_server: str) -> dict[str, str]:
    """The environment in which a subprocess finds the server."""
    return {**os.environ, "JACK_DEFAULT_SERVER": jack_server, "MIDIFRET_MIDI_SYSTEM": "JACK"}

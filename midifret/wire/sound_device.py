"""The one module that knows the sound library, which not everybody has."""

import atexit
import importlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from midifret.clock import Clock
from midifret.gear import ClickSettings
from midifret.terms import Unavailable
from midifret.wire.click_sound import AHEAD_S, SoundClick
from midifret.wire.driver import kept_off_the_screen

_INSTALL = (
    "pip install 'midifret[sound]'; or take a click by MIDI (output: midi), or only the beat on the screen"
)
_INSTALL_ENGINE = "on Debian and Ubuntu: sudo apt install libportaudio2; or output: midi"


# JACK lets no program fill more than its next period, and waits for each. Where that is heard sooner than
# this, an interpreter that is busy for some milliseconds makes all that hangs on the server fail, the guitar
# as well: measured, over 4 s, 17 to 100 times with 128 frames idle, 5 with 512 busy, none with 1,024.
LEAST_AHEAD_S = 0.02
_JACK = "JACK"  # in the name of the sound system
# A running device asks for its first block within a period, 0.1 s at most; how often and how many times it
# is looked for [ours].
_FIRST_BLOCK_STEP_S, _FIRST_BLOCK_STEPS = 0.01, 100


@dataclass(frozen=True, slots=True)
class Device:
    """A sound output. index: in the library's list. name: with the sound system that it belongs to."""

    index: int
    name: str
    channels: int


def open_sound_click(settings: ClickSettings, clock: Clock) -> SoundClick:
    """Open the sound output that the settings name and let it run, silent until clicks are planned.

    Raises Unavailable where the library, its engine or the device is missing, and says what to do.
    """
    library = load_library()
    with kept_off_the_screen():
        device = _device(library, settings.device)
        click = SoundClick(
            device.name,
            clock,
            channels=device.channels,
            volume_percent=settings.volume_percent,
            stuck=lambda: _leave_without_it(library),
        )
        try:
            stream = library.RawOutputStream(
                device=device.index,
                channels=device.channels,
                dtype="float32",
                latency=AHEAD_S,
                callback=click.fill,
            )
            click.start(stream)
        except library.PortAudioError as error:
            click.close()
            raise Unavailable(
                f"the sound output {device.name!r} cannot be opened: {_reason(error)}",
                allowed="close the other program that uses it, or name another device in the settings",
            ) from error
        if _JACK in device.name:
            _refuse_short_periods(click, device, clock)
    return click


def _refuse_short_periods(click: SoundClick, device: Device, clock: Clock) -> None:
    for _ in range(_FIRST_BLOCK_STEPS):
        if click.ahead_s is not None:
            break
        clock.wait_s(_FIRST_BLOCK_STEP_S)
    if click.ahead_s is not None and click.ahead_s < LEAST_AHEAD_S:
        click.close()
        raise Unavailable(
            f"the sound output {device.name!r} asks for sound only {click.ahead_s * 1000:.0f} ms ahead",
            allowed=f"at least {LEAST_AHEAD_S * 1000:.0f} ms: give JACK periods of 1024 frames, name another "
            "device, or take a click by MIDI (output: midi)",
        )


def load_library() -> Any:
    """Import the sound library. Raises Unavailable where it or its engine is missing."""
    try:
        with kept_off_the_screen():
            return importlib.import_module("sounddevice")
    except ImportError:
        raise Unavailable(
            "for a click through the sound card the library sounddevice is missing", allowed=_INSTALL
        ) from None
    except OSError as error:
        raise Unavailable(f"the sound library cannot be used: {error}", allowed=_INSTALL_ENGINE) from None
    except Exception as error:
        if type(error).__name__ != "PortAudioError":  # of a library that could not be imported
            raise
        raise Unavailable(f"the sound system does not answer: {_reason(error)}", allowed=_INSTALL) from None


def _device(library: Any, part: str) -> Device:
    """Choose a device by part of its name, or the system's own. Raises Unavailable, listing them."""
    try:
        systems = [system["name"] for system in library.query_hostapis()]
        devices = tuple(
            Device(
                index, f"{found['name']} ({systems[found['hostapi']]})", min(2, found["max_output_channels"])
            )
            for index, found in enumerate(library.query_devices())
            if found["max_output_channels"] > 0
        )
        usual = library.default.device[1]
    except library.PortAudioError as error:
        raise Unavailable(f"the sound system does not answer: {_reason(error)}", allowed=_INSTALL) from None
    return choose_device(part, devices, usual)


def choose_device(part: str, devices: Sequence[Device], usual: int) -> Device:
    """Return the device that `part` names, case left aside: its whole name, else anywhere in a name.

    usual: index of the one that an empty part takes. Raises Unavailable, listing the devices, where there is
    none or several fit.
    """
    if not devices:
        raise Unavailable(
            "there is no sound output", allowed="plug one in, or take a click by MIDI (output: midi)"
        )
    listed = ", ".join(repr(device.name) for device in devices)
    wanted = part.strip().casefold()
    if not wanted:
        for device in devices:
            if device.index == usual:
                return device
        raise Unavailable("the system has no usual sound output", allowed=f"name one as device: {listed}")
    for fits in (
        [device for device in devices if device.name.casefold() == wanted],
        [device for device in devices if wanted in device.name.casefold()],
    ):
        if len(fits) == 1:
            return fits[0]
        if fits:
            candidates = ", ".join(repr(device.name) for device in fits)
            raise Unavailable(
                f"which one? {part!r} fits {len(fits)} sound outputs", allowed=f"name one of: {candidates}"
            )
    raise Unavailable(f"no sound output has {part!r} in its name", allowed=f"there are: {listed}")


def _leave_without_it(library: Any) -> None:
    """Keep the library from waiting, when the program ends, for a device that does not answer."""
    handler = getattr(library, "_exit_handler", None)  # its only way
    if handler is not None:
        atexit.unregister(handler)


def _reason(error: Exception) -> str:
    return str(error.args[0]) if error.args else type(error).__name__

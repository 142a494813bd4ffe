"""What makes the click of a drill in tempo heard, opened from the settings and the command line."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import click

from midifret.clock import Clock
from midifret.gear import ClickSettings, ClickWay
from midifret.wire.click import AllOf, ClickOutput, SilentClick
from midifret.wire.click_midi import MidiClick, MidiClockOut
from midifret.wire.click_port import open_click_port

Command = TypeVar("Command", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class ClickWishes:
    """What a command line says of the click; None leaves it to the settings."""

    output: ClickWay | None = None
    port: str | None = None
    send_clock: bool | None = None
    volume_percent: int | None = None

    @property
    def unheard(self) -> str:
        """An option by which a click or clock was asked for, for where there is none; else empty."""
        given = {
            f"--click {self.output}": self.output not in (None, ClickWay.OFF),
            "--click-port": self.port is not None,
            "--send-clock": bool(self.send_clock),
            "--volume": self.volume_percent is not None,
        }
        return next((option for option, is_given in given.items() if is_given), "")

    @property
    def given(self) -> str:
        """Any option that was given; else empty."""
        if self.output is ClickWay.OFF:
            return "--click off"
        return "--no-send-clock" if self.send_clock is False else self.unheard

    def over(self, settings: ClickSettings) -> ClickSettings:
        """The settings with the wishes over them. A port that is named without a way means MIDI."""
        output = self.output
        if output is None and self.port is not None and not self.send_clock:
            output = ClickWay.MIDI
        wishes: dict[str, Any] = {
            "output": output,
            "port": self.port,
            "send_clock": self.send_clock,
            "volume_percent": self.volume_percent,
        }
        return replace(settings, **{key: wish for key, wish in wishes.items() if wish is not None})


def click_options(command: Command) -> Command:
    """Add --click, --click-port, --send-clock and --volume; `click_wishes` makes a value of them."""
    ways = click.Choice([way.value for way in ClickWay])
    options = (
        click.option("--click", "click_way", type=ways, default=None, help="How the beat is heard."),
        click.option(
            "--click-port", metavar="PART", default=None, help="Part of the name of the click's MIDI output."
        ),
        click.option(
            "--send-clock/--no-send-clock", default=None, help="Send MIDI clock on the click's port."
        ),
        click.option(
            "--volume", type=click.IntRange(0, 100), default=None, help="Of the click through the sound card."
        ),
    )
    for option in reversed(options):
        command = option(command)
    return command


def click_wishes(
    click_way: str | None, click_port: str | None, send_clock: bool | None, volume: int | None
) -> ClickWishes:
    """Return what the options of `click_options` say, under the names that a command gets them by."""
    return ClickWishes(None if click_way is None else ClickWay(click_way), click_port, send_clock, volume)


def open_click(settings: ClickSettings, clock: Clock) -> ClickOutput:
    """Return what the settings ask for, open and silent. The caller closes it.

    Raises Unavailable where the port, the device or the sound library is missing: it says which there are and
    what to do. Nothing stays open then.
    """
    outputs: list[ClickOutput] = []
    try:
        if settings.output is ClickWay.SOUND:
            from midifret.wire.sound_device import open_sound_click  # only with its library

            outputs.append(open_sound_click(settings, clock))
        if settings.output is ClickWay.MIDI or settings.send_clock:
            port = open_click_port(settings.port, clock)
            if settings.output is ClickWay.MIDI:
                outputs.append(MidiClick(port, settings))
            if settings.send_clock:
                outputs.append(MidiClockOut(port))
    except BaseException:
        for output in outputs:
            output.close()
        raise
    if not outputs:
        return SilentClick()
    return outputs[0] if len(outputs) == 1 else AllOf(outputs)

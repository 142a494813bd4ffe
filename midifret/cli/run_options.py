"""What the commands that listen share: where the guitar is heard, how a run begins, and what clicks."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import click

from midifret.cli.click_output import ClickWishes, click_options, click_wishes
from midifret.cli.gathering import Command, Option, gathered
from midifret.gear.guitar import Guitar
from midifret.session.around import Setting


@dataclass(frozen=True, slots=True)
class RunWishes:
    """What a command line says of a live run; None leaves it to guitar and settings.

    port: part of the name of the guitar's MIDI input. virtual: open a port of that name. countdown_s: whole
    seconds. no_check: without the check of the open strings.
    """

    port: str | None = None
    virtual: bool = False
    countdown_s: int | None = None
    no_check: bool = False
    click: ClickWishes = field(default_factory=ClickWishes)

    @property
    def given(self) -> str:
        """An option that only a live run can heed; empty where none was given."""
        given = {
            "--port": self.port is not None,
            "--virtual": self.virtual,
            "--countdown": self.countdown_s is not None,
            "--no-check": self.no_check,
        }
        found = next((option for option, is_given in given.items() if is_given), "")
        return found or self.click.given

    def port_of(self, guitar: Guitar) -> str:
        """Part of the name of the input to open."""
        return guitar.port if self.port is None else self.port

    def over(self, setting: Setting, *, is_terminal: bool, on_screen: bool, stay: bool) -> Setting:
        """The setting of a run with the wishes over it.

        is_terminal: somebody may be asked to check strings. on_screen: there is a screen to read before the
        run begins; one who says how long to count down needs none. stay: at the end wait for a key.
        """
        return replace(
            setting,
            check_strings=setting.check_strings and is_terminal and not self.no_check,
            countdown_s=setting.countdown_s if self.countdown_s is None else self.countdown_s,
            wait_for_start=setting.wait_for_start and on_screen and self.countdown_s is None,
            stay=stay,
        )


def seed_option(words: str) -> Option:
    """--seed, with what it says of it."""
    return click.option("--seed", type=int, default=None, help=words)


def run_options(*, counted: bool = True) -> Callable[[Command], Command]:
    """Add --port, --virtual, --countdown, --no-check and the options of the click; they become `live`.

    counted: whether the command counts down and checks strings at all.
    """
    options: list[Option] = [
        click.option(
            "--port", metavar="PART", default=None, help="Part of the name of the guitar's MIDI input."
        ),
        click.option(
            "--virtual", is_flag=True, help="Open a port of that name instead, for others to connect to."
        ),
    ]
    if counted:
        options += [
            click.option(
                "--countdown", type=click.IntRange(0, 10), default=None, help="Seconds before the first cue."
            ),
            click.option("--no-check", is_flag=True, help="Leave out the day's check of the open strings."),
        ]

    def made(
        *,
        port: str | None,
        virtual: bool,
        click_way: str | None,
        click_port: str | None,
        send_clock: bool | None,
        volume: int | None,
        countdown: int | None = None,
        no_check: bool = False,
    ) -> RunWishes:
        clicks = click_wishes(click_way, click_port, send_clock, volume)
        return RunWishes(port, virtual, countdown, no_check, clicks)

    names = ["port", "virtual", "click_way", "click_port", "send_clock", "volume"]
    names += ["countdown", "no_check"] if counted else []
    return lambda command: gathered(command, [*options, click_options], names, "live", made)

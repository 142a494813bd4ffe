"""The command line: a table of commands, each imported only when it is called."""

import errno
import importlib
import os
import sys

import click

import midifret

# The module of each is midifret.cli.<name>, the click command in it is `command`.
COMMANDS = {
    "demo": "See it all work: a virtual player plays several drills, nothing to plug in.",
    "drills": "List the drills.",
    "preview": "Print a drill as it will be asked.",
    "page": "Print a score to read from, or a drill as a sheet.",
    "today": "Show what to practise today, and why.",
    "practice": "Play today's session: what is due, what is new, and why.",
    "drill": "Play a drill.",
    "read": "Read a score, every note judged by string and fret.",
    "stand": "Show it all on a page for the music stand.",
    "calibrate": "Measure what guitar, eyes and hands need.",
    "path": "Show the path through the neck and where you stand on it; go on or back.",
    "report": "Show where a player stands.",
    "judge": "Judge a recording of a drill.",
    "replay": "Step through a recording, mistake by mistake.",
    "decode": "Print the notes of a recording with their strings and frets.",
    "check": "Check drill, guitar and settings files.",
    "finger": "Finger a score: string, fret and finger for every note.",
    "ladder": "Show in which positions a score can be read, and in which order to climb.",
    "melody": "Make a melody that you have not seen, for a level and a position.",
    "places": "List where a note can be played.",
    "scores": "List your own scores by level and position.",
    "score": "Show the parts of a score file and in which octave it sounds.",
    "guitars": "List the guitars and tunings that are set up.",
    "setup": "Hook up a guitar by plucking it.",
    "ports": "List the MIDI ports.",
    "monitor": "Show live what is heard.",
    "players": "List, add and delete players.",
    "book": "Back up, export or rebuild the practice book.",
}
INTERRUPTED = 130
_BAD_INPUT = 2
# What a full or failing disk answers to a command whose output goes into a file.
_NOT_WRITTEN = {errno.ENOSPC, errno.EIO, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}


class _LazyGroup(click.Group):
    """A group that imports a command's module only to run it; help needs none of them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"midifret.cli.{cmd_name}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=_LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--home",
    type=click.Path(file_okay=False),
    default=None,
    metavar="DIR",
    help="Keep settings and data in DIR.",
)
@click.version_option(midifret.__version__, prog_name="midifret")
@click.pass_context
def cli(ctx: click.Context, home: str | None) -> None:
    """Practise the guitar neck with a MIDI guitar: every note judged by string and fret."""
    if home == "":  # a variable of the shell that is not set would put the book wherever one stands
        raise click.UsageError("--home names no folder; write . for the one that you are in")
    ctx.obj = home


def main(arguments: list[str] | None = None) -> None:
    """Run one command and exit: 0 done, 1 gate not met or nothing heard, 2 bad input, 130 interrupted."""
    sys.exit(run(sys.argv[1:] if arguments is None else arguments))


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code; errors a person can cause are told without a traceback."""
    try:
        code = cli.main(arguments, prog_name="midifret", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (KeyboardInterrupt, click.Abort):
        click.echo("Interrupted.", err=True)
        return INTERRUPTED
    except OSError as error:
        if error.errno not in _NOT_WRITTEN:
            raise
        _drop_output()
        click.echo(
            f"midifret: the output cannot be written: {error.strerror} (make room on the disk)", err=True
        )
        return _BAD_INPUT
    except Exception as error:
        from midifret.terms.errors import MidifretError  # not before: `--help` does without it

        if not isinstance(error, MidifretError):
            raise
        click.echo(f"midifret: {error}", err=True)
        return error.exit_code
    return code if isinstance(code, int) else 0


def _drop_output() -> None:
    """Send what is still held for standard output nowhere, so that closing it does not fail once more."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
    except (OSError, ValueError, AttributeError):  # standard output is closed or is no file
        return

"""`midifret setup`: hook up a guitar by plucking it, and write its file."""

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import click
from rich.console import Console

from midifret.cli.app import App, app_of, json_option, print_document, warn
from midifret.cli.main import INTERRUPTED
from midifret.clock import Clock, RealClock
from midifret.files import Home
from midifret.gear import Guitar, guitar_names, load_guitar, load_tunings, shipped_guitar
from midifret.gear.write import choose_guitar, guitar_text, is_guitar_name, write_guitar
from midifret.session.around import Source
from midifret.session.hook_up import HookedUp, HookUp, Setup, Showing
from midifret.session.live import POLL_S
from midifret.show.drill_screen import has_screen
from midifret.show.setup_screen import SetupLines, SetupScreen, open_setup_view
from midifret.terms import BadInput, Unavailable
from midifret.wire.ports import open_source

# A screen that is drawn ten times a second seems to follow at once [ours].
_REFRESH_S = 0.1
_USUAL_STRINGS = 6
_NEW_NAME = "my-guitar"


@click.command("setup")
@click.option(
    "--guitar",
    metavar="NAME",
    default=None,
    help="The guitar to set up, a new name or one there is; else you are asked at the end.",
)
@click.option(
    "--strings",
    type=click.IntRange(6, 8),
    default=None,
    help="How many strings it has, 6 to 8; else 6, or as many as the guitar of that name has.",
)
@click.option("--port", metavar="PART", default=None, help="Part of the name of the guitar's MIDI input.")
@json_option
@click.pass_context
def command(
    context: click.Context, guitar: str | None, strings: int | None, port: str | None, as_json: bool
) -> int:
    """Hook up a guitar by plucking it, and write its file.

    You pluck the open strings, the lowest first, then fret 12 of one, slide on it, keep still, and touch the
    strings. From this come channels, tuning, bend range and what counts as noise. Nothing is written before
    you say so; what the file says can be edited afterwards.
    """
    app = app_of(context)
    console = Console(stderr=as_json)
    _needs_terminal(console)
    setup = _setup(app, guitar, strings, port)
    clock = RealClock()
    source = open_source(setup.written_port, clock)
    try:
        setup = replace(setup, port=source.name)
        with open_setup_view(console, drawn=has_screen(console)) as view:
            hook_up = HookUp(setup, clock.now_s())
            interrupted = not listen(hook_up, source, clock, view)
    finally:
        source.close()
    if hook_up.result is not None:
        return _write(hook_up.result, app.home, as_json=as_json)
    if as_json:
        print_document(setup_document(None, (), settings_changed=False))
    click.echo("Nothing was written.", err=True)
    if interrupted:
        return INTERRUPTED
    if not hook_up.heard:
        warn("nothing was heard")
        return 1
    return 0


def _needs_terminal(console: Console) -> None:
    if not console.is_terminal or not sys.stdin.isatty():
        raise BadInput(
            "setup needs a terminal, to show what to pluck and to read keys",
            allowed="start it in a terminal window, without a pipe",
        )


def _setup(app: App, name: str | None, strings: int | None, port: str | None) -> Setup:
    """What hooking up has to know: the gear there is already. Raises BadInput for an impossible name."""
    if name is not None and not is_guitar_name(name):
        raise BadInput(
            f"a guitar cannot be called {name!r}",
            allowed="letters, digits, hyphens and underscores, at most 40 of them",
        )
    chosen = app.settings.guitar
    base = _base(app, name or chosen)
    is_new = name is not None and base.name != name
    usual = _USUAL_STRINGS if name is None or is_new else base.neck.strings
    return Setup(
        strings=strings if strings is not None else min(max(usual, 6), 8),
        tunings=load_tunings(app.home),
        base=base,
        name=name or (chosen if chosen != "default" else _NEW_NAME),
        taken=frozenset(path.stem for path in app.home.guitars.glob("*.yaml")),
        chosen=chosen,
        port="",
        written_port=port if port is not None else "" if is_new else base.port,
        is_name=is_guitar_name,
        language=app.settings.language,
    )


def _base(app: App, name: str) -> Guitar:
    """The guitar of that name, for what plucking does not tell; as shipped where there is none."""
    if name in guitar_names(app.home):
        try:
            return load_guitar(name, app.home)
        except BadInput as error:
            warn(f"{error}; its pedals and signals are left aside")
    return shipped_guitar()


def listen(hook_up: HookUp, source: Source, clock: Clock, view: SetupScreen | SetupLines) -> bool:
    """Let the player be heard and asked until all is said; False where Ctrl-C ended it."""
    source.poll()  # what lay in the queue before
    shown: Showing | None = None
    drawn_s = -1.0
    while not hook_up.done:
        for message in source.poll():
            hook_up.hear(message)
        now_s = clock.now_s()
        hook_up.tick(now_s)
        keys = view.keys()
        for key in keys:
            if key == "ctrl-c":
                return False
            hook_up.key(key, now_s)
        if shown is None or now_s - drawn_s >= _REFRESH_S:
            shown, drawn_s = hook_up.showing(now_s), now_s
            view.show(shown)
            if not source.connected():
                raise Unavailable(
                    "the guitar's MIDI port has gone; nothing was written",
                    allowed="plug it in again; midifret ports shows it then",
                )
        clock.wait_s(POLL_S)
    return True


def _write(found: HookedUp, home: Home, *, as_json: bool) -> int:
    guitar = found.guitar
    remarks = (
        f"The guitar {guitar.name}, as `midifret setup` found it:",
        *(f"  {line}" for line in found.found),
        "Edit any line; `midifret check` with the name of this file tells what is wrong with it.",
    )
    try:
        written = write_guitar(guitar, home, remarks=remarks, new_tuning=found.new_tuning)
    except BadInput:
        click.echo(guitar_text(guitar, remarks=remarks), err=True)  # so that nothing has to be plucked again
        raise
    if found.choose:
        written = (*written, choose_guitar(guitar.name, home))
    if as_json:
        print_document(setup_document(found, written, settings_changed=found.choose))
        return 0
    for path in written:
        click.echo(f"Written: {path}")
    option = "" if found.choose else f" --guitar {guitar.name}"
    click.echo(f"See whether every note is heard as you play it: midifret monitor{option}")
    return 0


def setup_document(
    found: HookedUp | None, written: tuple[Path, ...], *, settings_changed: bool
) -> dict[str, Any]:
    """What `setup --json` prints: what was found, channels 1 to 16, and the files written."""
    if found is None:
        return {"guitar": None, "written": []}
    guitar, wiring = found.guitar, found.guitar.wiring
    per_string = [wiring.channel_of(s) + 1 for s in range(1, guitar.neck.strings + 1)]
    controllers = wiring.controller_channel
    return {
        "guitar": guitar.name,
        "written": [str(path) for path in written],
        "settings_changed": settings_changed,
        "encoding": wiring.encoding.value,
        "channels": per_string if wiring.knows_strings else None,
        "controller_channel": None if controllers is None else controllers + 1,
        "tuning": guitar.neck.tuning.name,
        "open_midi": list(guitar.neck.tuning.open_midi),
        "capo": guitar.neck.capo,
        "transpose_semitones": wiring.transpose_semitones,
        "bend_range_semitones": wiring.bend_range_semitones,
        "soft_velocity": wiring.thresholds.soft_velocity,
        "found": list(found.found),
    }

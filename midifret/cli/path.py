"""`midifret path`: the two strands of the method, where a player stands, and how to change that."""

import datetime as dt
import difflib
from pathlib import Path

import click
import tzlocal
from rich.console import Console

from midifret.book.day import practice_day
from midifret.cli.app import App, app_of, guitar_option, json_option, player_option, print_document, warn
from midifret.cli.planning import BY_PLAYER, path_on
from midifret.cli.running import known_player
from midifret.cli.today import read_planning, set_by
from midifret.drills.library import entries
from midifret.gear.path import load_assignment
from midifret.practice import MethodPath, Strand
from midifret.show.path_rows import PathView, path_document, path_rows
from midifret.show.report import print_rows
from midifret.terms import BadInput, Unavailable


@click.command("path")
@click.option("--rows", metavar="STAGE", default=None, help="Go to this stage of the rows, forwards or back.")
@click.option("--reading", metavar="STAGE", default=None, help="Go to this stage of the reading.")
@click.option("--by-gates", is_flag=True, help="Let the gates decide again in both strands.")
@click.option(
    "--assign",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    metavar="FILE",
    help="Take in what a teacher sets; it is checked first.",
)
@click.option("--overwrite", is_flag=True, help="Write over an assignment of the same name.")
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    rows: str | None,
    reading: str | None,
    by_gates: bool,
    assign: Path | None,
    overwrite: bool,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """Show the path through the neck: what holds, where you stand, and what the next stage still waits for.

    A stage that you set holds until its gate is met from then on; those before it count as held. What a
    teacher sets goes before. Stages stand in config/path.yaml; a path.yaml of your own goes before it.
    """
    if by_gates and (rows is not None or reading is not None):
        raise click.UsageError("--by-gates and a stage: one or the other")
    if overwrite and assign is None:
        raise click.UsageError("--overwrite is for an assignment: it needs --assign FILE")
    app = app_of(context)
    neck = app.guitar(guitar).neck
    wanted = {Strand.ROWS: rows, Strand.READING: reading}
    if by_gates:
        wanted = dict.fromkeys(Strand, "")
    path = path_on(app.home, neck, {entry.name for entry in entries(app.home)})
    for strand, stage in wanted.items():
        if stage:
            _check_stage(path, strand, stage)
    if assign is not None:
        target = take_in(app, path, assign, overwrite=overwrite)
        click.echo(f"Taken in: {target}", err=as_json)
    if any(stage is not None for stage in wanted.values()):
        _set(app, player, wanted)
    planning = read_planning(app, player, neck)
    view = PathView(planning.player, planning.path, planning.standing, planning.shown, set_by(planning))
    for error in planning.left_out:
        warn(f"left out: {error}")
    for remark in planning.remarks:
        warn(remark)
    if as_json:
        print_document(path_document(view))
        return 0
    console = Console()
    print_rows(console, path_rows(view, console.width))
    return 0


def take_in(app: App, path: MethodPath, file: Path, *, overwrite: bool = False) -> Path:
    """Check an assignment and copy it into the folder of assignments; return where it is now.

    Raises BadInput for one with faults, one that is over, and one of a name that is taken.
    """
    drills = {entry.name for entry in entries(app.home)}
    if file.suffix not in (".yaml", ".yml"):
        raise BadInput(f"{file} cannot be taken in", allowed="a file that ends in .yaml")
    content = load_assignment(file, path, drills, app.home.score_names())
    today = practice_day(dt.datetime.now(dt.UTC), tzlocal.get_localzone_name())
    if not content.holds_on(today):
        raise BadInput(
            f"the assignment in {file} was until {content.until.isoformat()}, and today is {today}",
            allowed="a date from today on",
        )
    target = app.home.writable(app.home.assignments) / file.name
    try:
        if target.exists() and not overwrite and not target.samefile(file):
            raise BadInput(f"{target} exists already", allowed="--overwrite, or a file of another name")
        if not target.exists() or not target.samefile(file):
            part = target.with_name(f".{target.name}.part")
            part.write_bytes(file.read_bytes())
            part.replace(target)
    except OSError as error:
        raise Unavailable(
            f"{target} cannot be written ({error.strerror})",
            allowed="give yourself the right to write in that folder, or make room on its disk",
        ) from None
    return target


def _set(app: App, player: str | None, wanted: dict[Strand, str | None]) -> None:
    now_utc, zone = dt.datetime.now(dt.UTC), tzlocal.get_localzone_name()
    with app.open_book() as book:
        name = known_player(book, app, player)
        for strand, stage in wanted.items():
            if stage is not None:
                book.put_stage(name, strand.value, stage, by=BY_PLAYER, set_utc=now_utc, zone=zone)


def _check_stage(path: MethodPath, strand: Strand, name: str) -> None:
    """Raise BadInput for a stage that a strand has not, naming those that it has."""
    names = [stage.name for stage in path.strand(strand)]
    if name in names:
        return
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
    hint = f"; did you mean {near[0]}?" if near else ""
    raise BadInput(f"--{strand}: there is no stage {name!r} of {strand}{hint}", allowed=", ".join(names))

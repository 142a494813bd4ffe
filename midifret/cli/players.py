"""midifret players: list, add and delete players."""

import datetime as dt
from pathlib import Path

import click

from midifret.book.book import Book, Deleted, Player, player_name
from midifret.cli.app import app_of, json_option, print_document
from midifret.gear.settings import DEMO_PLAYER
from midifret.terms import BadInput, Unavailable


@click.command("players")
@click.option("--add", "added", metavar="NAME", help="Add a player.")
@click.option("--delete", "deleted", metavar="NAME", help="Delete a player with everything the book holds.")
@click.option("--yes", is_flag=True, help="Delete without asking.")
@json_option
@click.pass_context
def command(
    context: click.Context, *, added: str | None, deleted: str | None, yes: bool, as_json: bool
) -> None:
    """List the players of the practice book, or add or delete one."""
    if added is not None and deleted is not None:
        raise BadInput("--add and --delete do not go together", allowed="one of them")
    app = app_of(context)
    with app.open_book() as book:
        if added is not None:
            if player_name(added) == DEMO_PLAYER:
                raise BadInput(
                    f"{DEMO_PLAYER!r} is the virtual player of midifret demo", allowed="choose another name"
                )
            name = book.add_player(added, created_utc=dt.datetime.now(dt.UTC))
            click.echo(f"Added {name}.", err=as_json)
        if deleted is not None and not _delete(book, app.home.takes, deleted, yes=yes, to_stderr=as_json):
            return
        if as_json:
            print_document(_document(book.players()))
        elif added is None and deleted is None:
            _list(book.players())


def _list(players: tuple[Player, ...]) -> None:
    if not players:
        click.echo("No players yet. Add one with: midifret players --add NAME")
        return
    width = max(len("Player"), *(len(player.name) for player in players))
    click.echo(f"{'Player':<{width}}  {'Runs':>6}  {'Answers':>8}  {'Minutes':>8}  Last played")
    for player in players:
        minutes = f"{player.minutes:>8.0f}"
        last = player.last_day.isoformat() if player.last_day else "never"
        mark = "  (simulated)" if player.simulated else ""
        click.echo(f"{player.name:<{width}}  {player.runs:>6}  {player.answers:>8}  {minutes}  {last}{mark}")


def _document(players: tuple[Player, ...]) -> dict[str, object]:
    return {
        "players": [
            {
                "name": player.name,
                "simulated": player.simulated,
                "created_utc": player.created_utc.isoformat(),
                "runs": player.runs,
                "answers": player.answers,
                "minutes": round(player.minutes, 2),
                "last_day": player.last_day.isoformat() if player.last_day else None,
            }
            for player in players
        ]
    }


def _delete(book: Book, folder: Path, name: str, *, yes: bool, to_stderr: bool) -> bool:
    """Show what would go, ask, and delete; return whether it was done."""
    planned = book.to_delete(name)
    takes = _takes(folder, planned)
    click.echo(
        f"Deleting {planned.player} deletes {planned.runs} runs with {planned.answers} answers "
        f"and {len(takes)} files in {folder}.",
        err=to_stderr,
    )
    if not yes and not click.confirm("Delete all this for good?", err=to_stderr):
        click.echo("Nothing was deleted.", err=to_stderr)
        return False
    deleted = book.delete_player(name)
    left = []
    for take in _takes(folder, deleted):
        try:
            take.unlink(missing_ok=True)
        except OSError as error:
            left.append(f"{take} ({error.strerror})")
    click.echo(f"Deleted {deleted.player}.", err=to_stderr)
    if deleted.backups:
        names = ", ".join(str(backup) for backup in deleted.backups)
        click.echo(f"Older backups of the book still hold {deleted.player}: {names}", err=to_stderr)
    if left:
        raise Unavailable(
            f"{deleted.player} is deleted from the book, but some takes could not be: " + ", ".join(left),
            allowed="delete these files yourself",
        )
    return True


def _takes(folder: Path, deleted: Deleted) -> list[Path]:
    """Return the takes that are there; a name that leads out of the takes folder is nobody's take."""
    names = [name for name in deleted.take_files if Path(name).name == name and name not in (".", "..")]
    return [folder / name for name in names if (folder / name).is_file()]

"""What the commands share: the home folder, settings and guitar that hold, and printing."""

import json
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, TypeVar

import click

from midifret.files import Home
from midifret.gear import Settings, load_guitar, load_settings
from midifret.gear.guitar import Guitar
from midifret.neck import Neck
from midifret.terms import Exercise

if TYPE_CHECKING:
    from midifret.book.book import Book

Command = TypeVar("Command", bound=Callable[..., Any])


@dataclass(frozen=True)
class App:
    """One call of the program: where its files lie and what its settings say."""

    home: Home

    @cached_property
    def settings(self) -> Settings:
        """The settings; read when first asked for."""
        return load_settings(self.home)

    def guitar(self, name: str | None) -> Guitar:
        """Return the guitar of that name, or the one that the settings name."""
        return load_guitar(name or self.settings.guitar, self.home)

    def open_book(self) -> "Book":
        """Open the practice book that the settings name: the home folder's own, or a database_url."""
        from midifret.book.book import Book  # many commands do without it

        return Book.open(self.settings.database_url or self.home.book)

    def exercise(self, drill: str, neck: Neck, *, seed: int) -> Exercise:
        """Return a drill, by name or by file, as the exercise it is on this neck.

        What a drill in tempo does not say of count-in and clicks is as the settings say.
        """
        from midifret.drills import build  # likewise
        from midifret.drills.library import find

        found = find(drill, self.home)
        exercise = build(found, neck, seed=seed)
        tempo, asked = exercise.tempo, found.content.tempo
        if tempo is None or asked is None:
            return exercise
        if asked.count_in is None:
            tempo = replace(tempo, count_in=self.settings.click.count_in_beats)
        if asked.subdivisions is None:
            tempo = replace(tempo, parts=self.settings.click.subdivisions)
        return replace(exercise, tempo=tempo)


def app_of(context: click.Context) -> App:
    """Return the app of a command's context."""
    return App(Home.of(context.obj))


def guitar_option(command: Command) -> Command:
    """Add --guitar."""
    text = "The guitar to use; `midifret guitars` lists them."
    return click.option("--guitar", metavar="NAME", default=None, help=text)(command)


def player_option(command: Command) -> Command:
    """Add --player."""
    text = "Whose practice book; `midifret players` lists them."
    return click.option("--player", metavar="NAME", default=None, help=text)(command)


def json_option(command: Command) -> Command:
    """Add --json."""
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")(command)


def print_document(document: Any) -> None:
    """Print one JSON document on standard output, and nothing else; nowhere if that is closed."""
    if sys.stdout is None:  # closed before the start (sys.__stdout__ in Python's documentation)
        return
    json.dump(document, sys.stdout, ensure_ascii=False, indent=1)
    sys.stdout.write("\n")
    sys.stdout.flush()  # what cannot be written is told here, not when the program has ended


def warn(message: str) -> None:
    """Tell the person something on standard error."""
    click.echo(f"midifret: {message}", err=True)

"""`midifret check`: the files that people write, every problem with line and column."""

from pathlib import Path
from typing import Any

import click

from midifret.cli.app import App, app_of, guitar_option, json_option, print_document
from midifret.drills import library
from midifret.drills.models import DrillFile
from midifret.files import Document, read_document
from midifret.gear import check_guitar, check_settings, check_tunings, load_tunings
from midifret.gear.fingering import check_weights
from midifret.gear.melody import check_levels
from midifret.gear.models import GuitarFile, SettingsFile
from midifret.gear.path import check_assignment, check_path, load_path
from midifret.gear.thresholds import ThresholdsFile, check_thresholds
from midifret.terms import BadInput, Problem

FAULTY = 2


@click.command("check")
@click.argument("files", nargs=-1, metavar="FILE...")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of a drill file, for editors.")
@guitar_option
@json_option
@click.pass_context
def command(
    context: click.Context, files: tuple[str, ...], schema: bool, guitar: str | None, as_json: bool
) -> int:
    """Check drill, guitar, tuning, settings, thresholds, fingering, melody and path files and assignments.

    All problems are told at once. Drills are checked against the guitar named, or else that of the settings.
    """
    if schema:
        print_document(drill_schema())
        return 0
    if not files:
        raise click.UsageError("name at least one file, or --schema")
    app = app_of(context)
    if guitar is not None:
        app.guitar(guitar)  # a name that there is not is told at once
    found = [(file, _check(file, app, guitar)) for file in files]
    if as_json:
        print_document(check_document(found))
    else:
        for file, problems in found:
            for line in [str(problem) for problem in problems] or [f"{file}: no problems"]:
                click.echo(line)
    return FAULTY if any(problems for _, problems in found) else 0


def drill_schema() -> dict[str, Any]:
    """Return the JSON Schema of a drill file."""
    dialect = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return dialect | DrillFile.model_json_schema(by_alias=True, mode="validation")


def check_document(found: list[tuple[str, tuple[Problem, ...]]]) -> dict[str, Any]:
    """What `check --json` prints: for each file whether it is in order, and its problems."""
    return {
        "files": [
            {
                "file": file,
                "ok": not problems,
                "problems": [
                    {
                        "line": problem.line,
                        "column": problem.column,
                        "key": problem.key,
                        "message": problem.message,
                        "allowed": problem.allowed,
                    }
                    for problem in problems
                ],
            }
            for file, problems in found
        ]
    }


def _check(file: str, app: App, guitar: str | None) -> tuple[Problem, ...]:
    try:
        return _problems(read_document(Path(file), file), app, guitar)
    except BadInput as error:
        own = tuple(problem for problem in error.problems if problem.file == file)
        message = error.message.removeprefix(f"{file}: ")
        if error.problems and not own:  # in another file, on which this one rests
            message = f"it cannot be checked: {message}"
        return own or (Problem(file, None, None, "", message, error.allowed),)


def _problems(document: Document, app: App, guitar: str | None) -> tuple[Problem, ...]:
    kind = _kind(document)
    if kind == "guitar":
        tunings = load_tunings(app.home)
        return check_guitar(document, tunings, name=Path(document.file).stem)[1]
    if kind == "tunings":
        return check_tunings(document)[1]
    if kind == "settings":
        return check_settings(document)[1]
    if kind == "thresholds":
        return check_thresholds(document)[1]
    if kind == "fingering":
        return check_weights(document)[1]
    if kind == "melody":
        return check_levels(document)[1]
    if kind in ("path", "assignment"):
        drills = [entry.name for entry in library.entries(app.home)]
        if kind == "path":
            return check_path(document, drills)[1]
        return check_assignment(document, load_path(app.home, drills), drills, app.home.score_names())[1]
    return library.check(document, app.guitar(guitar).neck, app.home)


def _kind(document: Document) -> str:
    """Tell what a file is by where it lies, else by the keys that it has."""
    path = Path(document.file)
    if path.stem in ("settings", "tunings", "thresholds", "fingering", "melody", "path"):
        return path.stem
    folder = path.absolute().parent.name
    if folder in ("guitars", "assignments"):
        return folder.removesuffix("s")
    keys = set(document.root.value) if isinstance(document.root.value, dict) else set()
    values = document.root.value.values() if isinstance(document.root.value, dict) else ()
    if "ask" in keys or {"stage", "trains", "judge"} & keys:
        return "drill"
    if keys == {"levels"}:
        return "melody"
    if "reading_after" in keys:
        return "path"
    if "until" in keys:
        return "assignment"
    if {"tuning", "channels", "signals", "controls"} & keys:
        return "guitar"
    if keys and all(isinstance(value.value, dict) and "strings" in value.value for value in values):
        return "tunings"
    if keys and keys <= set(ThresholdsFile.model_fields):
        return "thresholds"
    settings_only = (
        set(SettingsFile.model_fields) - set(GuitarFile.model_fields) - {"language", "accidentals"}
    )
    if keys & settings_only or (keys and keys <= set(SettingsFile.model_fields)):
        return "settings"
    return "drill"

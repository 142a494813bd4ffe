"""`midifret check`: drill, guitar, tunings and settings files checked, all problems in one pass."""

import json
from pathlib import Path
from typing import Any

import click

from midifret.cli.app import App, app_of, guitar_option, json_option, print_document
from midifret.drills.library import check as check_drill
from midifret.drills.models import DrillFile
from midifret.files import Document, read_document
from midifret.gear import check_guitar, check_settings, check_tunings, load_tunings
from midifret.neck import Neck
from midifret.terms import BadInput, Problem


@click.command("check")
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option("--schema", is_flag=True, help="Print the JSON Schema of a drill file, for editors.")
@guitar_option
@json_option
@click.pass_context
def command(
    context: click.Context, files: tuple[Path, ...], schema: bool, guitar: str | None, as_json: bool
) -> int:
    """Check FILES: drills, guitars, tunings or settings, told apart by what is in them.

    Each problem is told with file, line and column; the exit code is 2 if there is any. A drill is checked
    against the guitar as well.
    """
    if schema:
        click.echo(json.dumps(drill_schema(), ensure_ascii=False, indent=1))
        return 0
    if not files:
        raise click.UsageError("name the files to check, or ask for --schema")
    app = app_of(context)
    neck = app.guitar(guitar).neck
    found = [(path, _problems(path, app, neck)) for path in files]
    if as_json:
        print_document({"files": [_document(path, problems) for path, problems in found]})
    else:
        for path, problems in found:
            for problem in problems:
                click.echo(str(problem))
            if not problems:
                click.echo(f"{path}: good")
    return 2 if any(problems for _, problems in found) else 0


def drill_schema() -> dict[str, Any]:
    """The JSON Schema of a drill file, made from the model that checks it."""

    return DrillFile.model_json_schema(by_alias=True, mode="validation")


def _problems(path: Path, app: App, neck: Neck) -> tuple[Problem, ...]:
    try:
        document = read_document(path)
    except BadInput as error:
        return error.problems or (Problem(str(path), None, None, "", error.message, error.allowed),)
    keys = set(document.root.value) if isinstance(document.root.value, dict) else set()
    if _is_tunings(document):
        return check_tunings(document)[1]
    if "channels" in keys or "tuning" in keys:
        return check_guitar(document, load_tunings(app.home), name=path.stem)[1]
    if path.name == "settings.yaml" or keys & {"player", "database_url", "countdown_s"}:
        return check_settings(document)[1]
    return check_drill(document, neck, app.home)


def _is_tunings(document: Document) -> bool:
    """Whether every value is a tuning: a mapping that has strings, and no drill's question has that alone."""
    root = document.root.value
    if not isinstance(root, dict) or not root or "ask" in root:
        return False
    return all(isinstance(node.value, dict) and "strings" in node.value for node in root.values())


def _document(path: Path, problems: tuple[Problem, ...]) -> dict[str, Any]:
    return {
        "file": str(path),
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

"""`midifret ladder`: the same music in successive positions, and where one stands on the way up."""

from pathlib import Path
from typing import Any

import click

from midifret.cli.app import App, app_of, guitar_option, json_option, player_option, print_document
from midifret.cli.score_options import ScoreWishes, read_asked, score_options
from midifret.fingering.ladder import MOST_EFFORT, MOST_OUTSIDE, NotYet, Rung, climb
from midifret.gear.fingering import load_weights
from midifret.reading.build import position_name, reading_name
from midifret.show.words import counted
from midifret.terms.figures import ReadingMark
from midifret.terms.score import Score

_LAST = {
    NotYet.OUTSIDE: f"more than {MOST_OUTSIDE:.0%} of what can be played lies outside",
    NotYet.EFFORT: f"more than {MOST_EFFORT:g} times the effort of the middle one of these positions",
    NotYet.NOTHING: "no note of it can be played there",
}


@click.command("ladder")
@click.argument("score", type=click.Path(path_type=Path))
@score_options
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    score: Path,
    wishes: ScoreWishes,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """Show in which positions SCORE can be read, how hard each is, and in which order to climb.

    From position I on an open string is played only where the note is nowhere else in reach; where the hand
    has to leave the position for a note, that is counted. `midifret finger SCORE --position N` fingers it in
    one of them, `midifret read SCORE --position N` has it read.
    """
    app = app_of(context)
    read, neck = read_asked(app, score, wishes, app.guitar(guitar).neck)
    rungs = climb(read, neck, load_weights(app.home))
    marks = _marks(app, player, read)
    if as_json:
        print_document(ladder_document(read, rungs, marks))
        return 0
    for line in ladder_lines(read, rungs, marks):
        click.echo(line)
    return 0


def _marks(app: App, player: str | None, score: Score) -> dict[str, ReadingMark]:
    """How often the score was read in each position, and how well at best, by the reading's name."""
    if not app.settings.database_url and not app.home.book.exists():
        return {}
    with app.open_book() as book:
        name = player or app.settings.player
        if player is None and name not in {known.name for known in book.players()}:
            return {}
        stem = reading_name(score, 0).rpartition("@")[0]
        return {mark.drill: mark for mark in book.reading_marks(name, f"{stem}@")}


def ladder_document(score: Score, rungs: tuple[Rung, ...], marks: dict[str, ReadingMark]) -> dict[str, Any]:
    """The ladder as JSON.

    title, notes; rungs by position: position (0 is open), roman, order (null: comes last), not_yet (why:
    nothing, outside or effort; null where it has an order), whole, notes, in_reach, open_strings, stretches,
    outside, left_out, shifts, effort (cost a note), times_easiest (the same, 1 for the
    easiest that has an order), times_read, best_accuracy (null: never read).
    """
    found = []
    easiest = _easiest(rungs)
    for rung in rungs:
        mark = marks.get(reading_name(score, rung.position))
        found.append(
            {
                "position": rung.position,
                "roman": position_name(rung.position),
                "order": rung.order,
                "not_yet": None if rung.not_yet is None else rung.not_yet.value,
                "whole": rung.whole,
                "notes": rung.notes,
                "in_reach": rung.in_reach,
                "open_strings": rung.open_strings,
                "stretches": rung.stretches,
                "outside": rung.outside,
                "left_out": rung.left_out,
                "shifts": rung.fingering.shifts,
                "effort": round(rung.effort, 4),
                "times_easiest": round(rung.effort / easiest, 2) if easiest else None,
                "times_read": 0 if mark is None else mark.times,
                "best_accuracy": None if mark is None else round(mark.best_accuracy, 4),
            }
        )
    return {"title": score.title, "notes": len(score.notes), "rungs": found}


def ladder_lines(score: Score, rungs: tuple[Rung, ...], marks: dict[str, ReadingMark]) -> list[str]:
    """The same for people, in the order of climbing; what has no place in it stands last, with the reason."""
    easiest = _easiest(rungs)
    climbed = sorted((rung for rung in rungs if rung.order), key=lambda rung: rung.order or 0)
    lines = [f"{score.title or score.source}, {counted(len(score.notes), 'note')}"]
    lines.append("climb  position  in reach  open  stretches  outside  shifts  effort  read")
    lines += [_row(f"{rung.order:>5}", score, rung, easiest, marks) for rung in climbed]
    for not_yet, why in _LAST.items():
        last = [rung for rung in rungs if rung.not_yet is not_yet]
        if last:
            lines.append(f"Last, if ever: {why}")
            lines += [_row("    -", score, rung, easiest, marks) for rung in last]
    lines.append("Effort: of the hand, the easiest position being 1. Shifts: changes of position.")
    no_hand = ", or no hand can play the note" if any(rung.left_out for rung in rungs) else ""
    lines.append(f"Outside: the hand has to leave the position{no_hand}.")
    return lines


def _easiest(rungs: tuple[Rung, ...]) -> float:
    return min((rung.effort for rung in rungs if rung.order is not None), default=0.0)


def _row(begin: str, score: Score, rung: Rung, easiest: float, marks: dict[str, ReadingMark]) -> str:
    mark = marks.get(reading_name(score, rung.position))
    share = f"{100 * rung.in_reach // max(len(score.notes), 1)}%"
    effort = f"{rung.effort / easiest:.1f}" if easiest else "-"
    read = "" if mark is None else f"{mark.times}x, best {100 * mark.best_accuracy:.0f}%"
    return (
        f"{begin}  {position_name(rung.position):<8}  {share:>8}  {rung.open_strings:>4}  "
        f"{rung.stretches:>9}  {rung.outside + rung.left_out:>7}  {rung.fingering.shifts:>6}  "
        f"{effort:>6}  {read}"
    ).rstrip()

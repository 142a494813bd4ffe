"""`midifret finger`: string, fret and left-hand finger for every note of a score."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from midifret.cli.app import app_of, guitar_option, json_option, print_document
from midifret.cli.score_options import ScoreWishes, read_asked, score_options
from midifret.drills.fields import position_number
from midifret.fingering import (
    Aim,
    Choices,
    Fingering,
    Kept,
    OpenStrings,
    Unplayable,
    finger_ways,
)
from midifret.fingering.other_places import OtherPlace, other_places
from midifret.gear.fingering import load_weights
from midifret.neck import Language, Neck, pitch_name
from midifret.terms import BadInput
from midifret.terms.score import Score, ScoreNote

MOST_WAYS = 20
SHOWN_PARTS = 6


@click.command("finger")
@click.argument("score", type=click.Path(path_type=Path))
@click.option("--position", metavar="N", default=None, help="Stay in a position, 5 or V; 0 is the open one.")
@click.option(
    "--open",
    "opened",
    type=click.Choice([str(choice) for choice in OpenStrings]),
    default=None,
    help="Open strings: freely, only where needed, or never. In a position: needed, else freely.",
)
@click.option("--hardest", is_flag=True, help="Avoid the one hardest move, even at more effort in all.")
@click.option("--region", metavar="LOW-HIGH", default=None, help="Prefer these frets for their tone.")
@click.option(
    "--keep",
    metavar="WHAT",
    default="",
    help="Keep what is printed: fingers, strings, positions, with commas between.",
)
@click.option("--tempo", "quarter_bpm", type=float, default=None, help="Quarter notes a minute.")
@click.option("--best", type=click.IntRange(1, MOST_WAYS), default=1, help="Print so many fingerings.")
@click.option("--places", is_flag=True, help="Say for each note where else it lies, with reasons.")
@score_options
@guitar_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    score: Path,
    wishes: ScoreWishes,
    position: str | None,
    opened: str | None,
    hardest: bool,
    region: str | None,
    keep: str,
    quarter_bpm: float | None,
    best: int,
    places: bool,
    guitar: str | None,
    as_json: bool,
) -> int:
    """Finger SCORE, any score file or a score in JSON: the least effort for the left hand.

    What no hand can play is named, with the nearest change that would do; the rest is fingered all the same.
    """
    app = app_of(context)
    read, neck = read_asked(app, score, wishes, app.guitar(guitar).neck)
    if hardest and best > 1:
        raise click.UsageError("--best goes with the least sum, not with --hardest")
    choices = Choices(
        position=None if position is None else _position(position),
        open_strings=_open_strings(opened, in_position=position is not None),
        aim=Aim.HARDEST if hardest else Aim.SUM,
        kept=_kept(keep),
        region=None if region is None else _region(region, neck),
        quarter_bpm=_tempo(quarter_bpm),
    )
    if quarter_bpm is not None:
        read = replace(read, tempos=())
    ways = finger_ways(read, neck, choices, load_weights(app.home), k=best)
    others = other_places(read, neck, choices, ways[0]) if places else ()
    if as_json:
        print_document(finger_document(read, ways, others))
    else:
        for line in finger_lines(read, ways, others, app.settings.language):
            click.echo(line)
    return 0


def _position(text: str) -> int:
    try:
        return position_number(text)
    except ValueError as error:
        raise BadInput(str(error)) from None


def _open_strings(text: str | None, *, in_position: bool) -> OpenStrings:
    if text is None:
        return OpenStrings.NEEDED if in_position else OpenStrings.FREELY
    return OpenStrings(text)


def _kept(text: str) -> frozenset[Kept]:
    allowed = ", ".join(Kept)
    try:
        return frozenset(Kept(word.strip()) for word in text.split(",") if word.strip())
    except ValueError:
        raise BadInput(f"{text!r} cannot be kept", allowed=allowed) from None


def _region(text: str, neck: Neck) -> tuple[int, int]:
    low, dash, high = text.partition("-")
    good = dash and low.strip().isdecimal() and high.strip().isdecimal() and len(text) < 8
    if not good or not int(low) <= int(high) <= neck.last_fret:
        raise BadInput(f"{text!r} is no region", allowed=f"two frets, 0 to {neck.last_fret}, for example 5-9")
    return int(low), int(high)


def _tempo(quarter_bpm: float | None) -> float:
    if quarter_bpm is None:
        return Choices().quarter_bpm
    from midifret.tempo import check_tempo

    return check_tempo(quarter_bpm)


def finger_document(
    score: Score, ways: tuple[Fingering, ...], others: tuple[tuple[OtherPlace, ...], ...]
) -> dict[str, Any]:
    """What `finger --json` prints: the best fingering, further ones under `alternatives`.

    notes: every note of the score once, in the order of onsets, then from the lowest; finger 0 is open;
    string, fret and finger null where it cannot be played.
    """
    document = _way(score, ways[0])
    for note, places in zip(document["notes"], others, strict=False):
        note["other_places"] = [
            {"string": o.place.string, "fret": o.place.fret, "for": list(o.pros), "against": list(o.cons)}
            for o in places
        ]
    if len(ways) > 1:
        document["alternatives"] = [_way(score, way) for way in ways[1:]]
    return document


def _way(score: Score, way: Fingering) -> dict[str, Any]:
    return {
        "notes": [
            {
                "n": note.n,
                "onset_quarter": round(float(note.onset_quarter), 6),
                "duration_quarter": round(float(note.duration_quarter), 6),
                "midi": note.midi,
                "string": fingered.place.string if fingered.place else None,
                "fret": fingered.place.fret if fingered.place else None,
                "finger": fingered.finger,
                "position": fingered.position,
                "shift": fingered.shifted,
                "against_choice": fingered.against,
                "let_go_quarter": None
                if fingered.let_go_quarter is None
                else round(float(fingered.let_go_quarter), 6),
            }
            for note, fingered in zip(score.notes, way.notes, strict=True)
        ],
        "shifts": way.shifts,
        "open_strings": way.open_strings,
        "cost": round(way.cost, 6),
        "cost_parts": {name: round(value, 6) for name, value in way.parts},
        "hardest_move": {"cost": round(way.hardest, 6), "n": way.hardest_n},
        "unplayable": [
            {
                "bar": gap.bar or None,
                "onset_quarter": round(float(gap.onset_quarter), 6),
                "notes": list(gap.notes),
                "left_out": list(gap.left_out),
                "octave": None
                if gap.octave is None
                else {"n": gap.octave.n, "semitones": gap.octave.semitones},
                "why": gap.why,
            }
            for gap in way.unplayable
        ],
    }


def finger_lines(
    score: Score,
    ways: tuple[Fingering, ...],
    others: tuple[tuple[OtherPlace, ...], ...],
    language: Language,
) -> list[str]:
    """The notes as aligned lines, then what was found, for each way."""
    lines: list[str] = []
    for number, way in enumerate(ways, start=1):
        if len(ways) > 1:
            lines += [f"Fingering {number}, cost {way.cost:.2f}"]
        lines.append("   n  bar   quarter  note  string  fret  finger  position")
        for index, (note, fingered) in enumerate(zip(score.notes, way.notes, strict=True)):
            head = (
                f"{note.n:4}  {note.bar:>3}  {float(note.onset_quarter):8.2f}  "
                f"{pitch_name(note.pitch, language):<4}"
            )
            if fingered.place is None:
                lines.append(f"{head}  cannot be played")
                continue
            fret = "open" if fingered.place.fret == 0 else str(fingered.place.fret)
            finger = "-" if not fingered.finger else str(fingered.finger)
            words = [
                *(["shift"] if fingered.shifted else []),
                *(["not as chosen"] if fingered.against else []),
                *(["let go early"] if fingered.let_go_quarter is not None else []),
            ]
            lines.append(
                f"{head}  {fingered.place.string:>6}  {fret:>4}  {finger:>6}  {fingered.position!s:>8}"
                f"{'  ' if words else ''}{', '.join(words)}"
            )
            if number == 1 and index < len(others):
                lines += [_other_line(other) for other in others[index]]
        lines += _summary(score, way, language)
    return lines


def _other_line(other: OtherPlace) -> str:
    fret = "open" if other.place.fret == 0 else f"fret {other.place.fret}"
    words = [
        *([f"for it: {', '.join(other.pros)}"] if other.pros else []),
        *([f"against: {', '.join(other.cons)}"] if other.cons else []),
    ]
    return f"        or string {other.place.string} {fret}: {'; '.join(words) or 'as good'}"


def _summary(score: Score, way: Fingering, language: Language) -> list[str]:
    heaviest = sorted(way.parts, key=lambda part: -part[1])[:SHOWN_PARTS]
    parts = ", ".join(f"{name.replace('_', ' ')} {value:.1f}" for name, value in heaviest)
    lines = [
        f"{_count(way.shifts, 'shift')}, {_count(way.open_strings, 'note')} on open strings, "
        f"cost {way.cost:.1f}" + (f" ({parts})" if parts else "")
    ]
    lines += [unplayable_words(score.notes, gap, language) for gap in way.unplayable]
    return lines


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def unplayable_words(notes: tuple[ScoreNote, ...], gap: Unplayable, language: Language) -> str:
    """Say what cannot be played, where, why, and what change would do."""
    where = f"bar {gap.bar}" if gap.bar else f"quarter {float(gap.onset_quarter):g}"
    names = ", ".join(_named(notes, n, language) for n in gap.notes)
    out = ", ".join(_named(notes, n, language) for n in gap.left_out)
    words = f"{where}: {names}: {gap.why}; left out: {out}"
    if gap.octave is not None:
        count = abs(gap.octave.semitones) // 12
        octaves = "an octave" if count == 1 else f"{count} octaves"
        direction = "up" if gap.octave.semitones > 0 else "down"
        words += f"; or play {_named(notes, gap.octave.n, language)} {octaves} {direction}"
    return words


def _named(notes: tuple[ScoreNote, ...], n: int, language: Language) -> str:
    return f"{pitch_name(notes[n - 1].pitch, language)} (note {n})"

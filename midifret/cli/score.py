"""`midifret score`: what stands in a score file, and how it is read."""

from pathlib import Path
from typing import Any

import click

from midifret.cli.app import json_option, print_document
from midifret.scores import PartLook, ScoreLook, look_at_score


@click.command("score")
@click.argument("score", type=click.Path(path_type=Path))
@click.option("--tune", type=click.IntRange(1), default=None, help="Which tune of an ABC file with several.")
@json_option
def command(score: Path, tune: int | None, as_json: bool) -> int:
    """Show the parts of SCORE: voices, bars, compass, and in which octave it sounds.

    MusicXML (.musicxml, .xml, .mxl), ABC (.abc), Humdrum kern (.krn), MEI (.mei) and MIDI (.mid). Voices on
    one staff are one part; other commands take several parts as one guitar with --part 1+2 or --part all.
    """
    look = look_at_score(score, tune)
    if as_json:
        print_document(look_document(look))
        return 0
    for line in look_lines(look):
        click.echo(line)
    return 0


def look_document(look: ScoreLook) -> dict[str, Any]:
    """What `score --json` prints: parts in the order of the file, pitches as the file has them.

    octave: written (a guitar sounds an octave lower), sounding, or null where the file does not say.
    """
    return {
        "kind": look.kind,
        "title": look.title,
        "composer": look.composer,
        "parts": [
            {
                "part": part.number,
                "name": part.name,
                "notes": part.notes,
                "unpitched": part.unpitched,
                "bars": part.bars,
                "first_bar": part.first_bar,
                "last_bar": part.last_bar,
                "voices": list(part.voices),
                "lowest_midi": part.lowest_midi,
                "highest_midi": part.highest_midi,
                "clefs": list(part.clefs),
                "octave": part.octave.value if part.octave else None,
                "evidence": part.evidence,
                "key_fifths": part.fifths,
                "meter": part.meter or None,
                "repeats": part.repeats,
                "fingers": part.fingers,
                "strings": part.strings,
                "positions": part.positions,
                "tuning_midis": list(part.tuning_midis),
                "capo": part.capo,
            }
            for part in look.parts
        ],
        "warnings": list(look.warnings),
    }


def look_lines(look: ScoreLook) -> list[str]:
    """The same for people."""
    title = ", ".join(text for text in (look.title, look.composer) if text)
    lines = [f"{title} ({look.kind})" if title else look.kind]
    for part in look.parts:
        lines += _part_lines(part)
    return lines + [f"warning: {warning}" for warning in look.warnings]


def _part_lines(part: PartLook) -> list[str]:
    name = f" {part.name}" if part.name else ""
    if not part.notes:
        what = f"percussion, {_count(part.unpitched, 'note')} without pitch" if part.unpitched else "empty"
        return [f"Part {part.number}{name}: {what}"]
    voices = ", ".join(str(voice) for voice in part.voices)
    bars = f"bars {part.first_bar} to {part.last_bar}"
    lines = [
        f"Part {part.number}{name}: {_count(part.notes, 'note')}, {bars}, "
        f"{'voice' if len(part.voices) == 1 else 'voices'} {voices}, "
        f"MIDI {part.lowest_midi} to {part.highest_midi} as the file has them"
    ]
    signs = part.fifths or 0
    key = f"{_count(abs(signs), 'sharp' if signs > 0 else 'flat')}" if signs else "no sharps or flats"
    lines.append(f"  {key}, {part.meter or 'no meter'}{', with repeats' if part.repeats else ''}")
    printed = [
        _count(n, word)
        for n, word in (
            (part.fingers, "finger"), (part.strings, "string number"), (part.positions, "position or barre"),
        )
        if n
    ]  # fmt: skip
    if printed:
        lines.append(f"  printed: {', '.join(printed)}")
    if part.tuning_midis:
        lines.append(f"  open strings, MIDI: {' '.join(str(midi) for midi in part.tuning_midis)}")
    if part.capo:
        lines.append(f"  capo on fret {part.capo}")
    if part.octave is None:
        lines.append(f"  octave: the file does not say; {part.evidence}")
    else:
        lines.append(f"  octave: {part.octave.value}; {part.evidence}")
    return lines


def _count(number: int, word: str) -> str:
    if number == 1:
        return f"1 {word}"
    return f"{number} positions or barres" if word == "position or barre" else f"{number} {word}s"

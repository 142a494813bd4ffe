"""`midifret decode`: the notes of a recording with their strings and frets."""

from pathlib import Path
from typing import Any

import click

from midifret.cli.app import app_of, guitar_option, json_option, print_document, warn
from midifret.cli.recorded import guitar_of
from midifret.hear import Decoded, Decoder, decode
from midifret.neck import Language, pitch_name, spell
from midifret.terms import Note
from midifret.wire.take import read_take


@click.command("decode")
@click.argument("take", type=click.Path(path_type=Path))
@guitar_option
@json_option
@click.pass_context
def command(context: click.Context, take: Path, guitar: str | None, as_json: bool) -> int:
    """Print the notes of TAKE, any Standard MIDI File with one channel per string."""
    app = app_of(context)
    recording = read_take(take)
    heard_as = guitar_of(app, guitar, recording)
    decoder = Decoder(heard_as.neck, heard_as.wiring)
    decoded = decode(recording.messages, decoder, end_s=recording.end_s, gone_s=recording.gone_s)
    if as_json:
        print_document(decode_document(decoded))
    else:
        for line in decode_lines(decoded, app.settings.language):
            click.echo(line)
    if not decoded.notes:
        left_out = len(decoded.voided)
        why = f"all {left_out} notes in this recording were voided" if left_out else "there is no note in it"
        warn(f"{take}: {why}")
        return 1
    return 0


def decode_document(decoded: Decoded) -> dict[str, Any]:
    """What `decode --json` prints.

    notes: time_s from the start of the file, string and fret (null where not known), midi, name in English
    with its sounding octave, velocity, duration_s, channel (1 to 16), attack (plucked or moved), cents.
    voided: the same with the glitch that it was and the reason for thinking so. warnings: time_s and message.
    """
    return {
        "notes": [_note(item.note) | {"duration_s": round(item.duration_s, 6)} for item in decoded.notes],
        "voided": [
            _note(voided.note) | {"glitch": voided.glitch.value, "reason": voided.reason}
            for voided in decoded.voided
        ],
        "warnings": [
            {"time_s": round(warning.time_s, 6), "message": warning.message} for warning in decoded.warnings
        ],
    }


def _note(note: Note) -> dict[str, Any]:
    return {
        "time_s": round(note.onset_s, 6),
        "string": note.string,
        "fret": note.fret,
        "midi": note.midi,
        "name": str(spell(note.midi)[0]),
        "velocity": note.velocity,
        "channel": note.channel + 1,
        "attack": note.attack.value,
        "cents": round(note.cents, 1),
    }


def decode_lines(decoded: Decoded, language: Language) -> list[str]:
    """The notes as aligned lines, then what was voided and what to warn of."""
    lines = ["   time s  string  fret  note  velocity  lasts s"] if decoded.notes else []
    for item in decoded.notes:
        note = item.note
        name = pitch_name(spell(note.midi)[0], language)
        moved = "  moved" if note.attack == "moved" else ""
        string, fret = ("?" if value is None else str(value) for value in (note.string, note.fret))
        lines.append(
            f"{note.onset_s:9.3f}  {string:>6}  {fret:>4}  {name:<4}  {note.velocity:>8}  "
            f"{item.duration_s:7.3f}{moved}"
        )
    lines += [
        f"{voided.note.onset_s:9.3f}  voided: MIDI note {voided.note.midi}, {voided.glitch}: {voided.reason}"
        for voided in decoded.voided
    ]
    lines += [f"{warning.time_s:9.3f}  warning: {warning.message}" for warning in decoded.warnings]
    return lines

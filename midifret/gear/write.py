"""Writing what setting up a guitar found: its file with remarks, a tuning, the guitar that is chosen."""

import io
import json
import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq

from midifret.files import Document, Home, parse_document, read_document
from midifret.gear.guitar import ControlBinding, Guitar, SignalBinding
from midifret.gear.load import check_guitar, check_settings, check_tunings, load_tunings
from midifret.neck import Tuning, spell
from midifret.terms import BadInput, Encoding, Problem, Unavailable

# A text that YAML reads as itself without quotes, by a narrow rule: it begins with a letter and ends with a
# letter or digit, and no word of the core schema (YAML 1.2.2, chapter 10.3) looks like it.
_PLAIN = re.compile(r"[A-Za-z](?:[\w ,()+-]*\w)?\Z", re.ASCII)
_NOT_PLAIN = {"true", "false", "null"}
_REMARK_AT = 28  # where the remarks begin, in characters
_MOST_NAME = 40


def is_guitar_name(name: str) -> bool:
    """Whether a file can bear this name everywhere: 1 to 40 letters, digits, hyphens and underscores."""
    return 0 < len(name) <= _MOST_NAME and re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]*", name) is not None


def guitar_text(guitar: Guitar, *, remarks: Sequence[str] = ()) -> str:
    """Write a guitar as a file that a person can read and edit, every line with what it means.

    remarks: lines for the top of the file, without their hash.
    """
    wiring, neck = guitar.wiring, guitar.neck
    lines = [*(f"# {remark}".rstrip() for remark in remarks)]
    lines.append(f"title: {_text(guitar.title)}")
    lines.append(_line(f"tuning: {_text(neck.tuning.name)}", "a name from tunings.yaml"))
    lines.append(_line(f"frets: {neck.frets}", "12 to 24, counted from the nut"))
    lines.append(_line(f"capo: {neck.capo}", "the fret it lies on, 0 for none"))
    lines.append(
        _line(
            f"encoding: {wiring.encoding.value}",
            "per-string; one-channel and mpe where no channel tells the string",
        )
    )
    if wiring.encoding is Encoding.PER_STRING:
        channels = [wiring.channel_of(string) + 1 for string in range(1, neck.strings + 1)]
        lines.append(_line(f"channels: {_list(channels)}", "the MIDI channel of string 1, string 2, ..."))
        if wiring.controller_channel is not None:
            controllers = f"controller_channel: {wiring.controller_channel + 1}"
            lines.append(_line(controllers, "bends and controllers there hold for all strings"))
    bend_range = f"bend_range_semitones: {_number(wiring.bend_range_semitones)}"
    lines.append(_line(bend_range, "at full bend, until the guitar says otherwise"))
    transpose = f"transpose_semitones: {wiring.transpose_semitones}"
    lines.append(_line(transpose, "to be added to the numbers sent to have the sounding pitch"))
    cents = f"cents: {_list(wiring.cents)}"
    lines.append(_line(cents, "how far open strings 1, 2, ... are from their pitches, as they arrive"))
    lines += _hearing_lines(guitar)
    lines.append(
        _line(f"port: {_text(guitar.port)}", "part of the name of its MIDI input; empty: the only one")
    )
    lines += _control_lines(guitar.controls)
    lines += _signal_lines(guitar.signals)
    within = f"signal_within_ms: {_number(guitar.signal_within_s * 1000)}"
    lines.append(_line(within, "the two notes of a signal lie at most so far apart"))
    return "\n".join(lines) + "\n"


def guitar_file(guitar: Guitar, home: Home) -> Path:
    """Where this guitar's own file goes."""
    return home.guitars / f"{guitar.name}.yaml"


def write_guitar(
    guitar: Guitar, home: Home, *, remarks: Sequence[str] = (), new_tuning: bool = False
) -> tuple[Path, ...]:
    """Write a guitar into the home folder, and its tuning with it if that is new; return the files written.

    A file that was there is kept beside it, its name ending in ~. All that is to be written is first read
    back: raises BadInput, with nothing written, where that does not give the same guitar.
    """
    path = guitar_file(guitar, home)
    text = guitar_text(guitar, remarks=remarks)
    tunings = load_tunings(home)
    with_tuning = _with_tuning(guitar.neck.tuning, home) if new_tuning else None
    if new_tuning:
        tunings = (*(known for known in tunings if known.name != guitar.neck.tuning.name), guitar.neck.tuning)
    found, problems = check_guitar(_parsed(text, path), tunings, name=guitar.name)
    if found != guitar:
        raise BadInput(
            f"the file {path} would not give the guitar that was found",
            allowed="nothing was written; please report this",
            problems=problems,
        )
    written = []
    if with_tuning is not None:
        _put(home.writable() / home.tunings.name, with_tuning)
        written.append(home.tunings)
    _put(home.writable(home.guitars) / path.name, text)
    written.append(path)
    return tuple(written)


def choose_guitar(name: str, home: Home) -> Path:
    """Make a guitar the one of the settings; all else that stands in the file stays, remarks too.

    The file as it was is kept beside it, its name ending in ~. Raises BadInput for a faulty file.
    """
    path = home.settings
    if path.is_file():
        _refuse_faults(path, check_settings(read_document(path))[1], "settings")
    content = _round_trip(path)
    content["guitar"] = name
    text = _dumped(content)
    found, _ = check_settings(_parsed(text, path))
    if found is None or found.guitar != name:
        raise BadInput(f"the settings in {path} cannot be changed", allowed=f"add: guitar: {name}")
    _put(home.writable() / path.name, text)
    return path


def _with_tuning(tuning: Tuning, home: Home) -> str:
    """The person's tunings with one more, remarks kept."""
    path = home.tunings
    content = _round_trip(path)
    strings = CommentedSeq(str(spell(midi)[0]) for midi in tuning.open_midi)
    strings.fa.set_flow_style()
    content[tuning.name] = CommentedMap(title=tuning.title, strings=strings)
    text = _dumped(content)
    found, problems = check_tunings(_parsed(text, path))
    if tuning not in found:
        raise BadInput(f"the tuning {tuning.name!r} cannot be added to {path}", problems=problems)
    return text


def _hearing_lines(guitar: Guitar) -> list[str]:
    limits = guitar.wiring.thresholds
    entries = (
        ("soft_velocity", limits.soft_velocity, "a note no louder than this is doubtful"),
        ("short_ms", limits.short_s * 1000, "a soft note that ends before this was not meant"),
        ("doubt_ms", limits.doubt_s * 1000, "no note stays doubtful longer"),
        ("repeat_ms", limits.repeat_s * 1000, "nobody strikes one fret of a string twice within this"),
        ("together_ms", limits.together_s * 1000, "within this a string makes its neighbours speak"),
        ("crosstalk_share", limits.crosstalk_share, "and they have at most this share of its velocity"),
        ("lift_off_ms", limits.lift_off_s * 1000, "within this a finger that leaves makes a string speak"),
        ("least_ms", limits.least_s * 1000, "any note that ends before this was guessed; 0 for none"),
    )
    lines = [_line("hearing:", "what may be a glitch of the converter")]
    return lines + [_line(f"  {name}: {_number(value)}", remark) for name, value, remark in entries]


def _control_lines(controls: Sequence[ControlBinding]) -> list[str]:
    if not controls:
        return [_line("controls: {}", "pedals and buttons, for example  next: {controller: 64}")]
    lines = [_line("controls:", "pedals and buttons give an order")]
    for each in controls:
        kind = "program" if each.is_program else "controller"
        parts = [f"{kind}: {each.number}"]
        if each.channel is not None:
            parts.append(f"channel: {each.channel + 1}")
        parts.append(f"least_value: {each.least_value}")
        lines.append(f"  {each.control.value}: {{{', '.join(parts)}}}")
    return lines


def _signal_lines(signals: Sequence[SignalBinding]) -> list[str]:
    if not signals:
        return [_line("signals: {}", "two strings plucked together, for example  pause: [6:0, 1:0]")]
    lines = [_line("signals:", "two strings plucked together give an order")]
    return lines + [f"  {each.control.value}: [{each.places[0]}, {each.places[1]}]" for each in signals]


def _line(text: str, remark: str) -> str:
    return f"{text:<{_REMARK_AT}}# {remark}" if len(text) < _REMARK_AT else f"{text}  # {remark}"


def _text(text: str) -> str:
    plain = _PLAIN.match(text) and text.lower() not in _NOT_PLAIN
    return (
        text if plain else json.dumps(text, ensure_ascii=False)
    )  # a JSON string is YAML (1.2.2, chapter 1.2)


def _number(value: float) -> str:
    return f"{round(value, 6):.12g}"


def _list(values: Sequence[float]) -> str:
    return f"[{', '.join(_number(value) for value in values)}]"


def _parsed(text: str, path: Path) -> Document:
    return parse_document(text.encode(), str(path))


def _refuse_faults(path: Path, problems: tuple[Problem, ...], what: str) -> None:
    if problems:
        raise BadInput(f"the {what} in {path} have faults", problems=problems)


def _yaml() -> YAML:
    yaml = YAML()
    yaml.preserve_quotes = True
    yaml.width = 4096
    return yaml


def _round_trip(path: Path) -> Any:
    """A YAML file as a map that keeps its remarks and its order; an empty one where there is no file."""
    if not path.is_file():
        return CommentedMap()
    read_document(path)  # tells what is no YAML, with line and column
    return _yaml().load(path.read_text(encoding="utf-8-sig"))


def _dumped(content: Any) -> str:
    stream = io.StringIO()
    _yaml().dump(content, stream)
    return stream.getvalue()


def _put(path: Path, text: str) -> None:
    """Write a file whole or not at all; what was there is kept with a ~ at the end of its name."""
    part = path.with_name(f".{path.name}.part")
    try:
        with part.open("w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        if path.is_file():
            path.with_name(f"{path.name}~").write_bytes(path.read_bytes())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise Unavailable(
            f"{path} cannot be written ({error.strerror})",
            allowed="make room on the disk, or give yourself the right to write there",
        ) from None

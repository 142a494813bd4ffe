"""Scores in JSON with the fingering that is printed in them: onset, duration, pitch, finger and string."""

import json
from fractions import Fraction
from typing import Any

from midifret.fingering.engine import MOST_NOTES
from midifret.neck import spell
from midifret.terms import BadInput, Problem
from midifret.terms.score import Barre, PositionMark, Printed, Score, ScoreNote

FINEST = 3840  # onsets written as decimals are parts of a quarter note no finer than this [ours]
LATEST_QUARTERS = 100_000.0  # some twenty hours [ours]
HIGHEST_MIDI = 127  # MIDI 1.0
MOST_STRINGS = 12
LAST_POSITION = 24
MOST_PROBLEMS = 20  # so many are told; the others follow from them as likely as not [ours]


def score_from_json(data: bytes | str, file: str) -> Score:
    """Read a score: `notes` with `onset`, `duration` (quarter notes), `pitch` (sounding MIDI number).

    A note may have `voice`, `finger` (0 to 4), `string`, `harmonic`; the score `piece`, `composer`, `tuning`
    (open strings, string 1 first), `capo`, and `marks` with `onset`, `position` (fret), `kind` (position or
    barre; other kinds are passed over) and `end`. Other keys are passed over.
    file: as errors name it. Raises BadInput with every fault, by the path of its keys.
    """
    return _Reader(file).score(_parsed(data, file))


def _parsed(data: bytes | str, file: str) -> Any:
    try:
        return json.loads(data, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        problem = Problem(file, error.lineno, error.colno, "", f"this is not JSON: {error.msg}")
        raise BadInput(f"{file} cannot be read", problems=(problem,)) from None
    except UnicodeDecodeError:
        raise BadInput(f"{file} cannot be read: this is not UTF-8 text") from None
    except RecursionError:
        raise BadInput(f"{file} cannot be read: values are nested too deeply") from None
    except ValueError as error:
        raise BadInput(f"{file} cannot be read: {error}", allowed="plain numbers") from None


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


class _Reader:
    """Reads one score and notes what does not fit."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._problems: list[Problem] = []

    def _say(self, key: str, value: Any, allowed: str) -> None:
        text = repr(value)
        text = text if len(text) <= 40 else f"{text[:37]}..."
        message = f"{text} cannot stand here" if value is not None else "nothing is written here"
        self._problems.append(Problem(self._file, None, None, key, message, allowed))

    def score(self, raw: Any) -> Score:
        """Read the whole document."""
        if not isinstance(raw, dict) or not isinstance(raw.get("notes"), list):
            raise BadInput(f"{self._file} is no score", allowed='a group of keys with a list "notes"')
        entries = raw["notes"]
        if len(entries) > MOST_NOTES:
            raise BadInput(
                f"{self._file}: {len(entries)} notes are too many", allowed=f"at most {MOST_NOTES}"
            )
        tuning = self._tuning(raw.get("tuning"))
        capo = self._whole(raw, "capo", "", 0, LAST_POSITION - 1) or 0
        voices: dict[str, int] = {}
        read = [
            note
            for i, entry in enumerate(entries)
            if (note := self._note(entry, f"notes[{i + 1}]", len(tuning) or MOST_STRINGS, voices))
        ]
        marks = self._marks(raw.get("marks", []))
        if self._problems:
            more = len(self._problems) - MOST_PROBLEMS
            message = f"{self._file} has faults" + (f" ({more} more than these)" if more > 0 else "")
            raise BadInput(message, problems=tuple(self._problems[:MOST_PROBLEMS]))
        read.sort(key=lambda note: (note[0], note[2]))
        notes = tuple(
            ScoreNote(
                n=n,
                onset_quarter=onset,
                duration_quarter=duration,
                midi=midi,
                pitch=spell(midi)[0],
                voice=voice,
                harmonic=harmonic,
                printed=printed,
            )
            for n, (onset, duration, midi, voice, harmonic, printed) in enumerate(read, start=1)
        )
        return Score(
            title=_text(raw.get("piece")),
            composer=_text(raw.get("composer")),
            source=self._file,
            notes=notes,
            positions=marks,
            tuning_midis=tuning,
            capo=capo,
        )

    def _note(
        self, entry: Any, key: str, strings: int, voices: dict[str, int]
    ) -> tuple[Fraction, Fraction, int, int, bool, Printed] | None:
        if not isinstance(entry, dict):
            self._say(key, entry, "a group of keys: onset, duration, pitch")
            return None
        onset = self._quarters(entry, "onset", f"{key}.")
        duration = self._quarters(entry, "duration", f"{key}.")
        midi = self._whole(entry, "pitch", f"{key}.", 0, HIGHEST_MIDI, needed=True)
        finger = self._whole(entry, "finger", f"{key}.", 0, 4)
        string = self._whole(entry, "string", f"{key}.", 1, strings)
        if onset is None or duration is None or midi is None:
            return None
        voice = voices.setdefault(str(entry.get("voice", "1")), len(voices) + 1)
        return onset, duration, midi, voice, entry.get("harmonic") is True, Printed(finger, string)

    def _marks(self, raw: Any) -> tuple[PositionMark, ...]:
        if not isinstance(raw, list):
            self._say("marks", raw, "a list")
            return ()
        marks = []
        for i, entry in enumerate(raw):
            key = f"marks[{i + 1}]"
            if not isinstance(entry, dict):
                self._say(key, entry, "a group of keys: onset, position, kind")
                continue
            kind = entry.get("kind", "position")
            if kind not in ("position", "barre"):
                continue
            onset = self._quarters(entry, "onset", f"{key}.")
            end = self._quarters(entry, "end", f"{key}.") if "end" in entry else None
            position = self._whole(entry, "position", f"{key}.", 1, LAST_POSITION, needed=True)
            if onset is not None and position is not None:
                barre = Barre.FULL if kind == "barre" else None
                marks.append(PositionMark(onset, position, barre, end))
        return tuple(sorted(marks, key=lambda mark: mark.onset_quarter))

    def _tuning(self, raw: Any) -> tuple[int, ...]:
        if raw is None:
            return ()
        allowed = f"3 to {MOST_STRINGS} MIDI numbers, string 1 first"
        if not isinstance(raw, list) or not 3 <= len(raw) <= MOST_STRINGS:
            self._say("tuning", raw, allowed)
            return ()
        for i, midi in enumerate(raw):
            if not _is_whole(midi) or not 0 <= midi <= HIGHEST_MIDI:
                self._say(f"tuning[{i + 1}]", midi, f"0 to {HIGHEST_MIDI}")
                return ()
        return tuple(raw)

    def _quarters(self, entry: dict[str, Any], name: str, key: str) -> Fraction | None:
        value: Any = entry.get(name)
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not 0 <= value <= LATEST_QUARTERS:  # no number is not within either
            self._say(key + name, value, f"0 to {LATEST_QUARTERS:.0f} quarter notes")
            return None
        return Fraction(value).limit_denominator(FINEST)

    def _whole(
        self, entry: dict[str, Any], name: str, key: str, least: int, most: int, *, needed: bool = False
    ) -> int | None:
        value: Any = entry.get(name)
        if value is None and not needed:
            return None
        if not _is_whole(value) or not least <= value <= most:
            self._say(key + name, value, f"{least} to {most}")
            return None
        return int(value)


def _is_whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""

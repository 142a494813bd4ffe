"""A score file read for one guitar: `read_score` gives the score, `look_at_score` what there is to choose."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from midifret.scores.choices import ALL_PARTS, FIT, Choices, Octave, PartLook, ScoreLook
from midifret.scores.octave import Shift, chosen, decided, evidence, is_guitar, likely
from midifret.scores.parse import parse
from midifret.scores.played import bars_played, changes_played, heads_played, lowest_and_highest, marks_played
from midifret.scores.together import together
from midifret.scores.transpose import fifths_of, fitting, moved, steps_for
from midifret.scores.unfold import TooManyBars, playing_order
from midifret.scores.written import WrittenBar, WrittenPart, WrittenScore
from midifret.terms import BadInput
from midifret.terms.score import NOTHING_PRINTED, Folded, KeyChange, Score, ScoreNote

MOST_SEMITONES = 48
_ANY = Choices()


class OctaveUnsaid(BadInput):
    """A part whose file does not say in which octave it sounds. likely: what fits a guitar better."""

    def __init__(self, message: str, *, allowed: str, likely: Octave) -> None:
        """Keep what fits better beside the message."""
        super().__init__(message, allowed=allowed)
        self.likely = likely


def read_score(path: Path, choices: Choices = _ANY) -> Score:
    """Read one part of a score as a guitar plays it.

    Foreign files are parsed in a limited process of their own (parse.py). Raises BadInput for a file that
    cannot be read and for choices that are missing or do not fit it, with what it offers; Unavailable where
    a library is missing.
    """
    return score_of(parse(path, choices.tune), str(path), choices)


def look_at_score(path: Path, tune: int | None = None) -> ScoreLook:
    """Say what stands in a score file: parts, voices, bars, compass, what speaks for its octave, warnings."""
    return look_of(parse(path, tune))


def look_of(written: WrittenScore) -> ScoreLook:
    """Say what stands in a score that was parsed."""
    parts = tuple(_part_look(number, part) for number, part in enumerate(written.parts, start=1))
    return ScoreLook(written.kind, written.title, written.composer, parts, written.warnings)


def _part_look(number: int, part: WrittenPart) -> PartLook:
    compass = lowest_and_highest(part)
    shift = decided(part)
    meter = f"{part.meters[0].beats}/{part.meters[0].beat_type}" if part.meters else ""
    return PartLook(
        number=number,
        name=part.name,
        notes=len(part.notes),
        bars=len(part.bars),
        first_bar=part.bars[0].number,
        last_bar=part.bars[-1].number,
        voices=tuple(sorted({note.voice for note in part.notes})),
        lowest_midi=compass[0] if compass else None,
        highest_midi=compass[1] if compass else None,
        clefs=part.clefs,
        octave=shift.octave if shift else None,
        evidence=shift.why if shift else evidence(part),
        unpitched=part.unpitched,
        fifths=part.keys[0].fifths if part.keys else None,
        meter=meter,
        repeats=any(bar.directions.any for bar in part.bars),
        fingers=sum(note.finger is not None for note in part.notes),
        strings=sum(note.string is not None for note in part.notes),
        positions=len(part.marks),
        tuning_midis=part.tuning_midis,
        capo=part.capo,
    )


def score_of(written: WrittenScore, file: str, choices: Choices = _ANY) -> Score:
    """Make the score of one part of what was parsed; `file` names it in errors. Raises BadInput."""
    remarks = list(written.warnings)
    part = _part(written, file, choices, remarks)
    _check_voices(part, file, choices)
    shift = _shift(part, file, choices)
    if choices.octave is None:
        remarks.append(_octave_remark(shift))
    order = _order(part, file, choices, remarks)
    try:
        score, heads = _laid_out(written, part, order, file, choices, shift)
    except BadInput as error:
        raise BadInput(f"{file}: {error.message}", allowed="some bars of it, or no repeats") from None
    if not score.notes:
        raise BadInput(f"{file}: there is no note in what was chosen of {_named(part, written)}")
    if any(note.harmonic == "artificial" for note in part.notes):
        remarks.append("artificial harmonics are read as the pitches that are written")
    semitones = _semitones(score, file, choices)
    printed = tuple(sorted(set(order)))
    if printed != order:
        folded, printed_heads = _laid_out(written, part, printed, file, choices, shift)
        signs = tuple(part.bars[index].directions for index in printed)
        numbers: dict[int, list[int]] = {}
        for note, head in zip(score.notes, heads, strict=True):
            numbers.setdefault(head, []).append(note.n)
        played_as = tuple(tuple(numbers.get(head, ())) for head in printed_heads)
        folded = _transposed(folded, semitones, [])
        score = replace(score, folded=Folded(folded, signs, played_as))
    score = _transposed(score, semitones, remarks)
    _say_what_lies_outside(score, choices, remarks)
    return replace(score, remarks=tuple(remarks))


def _laid_out(
    written: WrittenScore,
    part: WrittenPart,
    order: tuple[int, ...],
    file: str,
    choices: Choices,
    shift: Shift,
) -> tuple[Score, tuple[int, ...]]:
    """Lay the bars out in this order: the score, and for each note the index of its notehead."""
    bars = bars_played(part, order)
    notes, heads = heads_played(part, order, choices.voices, shift)
    meters, keys, tempos = changes_played(part, order, bars)
    if shift.semitones % 12:  # a part for an instrument in another key
        gained = fifths_of(shift.steps, shift.semitones)
        keys = tuple(replace(key, fifths=_key_within(key.fifths + gained)) for key in keys)
    score = Score(
        title=written.title,
        composer=written.composer,
        source=Path(file).name,
        notes=notes,
        positions=marks_played(part, order, bars),
        meters=meters,
        keys=keys,
        tempos=tempos,
        tuning_midis=part.tuning_midis,
        capo=part.capo,
        bars=bars,
    )
    return score, heads


def _named(part: WrittenPart, written: WrittenScore) -> str:
    if part not in written.parts:
        return "the parts together"
    return f"part {written.parts.index(part) + 1}" + (f" ({part.name})" if part.name else "")


def _part(written: WrittenScore, file: str, choices: Choices, remarks: list[str]) -> WrittenPart:
    offered = "; ".join(
        f"{n} {part.name or 'without a name'}" + ("" if part.notes else " (no pitches)")
        for n, part in enumerate(written.parts[:20], start=1)
    )
    pitched = [part for part in written.parts if part.notes]
    if choices.part is not None:
        part = _by_name(written.parts, choices.part)
        if part is None:
            several = _several(written.parts, pitched, choices.part)
            if not several:
                raise BadInput(
                    f"{file}: there is no part {choices.part!r}, or more than one", allowed=offered
                )
            part = _joined(several, written, file, remarks)
    else:
        guitars = [part for part in pitched if is_guitar(part.name)]
        if len(pitched) > 1 and len(guitars) != 1:
            message = f"{file}: the score has {len(pitched)} parts with notes: say which one"
            together_ = "+".join(str(written.parts.index(part) + 1) for part in pitched[:6])
            raise BadInput(message, allowed=f"{offered}; several for one guitar: part {together_}, or all")
        part = guitars[0] if len(guitars) == 1 else pitched[0] if pitched else written.parts[0]
    if not part.notes and part.unpitched:
        message = f"{file}: {_named(part, written)} is percussion: no note of it has a pitch"
        raise BadInput(message, allowed="a part with pitches")
    if not part.notes:
        raise BadInput(f"{file}: {_named(part, written)} is empty: there is no note in it")
    return part


def _by_name(parts: Sequence[WrittenPart], wanted: str) -> WrittenPart | None:
    if wanted.isdecimal():
        number = int(wanted) if len(wanted) < 6 else 0
        return parts[number - 1] if 1 <= number <= len(parts) else None
    found = [part for part in parts if part.name.casefold() == wanted.strip().casefold()]
    return found[0] if len(found) == 1 else None


def _several(
    parts: Sequence[WrittenPart], pitched: Sequence[WrittenPart], wanted: str
) -> tuple[WrittenPart, ...]:
    """Return the parts of "1+2", "Upper+Lower" or "all"; empty where one of them is not there or twice."""
    if wanted.strip().casefold() == ALL_PARTS:
        return tuple(pitched)
    found = [_by_name(parts, word.strip()) for word in wanted.split("+")]
    known = tuple(part for part in found if part is not None)
    distinct = len({id(part) for part in known}) == len(found)
    return known if distinct and len(known) > 1 else ()


def _joined(
    several: Sequence[WrittenPart], written: WrittenScore, file: str, remarks: list[str]
) -> WrittenPart:
    names = " and ".join(_named(part, written) for part in several)
    try:
        part = together(several)
    except ValueError as error:
        raise BadInput(f"{file}: {names} cannot be read as one guitar: {error}") from None
    if len(several) > 1:
        remarks.append(f"{names} are read as the voices of one guitar")
    return part


def _check_voices(part: WrittenPart, file: str, choices: Choices) -> None:
    there = {note.voice for note in part.notes}
    for voice in choices.voices:
        if voice not in there:
            voices = ", ".join(str(number) for number in sorted(there))
            raise BadInput(f"{file}: there is no voice {voice} in this part", allowed=f"voices {voices}")


def _shift(part: WrittenPart, file: str, choices: Choices) -> Shift:
    if choices.octave is not None:
        return chosen(choices.octave)
    shift = decided(part)
    if shift is None:
        raise OctaveUnsaid(
            f"{file}: the file does not say in which octave its guitar sounds: {evidence(part)}",
            allowed="octave written: it sounds an octave lower; octave sounding: as it stands",
            likely=likely(part),
        )
    return shift


def _octave_remark(shift: Shift) -> str:
    if shift.semitones == 0:
        return f"the pitches in the file sound as they stand: {shift.why}"
    where = "lower" if shift.semitones < 0 else "higher"
    how = "an octave" if abs(shift.semitones) == 12 else f"{abs(shift.semitones)} semitones"
    return f"the pitches in the file sound {how} {where}: {shift.why}"


def _order(part: WrittenPart, file: str, choices: Choices, remarks: list[str]) -> tuple[int, ...]:
    if choices.repeats:
        here = [bar.directions for bar in part.bars]
        if any(d.jump for d in here) and not any(d.fine for d in here) and sum(d.coda for d in here) == 1:
            remarks.append(
                "a coda is marked, but not where to leave for it: after the jump all is played again"
            )
        try:
            order = playing_order(tuple(bar.directions for bar in part.bars))
        except TooManyBars as error:
            raise BadInput(f"{file}: {error}") from None
    else:
        order = tuple(range(len(part.bars)))
    if choices.first_bar is None and choices.last_bar is None:
        return order
    numbers = [_bar_number(bar) for bar in part.bars]
    known = [number for number in numbers if number is not None]
    least, most = (min(known), max(known)) if known else (0, 0)
    first = least if choices.first_bar is None else choices.first_bar
    last = most if choices.last_bar is None else choices.last_bar
    kept = tuple(i for i in order if (n := numbers[i]) is not None and first <= n <= last)
    if not kept or first > last:
        raise BadInput(f"{file}: there are no bars {first} to {last}", allowed=f"bars {least} to {most}")
    remarks.append(f"bars {first} to {last} of {least} to {most}")
    return kept


def _bar_number(bar: WrittenBar) -> int | None:
    digits = ""
    for character in bar.number:
        if not character.isascii() or not character.isdigit():
            break
        digits += character
    return int(digits) if digits and len(digits) < 7 else None


def _semitones(score: Score, file: str, choices: Choices) -> int:
    semitones = choices.transpose
    lowest, highest = min(n.midi for n in score.notes), max(n.midi for n in score.notes)
    if semitones == FIT:
        try:
            semitones = fitting(lowest, highest, choices.range_midis)
        except BadInput as error:
            raise BadInput(f"{file}: {error.message}", allowed=error.allowed) from None
    elif isinstance(semitones, str):
        raise BadInput(f"transposition {semitones!r}", allowed=f"semitones, or {FIT!r}")
    if not isinstance(semitones, int) or abs(semitones) > MOST_SEMITONES:
        allowed = f"-{MOST_SEMITONES} to {MOST_SEMITONES} semitones"
        raise BadInput(f"a transposition by {semitones}", allowed=allowed)
    return semitones


def _transposed(score: Score, semitones: int, remarks: list[str]) -> Score:
    if semitones == 0:
        return score
    steps = steps_for(semitones, score.keys[0].fifths if score.keys else 0)
    gained = fifths_of(steps, semitones)
    printed = any(note.printed != NOTHING_PRINTED for note in score.notes) or score.positions
    dropped = "; printed fingers, strings and positions no longer hold and are left out" if printed else ""
    remarks.append(f"transposed by {semitones:+d} semitones{_in_octaves(semitones)}{dropped}")
    return replace(
        score,
        notes=tuple(_moved_note(note, steps, semitones) for note in score.notes),
        keys=tuple(KeyChange(k.onset_quarter, _key_within(k.fifths + gained), k.mode) for k in score.keys),
        positions=(),
    )


def _in_octaves(semitones: int) -> str:
    octaves, rest = divmod(abs(semitones), 12)
    if rest:
        return ""
    count = "an octave" if octaves == 1 else f"{octaves} octaves"
    return f" ({count} {'up' if semitones > 0 else 'down'})"


def _key_within(fifths: int) -> int:
    """Name a key with at most seven signs."""
    while fifths > 7:
        fifths -= 12
    while fifths < -7:
        fifths += 12
    return fifths


def _moved_note(note: ScoreNote, steps: int, semitones: int) -> ScoreNote:
    pitch = moved(note.pitch, steps, semitones)
    return replace(note, midi=pitch.midi, pitch=pitch, printed=NOTHING_PRINTED)


def _say_what_lies_outside(score: Score, choices: Choices, remarks: list[str]) -> None:
    low, high = choices.range_midis
    outside = [note for note in score.notes if not low <= note.midi <= high]
    if outside:
        bars = ", ".join(dict.fromkeys(note.bar for note in outside[:200]))
        remarks.append(
            f"{len(outside)} of {len(score.notes)} notes lie beyond the guitar's compass, in bars {bars[:80]}"
        )

"""The guitar's octave: how the pitches of a part stand to what sounds, decided once, with the evidence."""

from dataclasses import dataclass

from midifret.scores.choices import USUAL_RANGE_MIDIS, Octave
from midifret.scores.written import WrittenNote, WrittenPart
from midifret.terms.pitch import STEP_SEMITONES

_STANDARD = (64, 59, 55, 50, 45, 40)  # facts of the neck: music21 and mingus name the same
_ENOUGH = 0.9  # of the notes with string and fret must agree [ours]


@dataclass(frozen=True, slots=True)
class Shift:
    """What a part sounds above its pitches in the file, in steps and semitones, and why."""

    steps: int
    semitones: int
    octave: Octave
    why: str


def midi_of(note: WrittenNote) -> int:
    """Return the MIDI number of a pitch as the file has it; C4 is 60."""
    return 12 * (note.octave + 1) + STEP_SEMITONES[note.step] + note.alter


def decided(part: WrittenPart) -> Shift | None:
    """Return what the file itself says, None where it says nothing or contradicts itself.

    In order: the format (MIDI states what sounds), strings and frets printed at the notes, a transposition
    (MusicXML: pitch and transposition make what sounds; MEI trans.semi; ABC transpose and clefs with -8), a
    clef with an 8 (in MusicXML, MEI and kern the pitch beside it sounds).
    """
    if part.sounding:
        return Shift(0, 0, Octave.SOUNDING, "the file states what sounds")
    if tablature := _by_tablature(part):
        return tablature
    if part.chromatic:
        shift = Shift(
            part.diatonic or 0, part.chromatic, Octave.WRITTEN, f"the file transposes by {part.chromatic}"
        )
        if part.clef_octave == -1 and part.chromatic == -12 and part.notes:
            lowest = min(midi_of(note) for note in part.notes)
            if lowest - 12 < min(part.tuning_midis or _STANDARD) + part.capo <= lowest:
                return None
        return shift
    if part.clef_octave:
        where = "below" if part.clef_octave < 0 else "above"
        return Shift(0, 0, Octave.SOUNDING, f"the clef has an 8 {where} it")
    return None


def _by_tablature(part: WrittenPart) -> Shift | None:
    tuning = part.tuning_midis or _STANDARD
    apart = [
        midi_of(note) - tuning[note.string - 1] - part.capo - note.fret
        for note in part.notes
        if note.string is not None and note.fret is not None and note.string <= len(tuning)
        and not note.harmonic
    ]  # fmt: skip
    for semitones, octave in ((0, Octave.SOUNDING), (12, Octave.WRITTEN)):
        if apart and apart.count(semitones) >= _ENOUGH * len(apart):
            places = f"{apart.count(semitones)} of {len(apart)} printed places"
            return Shift(-7 if semitones else 0, -semitones, octave, f"{places} say so")
    return None


def chosen(octave: Octave) -> Shift:
    """Return the shift that a person chose."""
    semitones = -12 if octave is Octave.WRITTEN else 0
    return Shift(-7 if semitones else 0, semitones, octave, "as chosen")


def likely(part: WrittenPart) -> Octave:
    """Return under which octave more notes lie on a guitar; written where both do as well [ours].

    Guitar music is written an octave high [common practice, no source].
    """
    lower, as_is = _on_a_guitar(part)
    return Octave.SOUNDING if as_is > lower else Octave.WRITTEN


def evidence(part: WrittenPart) -> str:
    """Say what speaks for either octave, in one sentence."""
    if not part.notes:
        return "there is no note"
    midis = [midi_of(note) for note in part.notes]
    lower, as_is = _on_a_guitar(part)
    guitar = "; the part is named after a guitar" if is_guitar(part.name) else ""
    return (
        f"clef {', '.join(part.clefs) or 'none'}, {_transposition(part)}, MIDI {min(midis)} to {max(midis)}; "
        f"of {len(midis)} notes {lower} lie on a guitar with 19 frets an octave lower (written), {as_is} as "
        f"they stand (sounding){guitar}"
    )


def _on_a_guitar(part: WrittenPart) -> tuple[int, int]:
    """How many notes lie on a guitar with 19 frets: an octave lower, and as they stand."""
    low, high = USUAL_RANGE_MIDIS
    if part.tuning_midis:
        low, high = min(part.tuning_midis) + part.capo, max(part.tuning_midis) + 19
    midis = [midi_of(note) for note in part.notes]
    return sum(low <= midi - 12 <= high for midi in midis), sum(low <= midi <= high for midi in midis)


def _transposition(part: WrittenPart) -> str:
    return f"transposition {part.chromatic}" if part.chromatic else "no transposition"


def is_guitar(name: str) -> bool:
    """Whether a part is named after a guitar, in the languages that scores are printed in."""
    words = name.lower()
    return (
        any(word in words for word in ("guit", "gitar", "chitarra", "gtr", "kytar")) and "bass" not in words
    )

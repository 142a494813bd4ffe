"""The verdict on one note or one typed name. No clock, no state."""

from midifret.terms import Note, Place, Prompt, Verdict


def judge_note(prompt: Prompt, note: Note, used: frozenset[Place] = frozenset()) -> Verdict:
    """Judge a played note; the first verdict that fits holds, in the order of Verdict.

    used: places that this prompt no longer accepts because an earlier prompt had them.
    A note whose place is not known is wrong: nobody can say that it was right.
    """
    string, fret, midi = note.string, note.fret, note.midi
    if string is None or fret is None:
        return Verdict.WRONG
    if used and note.place in used:
        return Verdict.WRONG
    for place in prompt.places:  # most answers are right: before anything is built
        if place.fret == fret and place.string == string:
            return Verdict.RIGHT
    asked_places = zip(prompt.places, prompt.midis, strict=True)
    left = [(place, asked) for place, asked in asked_places if place not in used]
    if any(asked == midi for _, asked in left):
        return Verdict.ELSEWHERE
    if any((asked - midi) % 12 == 0 for _, asked in left):
        return Verdict.OCTAVE
    if any(place.string == string and abs(place.fret - fret) == 1 for place, _ in left):
        return Verdict.FRET_OFF
    if any(place.fret == fret and abs(place.string - string) == 1 for place, _ in left):
        return Verdict.STRING_OFF
    return Verdict.WRONG


def judge_name(prompt: Prompt, pitch_class: int) -> Verdict:
    """Judge a typed name by its pitch class (0 is C): every spelling of the note is right."""
    return Verdict.RIGHT if pitch_class == prompt.midi % 12 else Verdict.WRONG

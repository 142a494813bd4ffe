"""What the screens say: verdicts, cues, intervals and cautions in plain words."""

from collections.abc import Sequence

from midifret.gear.guitar import Guitar
from midifret.neck import Accidentals, Language, Neck, interval_words, pitch_name, spell
from midifret.session.screen import LastAnswer
from midifret.show.staff import staff_words
from midifret.terms import CueKind, Judged, Place, Prompt, SpelledPitch, Tempo, Verdict
from midifret.terms.control import Control

# What music students are told about overuse: regular breaks, a daily limit, no sudden increase, five to
# ten minutes an hour away from the instrument, pain as a sign to stop and ask (NASM-PAMA student
# sheet; Barton).
CAUTION = (
    "Play without strain: take regular breaks, and add time or difficulty little by little. "
    "Pain is a sign to stop; if it returns, ask your teacher or a doctor."
)
REST = "{minutes} minutes played: put the guitar down and rest your hands for five minutes."
FIRST_RUN = "No guitar is set up yet, so the default is used: `midifret setup` hooks up yours."

_VERDICTS = {
    Verdict.RIGHT: "right",
    Verdict.ELSEWHERE: "right note, other place",
    Verdict.OCTAVE: "right name, other octave",
    Verdict.FRET_OFF: "one fret off",
    Verdict.STRING_OFF: "one string off",
    Verdict.WRONG: "wrong note",
    Verdict.MISSED: "no answer",
}
_MOST_PLACES_TOLD = 2
_ORDERS = {
    Control.START: "start",
    Control.PAUSE: "pause",
    Control.AGAIN: "again",
    Control.NEXT: "next",
    Control.QUIT: "quit",
}
_NUMBERS = ("no", "one", "two", "three", "four", "five")


def rest_words(minutes: int) -> str:
    """The reminder to rest after so many minutes of playing."""
    return REST.format(minutes=minutes)


def verdict_name(verdict: Verdict) -> str:
    """A verdict as a student reads it."""
    return _VERDICTS[verdict]


def _count(number: int) -> str:
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def counted(number: int, one: str, several: str = "") -> str:
    """So many of something in figures: `1 pass`, `3 passes`. several: where it is not `one` and an s."""
    return f"{number:,} {one if number == 1 else several or one + 's'}"


def place_words(place: Place) -> str:
    """A place in words: `string 4, fret 5`, `string 4, open`."""
    return f"string {place.string}, {'open' if place.fret == 0 else f'fret {place.fret}'}"


def places_words(places: Sequence[Place]) -> str:
    """Several places in words."""
    return " or ".join(place_words(place) for place in places)


def shown_names(pitch: SpelledPitch, language: Language, accidentals: Accidentals) -> tuple[str, ...]:
    """The name of a pitch as players are shown it: one, or both where both are asked."""
    if accidentals is Accidentals.BOTH and abs(pitch.alter) == 1:
        both = spell(pitch.midi, Accidentals.BOTH)
        if len(both) == 2:
            return tuple(pitch_name(each, language) for each in both)
    return (pitch_name(pitch, language),)


def cue_words(
    prompt: Prompt,
    language: Language,
    accidentals: Accidentals,
    *,
    staff_drawn: bool = False,
    beside: bool = True,
) -> str:
    """What the cue shows, in one line of words, and no more than it shows.

    staff_drawn: the staff is there to be read, so nothing is said of where the note stands on it.
    beside: with what is said beside the cue.
    """
    name = " / ".join(shown_names(prompt.pitch, language, accidentals)) if CueKind.NAME in prompt.cue else ""
    place = shown_place(prompt)
    if prompt.judged is Judged.NAME:
        first = f"name the note on {place_words(place)}" if place else "name the note"
    elif CueKind.STAFF in prompt.cue:
        first = name if staff_drawn else f"{name} {staff_words(prompt.pitch)}".strip()
    else:
        first = name
    if place is not None and prompt.judged is not Judged.NAME:
        first = f"{first} on {place_words(place)}" if first else place_words(place)
    elif CueKind.STRING in prompt.cue:
        string = f"string {prompt.places[0].string}"
        first = f"{first} on {string}" if first else string if staff_drawn else f"next on {string}"
    parts = [first] if first else []
    if CueKind.INTERVAL in prompt.cue and prompt.interval_semitones is not None:
        parts.append(interval_words(prompt.interval_semitones))
    if not prompt.cue:
        parts.append(walk_words(prompt, language))
    return "; ".join(parts + beside_words(prompt) if beside else parts)


def signal_words(guitar: Guitar, *, in_tempo: bool = False) -> str:
    """The orders that two strings plucked together give, in one line; empty where there are none.

    in_tempo: nothing is skipped on a beat.
    """
    told = []
    for signal in guitar.signals:
        if in_tempo and signal.control is Control.NEXT:
            continue
        strings = [f"{p.string}{f' at fret {p.fret}' if p.fret else ''}" for p in signal.places]
        told.append(f"{' and '.join(strings)} {_ORDERS[signal.control]}")
    return f"Open strings plucked together: {', '.join(told)}." if told else ""


def tempo_words(tempo: Tempo) -> str:
    """What a player should know of a tempo before the first beat, in one line."""
    notes = "" if tempo.notes_a_beat == 1 else f", {tempo.notes_a_beat} notes a beat"
    count_in = f"{counted(tempo.count_in, 'beat')} to count in" if tempo.count_in else "no count-in"
    return f"In tempo, {tempo.tempo_bpm:.0f} bpm{notes}, {count_in}."


def walk_words(prompt: Prompt, language: Language) -> str:
    """What is said where the cue shows nothing: where the walk begins, or that it goes on."""
    if prompt.n > 1:
        return "the walk is yours: play its next note"
    name = pitch_name(prompt.pitch, language)
    return f"the walk is yours: begin with {name} on {place_words(prompt.places[0])}"


def beside_words(prompt: Prompt) -> list[str]:
    """What is said beside the cue: the hint, the places given and held."""
    parts = []
    if prompt.hint:
        parts.append(prompt.hint)
    if prompt.given is not None and prompt.judged is not Judged.NAME and prompt.given != prompt.held:
        parts.append(f"given: {place_words(prompt.given)}")
    if prompt.held is not None:
        parts.append(f"hold {place_words(prompt.held)}")
    if prompt.each_once is not None and "once" not in prompt.hint:
        parts.append("each place once")
    if prompt.judged is Judged.PITCH and prompt.cue and not {CueKind.STRING, CueKind.PLACE} & set(prompt.cue):
        parts.append("anywhere on the neck")
    return parts


def shown_place(prompt: Prompt) -> Place | None:
    """The place that the cue gives away: the one to name, or the one to play."""
    if prompt.judged is Judged.NAME:
        return prompt.given or prompt.places[0]
    if prompt.given is not None:
        return None  # the place shown is the given one, not the answer
    return prompt.places[0] if CueKind.PLACE in prompt.cue else None


def typed_shown(typed: str, language: Language) -> str:
    """Letters typed so far, as a name is written: f# becomes F♯ in English, sib becomes si♭ in fixed-do."""
    if language is Language.GERMAN:
        return typed[:1].upper() + typed[1:].lower()
    if language is Language.FIXED_DO:
        stem = typed.lower()
        signs = ""
        while stem and stem[-1] in "#b":
            signs = ("♯" if stem[-1] == "#" else "♭") + signs
            stem = stem[:-1]
        return stem + signs
    return typed[:1].upper() + typed[1:].lower().replace("#", "♯").replace("b", "♭")


def verdict_words(last: LastAnswer, neck: Neck, language: Language) -> str:
    """The verdict on an answer in one or two sentences that say what to look for."""
    if last.verdict is Verdict.RIGHT:
        return "Right." if last.first else f"Right now: that is {last.name}."
    if last.typed:
        return f"You typed {typed_shown(last.typed, language)}; it is {last.name}."
    if last.verdict is Verdict.MISSED:
        if len(last.asked) > _MOST_PLACES_TOLD:
            return f"No answer; asked was {last.name}."
        return f"No answer: {last.name} is on {places_words(last.asked)}."
    return _wrong_words(last, neck)


def _wrong_words(last: LastAnswer, neck: Neck) -> str:
    played = last.played
    if played is not None and played in last.asked:
        return "This place has had its turn: find another one."
    nearest = _nearest(last)
    match last.verdict:
        case Verdict.ELSEWHERE:
            return f"Right note, other place: {last.name} was asked on {_strings_words(last.asked)}."
        case Verdict.OCTAVE if played is not None:
            octaves, direction = _octaves(neck.midi(played), [neck.midi(place) for place in last.asked])
            return f"Right name, {octaves} too {direction}."
        case Verdict.OCTAVE:
            return "Right name, wrong octave."
        case Verdict.FRET_OFF if played is not None and nearest is not None:
            return f"Right string, one fret too {'high' if played.fret > nearest.fret else 'low'}."
        case Verdict.STRING_OFF if played is not None and nearest is not None:
            return f"Right fret, wrong string: you played string {played.string}, asked was {nearest.string}."
    if played is None:
        heard = f"That was {last.played_name}, at" if last.played_name else "That was"
        return f"{heard} no place of this guitar; asked was {last.name}."
    return f"That was {last.played_name}; asked was {last.name}."


def _nearest(last: LastAnswer) -> Place | None:
    if last.played is None or not last.asked:
        return None
    played = last.played
    return min(last.asked, key=lambda p: abs(p.string - played.string) + abs(p.fret - played.fret))


def _octaves(played_midi: int, asked_midis: Sequence[int]) -> tuple[str, str]:
    off = min((played_midi - midi for midi in asked_midis), key=abs)
    octaves = abs(off) // 12
    return ("an octave" if octaves == 1 else f"{_count(octaves)} octaves"), "high" if off > 0 else "low"


def _strings_words(places: Sequence[Place]) -> str:
    strings = sorted({place.string for place in places})
    if len(strings) == 1:
        return f"string {strings[0]}" if len(places) > 1 else place_words(places[0])
    return f"string {', '.join(map(str, strings[:-1]))} or {strings[-1]}"


def clock_words(seconds: float) -> str:
    """Time played as minutes and seconds, 1:05."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02}"


def seconds_words(seconds: float | None) -> str:
    """A response time in seconds, or a dash."""
    return "-" if seconds is None else f"{seconds:.2f} s"


def late_words(late_ms: float) -> str:
    """How early or late a note was, in whole ms."""
    number = round(abs(late_ms))
    return f"{number} ms {'late' if late_ms > 0 else 'early'}" if number else "on the beat"


def per_cent(share: float) -> str:
    """A share from 0 to 1 in whole per cent; only all is called 100, and only none is called 0."""
    rounded = round(100 * share)
    if rounded == 0 and share > 0:
        return "<1%"
    return f"{99 if rounded == 100 and share < 1 else rounded}%"

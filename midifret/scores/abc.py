"""ABC before the library reads it: one tune, without what says nothing of notes or makes it stumble."""

import re
from dataclasses import dataclass, field

from midifret.scores.faults import ScoreFault
from midifret.scores.limits import MOST_NOTES

_FIELD = re.compile(r"\A([A-Za-z]):(.*)\Z")
_CLEF = re.compile(
    r"(?:clef\s*=\s*)?[\"']?\b(?P<name>treble|alto|tenor|bass|perc|none|G|F|C)(?P<line>[1-5])?(?P<octave>[+^-]8(?:va)?|_8)?[\"']?"
    r"(?=\s|\Z|\])"
)
_OCTAVE = re.compile(r"\boctave\s*=\s*([+-]?\d)\b")
_TRANSPOSE = re.compile(r"\btranspose\s*=\s*([+-]?\d{1,2})\b")
_OTHER = re.compile(
    r"\b(?:middle|m|stafflines|staves|name|nm|snm|sname|subname|brace|bracket|stem|gchords?|stems|cue)\s*=\s*(?:\"[^\"]*\"|\S+)"
)
_DECORATIONS = re.compile(
    r"![^!\n|]{1,30}!|\+[a-z0-9().<>]{1,20}\+|(?<![A-Za-z0-9])[~HLMOPSTuv.](?=[~HLMOPSTuv.^_=A-Ga-g(\[{])"
)
_NOTE = re.compile("[A-Ga-gxzZ]")
_INLINE = re.compile(r"\[([A-Za-z]):([^\]\n]*)\]")
_JUMPS = re.compile(r"!(D\.C\.|D\.S\.|dacapo|dacoda|fine|segno|coda)[^!]*!", re.IGNORECASE)
_FINGERS = re.compile(r"!([0-5])!")


@dataclass(slots=True)
class Prepared:
    """One tune made ready.

    clefs: by voice, "" for the key's: "treble-8" or what else is named. chromatics: by voice, what sounds
    above its letters. names: of the voices, in order.
    """

    text: str
    title: str
    composer: str
    clefs: dict[str, str] = field(default_factory=dict)
    chromatics: dict[str, int] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    named: set[str] = field(default_factory=set)  # voices with a name of their own
    warnings: list[str] = field(default_factory=list)


def tunes(text: str) -> list[tuple[str, str]]:
    """Cut a file into its tunes: (title, text), with what stands before the first one in front of each."""
    parts = re.split(r"(?m)^(?=X:)", text.replace("\r\n", "\n").replace("\r", "\n"))
    head, bodies = parts[0], parts[1:]
    if not bodies:
        raise ScoreFault("no tune begins here", "a line X: with the tune's number")
    defaults = "\n".join(
        line for line in head.split("\n") if re.match(r"[MLRKQ]:|%%(?:score|staves)\b", line)
    )
    return [(_title(body), _with_defaults(body, defaults)) for body in bodies]


def _title(body: str) -> str:
    found = re.search(r"(?m)^T:(.*)$", body)
    return found[1].strip() if found else ""


def _with_defaults(body: str, defaults: str) -> str:
    first, _, rest = body.partition("\n")
    return f"{first}\n{defaults}\n{rest}" if defaults else body


def prepare(tune: str) -> Prepared:
    """Make one tune ready to be read. Raises ScoreFault for one without a key, where no music begins."""
    composer = re.search(r"(?m)^C:(.*)$", tune)
    prepared = Prepared("", _title(tune), composer[1].strip() if composer else "")
    lines: list[str] = []
    in_music = False
    continued = False
    for raw in tune.split("\n"):
        line = re.sub(r"(?<!\\)%.*", "", raw).rstrip()
        if raw.startswith("%") or (not line and raw):
            continue
        if not line:
            if in_music:
                break  # an empty line ends a tune (ABC 2.1, 2.2.2)
            continue
        field_ = _FIELD.match(line)
        if field_ and not continued:
            letter, value = field_[1], field_[2]
            if letter in "wWsUmINZHSBDFGORAr" or (letter == "C" and in_music):
                if letter in "Um":
                    _warn(prepared, f"the definitions of the field {letter}: are not followed")
                continue
            if letter == "P" and not in_music:
                _warn(prepared, "the order of parts (P:) is not followed: the tune is read as it stands")
                continue
            if letter == "P":
                continue
            if letter in "KV":
                line = f"{letter}:{_without_clef(letter, value, prepared)}"
            in_music = in_music or letter == "K"
            lines.append(line)
            continue
        if not in_music:
            continue
        lines.append(_music(line, prepared))
    if not in_music:
        raise ScoreFault("the tune has no key, where its music begins", "a line K: before the notes")
    notes = sum(len(_NOTE.findall(line)) for line in lines if not _FIELD.match(line))
    if notes > MOST_NOTES:
        raise ScoreFault(f"the tune holds more than {MOST_NOTES:,} notes and rests", "a shorter score")
    prepared.text = "\n".join(lines) + "\n"
    return prepared


def on_one_staff(tune: str, prepared: Prepared) -> tuple[tuple[str, ...], ...]:
    """Return the groups of voices that are one part.

    Those in round brackets in %%score or %%staves share a staff (ABC 2.1, 11.1, from memory). Where no such
    line stands, all voices are one part if none has a name and all have the same clef and transposition
    [ours]: a file for one guitar seldom says more.
    """
    voices = tuple(voice for voice in prepared.names if voice)
    layout = re.search(r"(?m)^%%(?:score|staves)\b(.*)$", tune)
    if layout:
        groups = [tuple(group.split()) for group in re.findall(r"\(([^()]*)\)", layout[1])]
        return tuple(g for g in groups if len(g) > 1 and set(g) <= set(voices))
    looks = {
        (
            prepared.clefs.get(v, prepared.clefs.get("")),
            prepared.chromatics.get(v, prepared.chromatics.get("")),
        )
        for v in voices
    }
    return (voices,) if len(voices) > 1 and not prepared.named and len(looks) == 1 else ()


def _warn(prepared: Prepared, text: str) -> None:
    if text not in prepared.warnings:
        prepared.warnings.append(text)


def _without_clef(letter: str, value: str, prepared: Prepared) -> str:
    """Take clef and transposition out of a K: or V: field; the library follows some of them and not others.

    -8 below the clef: the player sounds an octave lower (ABC 2.1, 4.6, from memory). octave= moves what the
    letters mean, transpose= what sounds.
    """
    shift, said = 0, False
    first = re.match(r"\s*(HP|Hp|none|[A-G][#b]?)?\s*" if letter == "K" else r"\s*(\S*)\s*", value)
    assert first is not None  # both may be empty
    head, tail = value[: first.end()], value[first.end() :]
    voice = "" if letter == "K" else first[1]
    if voice or letter == "V":
        named = re.search(r"\b(?:name|nm)\s*=\s*\"([^\"]*)\"", tail)
        prepared.names[voice] = named[1] if named else prepared.names.get(voice, voice)
        if named:
            prepared.named.add(voice)
    if found := _OCTAVE.search(tail):
        shift, said = shift + 12 * int(found[1]), said
        tail = tail[: found.start()] + tail[found.end() :]
        _warn(prepared, f"octave={found[1]} is followed")
    if found := _TRANSPOSE.search(tail):
        shift, said = shift + int(found[1]), True
        tail = tail[: found.start()] + tail[found.end() :]
    if found := _CLEF.search(tail):
        octave = found["octave"] or ""
        prepared.clefs[voice] = f"{found['name']}{found['line'] or ''}{octave}"
        if "8" in octave:
            shift, said = shift + (12 if octave[0] in "+^" else -12), True
        tail = tail[: found.start()] + tail[found.end() :]
    if said or shift:
        prepared.chromatics[voice] = shift
    tail = _OTHER.sub("", tail)
    return f"{head} {tail.strip()}".strip()


def _music(line: str, prepared: Prepared) -> str:
    if _JUMPS.search(line):
        _warn(prepared, "da capo, dal segno and coda are not followed in ABC")
    if _FINGERS.search(line):
        _warn(prepared, "fingers are not read from ABC")
    if "&" in line:
        _warn(prepared, "a second voice within a bar (&) may be read wrongly")
    line = re.sub(r'"[^"\n]*"', "", line)
    line = _DECORATIONS.sub("", line)

    def inline(match: re.Match[str]) -> str:
        letter, value = match[1], match[2]
        if letter in "KV":
            return f"[{letter}:{_without_clef(letter, value, prepared)}]"
        return match[0] if letter in "LMQ" else ""

    return _INLINE.sub(inline, line)

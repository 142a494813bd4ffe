"""MusicXML before the library reads it: partwise, lean, each note numbered, what it would lose kept."""

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass, field, replace
from xml.etree.ElementTree import Element

from midifret.scores.faults import ScoreFault
from midifret.scores.jumps import ending_numbers, with_words
from midifret.scores.limits import MOST_BARS, MOST_PARTS, MOST_TIMES
from midifret.terms.pitch import STEP_SEMITONES
from midifret.terms.score import Directions

# What says nothing about which notes sound when. Some of it makes the library stumble (chord symbols) or
# takes it most of its time (beams).
_LEFT_OUT = {
    "harmony", "lyric", "beam", "stem", "figured-bass", "print", "credit", "defaults", "listening",
    "grouping", "link", "bookmark", "notehead", "notehead-text", "play", "dynamics", "metronome-mark",
}  # fmt: skip
_STRIPPED_NOTATIONS = {
    "articulations", "ornaments", "dynamics", "fermata", "arpeggiate", "non-arpeggiate", "glissando",
    "slide", "accidental-mark", "other-notation", "technical",
}  # fmt: skip
_KEPT_DIRECTIONS = {"words", "dashes", "bracket", "metronome", "rehearsal"}


@dataclass(slots=True)
class NoteFacts:
    """What stands at one note of the file."""

    voice: str
    staff: int
    finger: int | None = None
    string: int | None = None
    fret: int | None = None
    harmonic: str = ""  # "", "natural" or "artificial"
    harmonic_pitch: str = ""  # which pitch is written: "", base, touching, sounding
    slurred: bool = False
    ident: str = ""


@dataclass(slots=True)
class PartFacts:
    """What stands in one part, by staff where it is said by staff."""

    name: str
    diatonic: dict[int, int] = field(default_factory=dict)
    chromatic: dict[int, int] = field(default_factory=dict)
    tuning_midis: dict[int, tuple[int, ...]] = field(default_factory=dict)
    capo: int = 0
    directions: list[Directions] = field(default_factory=list)
    transpositions: int = 0
    measures: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Prepared:
    """The lean document, and what was kept of it. notes: by number, from 1."""

    text: str
    parts: list[PartFacts]
    notes: dict[int, NoteFacts]
    warnings: list[str]


def prepare(root: Element) -> Prepared:
    """Make a MusicXML document ready to be read. Raises ScoreFault for one without parts or bars."""
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
    if root.tag == "score-timewise":
        root = _partwise(root)
    if root.tag == "opus":
        raise ScoreFault("this file only lists other scores (opus)", "one score in each file")
    if root.tag != "score-partwise":
        raise ScoreFault(
            f"this XML is no score: its root is {root.tag!r}", "score-partwise or score-timewise"
        )
    names = {
        part.get("id", ""): " ".join((part.findtext("part-name") or "").split())
        for part in root.iter("score-part")
    }
    parts = root.findall("part")
    if not parts:
        raise ScoreFault("there is no part in this score")
    if len(parts) > MOST_PARTS:
        raise ScoreFault(f"the score has {len(parts)} parts", f"at most {MOST_PARTS}")
    prepared = Prepared("", [], {}, [])
    for part in parts:
        if part.get("id", "") not in names:
            raise ScoreFault(f"the part {part.get('id', '')!r} is not in the part list")
        if len(part.findall("measure")) > MOST_BARS:
            raise ScoreFault(f"the score has more than {MOST_BARS:,} bars")
        prepared.parts.append(_part(part, names[part.get("id", "")], prepared))
    _lean(root)
    prepared.text = ElementTree.tostring(root, encoding="unicode")
    return prepared


def _partwise(root: Element) -> Element:
    """Turn a timewise score, measures that hold parts, into a partwise one."""
    new = Element("score-partwise", root.attrib)
    parts: dict[str, Element] = {}
    for child in root:
        if child.tag != "measure":
            new.append(child)
            continue
        for part in child.findall("part"):
            ident = part.get("id", "")
            if ident not in parts:
                parts[ident] = Element("part", {"id": ident})
            measure = ElementTree.SubElement(parts[ident], "measure", child.attrib)
            measure.extend(list(part))
    new.extend(parts.values())
    return new


def _lean(root: Element) -> None:
    for parent in list(root.iter()):
        for child in list(parent):
            if _needless(parent, child):
                parent.remove(child)
        if parent.tag == "measure":
            for child in parent.findall("direction"):
                if child.find("direction-type") is None:
                    parent.remove(child)
                else:
                    _only_words(child)


def _needless(parent: Element, child: Element) -> bool:
    if child.tag == "direction-type":
        return not any(kind.tag in _KEPT_DIRECTIONS for kind in child)
    return child.tag in _LEFT_OUT or (parent.tag == "notations" and child.tag in _STRIPPED_NOTATIONS)


def _only_words(direction: Element) -> None:
    for kind in direction.findall("direction-type"):
        for child in list(kind):
            if child.tag not in _KEPT_DIRECTIONS:
                kind.remove(child)
        if not len(kind):
            direction.remove(kind)


def _part(part: Element, name: str, prepared: Prepared) -> PartFacts:
    facts = PartFacts(name)
    hammered: set[str] = set()
    ending: tuple[int, ...] = ()
    for measure in part.findall("measure"):
        here = Directions(endings=ending)
        facts.measures.append(measure.get("number", ""))
        for child in measure:
            if child.tag == "attributes":
                _attributes(child, facts)
            elif child.tag == "note":
                _note(child, prepared, hammered)
            elif child.tag in ("direction", "sound"):
                here = _direction(child, here)
            elif child.tag == "barline":
                here, ending = _barline(child, here, ending)
        facts.directions.append(here)
    return facts


def _direction(element: Element, here: Directions) -> Directions:
    for words in element.iter("words"):
        here = with_words(here, words.text or "")
    if element.find("direction-type/segno") is not None:
        here = replace(here, segno=True)
    if element.find("direction-type/coda") is not None:
        here = replace(here, coda=True)
    for sound in element.iter("sound"):
        if sound.get("dacapo") == "yes":
            here = replace(here, jump="dc")
        if sound.get("dalsegno"):
            here = replace(here, jump="ds")
        if sound.get("fine"):
            here = replace(here, fine=True)
        if sound.get("tocoda") or sound.get("coda"):
            here = replace(here, coda=True)
        if sound.get("segno"):
            here = replace(here, segno=True)
    return here


def _barline(
    barline: Element, here: Directions, ending: tuple[int, ...]
) -> tuple[Directions, tuple[int, ...]]:
    repeat = barline.find("repeat")
    if repeat is not None and repeat.get("direction") == "forward":
        here = replace(here, repeat_start=True)
    elif repeat is not None:
        times = int_in(repeat.get("times"), "times", 1, MOST_TIMES) or 2
        here = replace(here, repeat_end=times)
    if barline.find("segno") is not None:
        here = replace(here, segno=True)
    if barline.find("coda") is not None:
        here = replace(here, coda=True)
    mark = barline.find("ending")
    if mark is None:
        return here, ending
    if mark.get("type") == "start":
        ending = ending_numbers(mark.get("number", "")) or ending_numbers(mark.text or "")
        return replace(here, endings=ending), ending
    if barline.get("location") == "left" and not here.endings:
        return here, ()
    return replace(here, endings=here.endings or ending), ()


def int_in(text: str | None, what: str, least: int, most: int) -> int | None:
    """Read a whole number, None where there is none. Raises ScoreFault outside of least and most."""
    if text is None or not text.strip():
        return None
    try:
        number = int(float(text))
    except (ValueError, OverflowError):
        raise ScoreFault(
            f"{what} is {text.strip()[:40]!r}", f"a whole number from {least} to {most}"
        ) from None
    if not least <= number <= most:
        raise ScoreFault(f"{what} is {number}", f"{least} to {most}")
    return number


def _attributes(attributes: Element, facts: PartFacts) -> None:
    for transpose in attributes.findall("transpose"):
        staff = int_in(transpose.get("number"), "the staff of a transposition", 1, 99) or 0
        octave = int_in(transpose.findtext("octave-change"), "octave-change", -4, 4) or 0
        chromatic = int_in(transpose.findtext("chromatic"), "chromatic", -60, 60) or 0
        diatonic = int_in(transpose.findtext("diatonic"), "diatonic", -60, 60)
        if diatonic is None:
            diatonic = round(7 * chromatic / 12)
        whole = (diatonic + 7 * octave, chromatic + 12 * octave)
        if transpose.find("double") is not None:
            whole = (whole[0] - 7, whole[1] - 12)
        if staff in facts.chromatic and facts.chromatic[staff] != whole[1]:
            facts.transpositions += 1
            continue
        facts.diatonic[staff], facts.chromatic[staff] = whole
    for details in attributes.findall("staff-details"):
        staff = int_in(details.get("number"), "a staff's number", 1, 99) or 1
        capo = int_in(details.findtext("capo"), "capo", 0, 24)
        if capo is not None:
            facts.capo = capo
        tuned: dict[int, int] = {}
        for tuning in details.findall("staff-tuning"):
            line = int_in(tuning.get("line"), "the line of a staff-tuning", 1, 12)
            step = (tuning.findtext("tuning-step") or "").strip()
            height = int_in(tuning.findtext("tuning-octave"), "tuning-octave", 0, 9)
            alter = int_in(tuning.findtext("tuning-alter"), "tuning-alter", -2, 2) or 0
            if line is None or height is None or step not in STEP_SEMITONES:
                raise ScoreFault("a staff-tuning without line, step or octave")
            tuned[line] = 12 * (height + 1) + STEP_SEMITONES[step] + alter
        if tuned:  # lines count from the bottom, strings from the highest (MusicXML 4.0)
            facts.tuning_midis[staff] = tuple(tuned[line] for line in sorted(tuned, reverse=True))


def _note(note: Element, prepared: Prepared, hammered: set[str]) -> None:
    number = len(prepared.notes) + 1
    staff = int_in(note.findtext("staff"), "a note's staff", 1, 99) or 1
    facts = NoteFacts((note.findtext("voice") or "1").strip(), staff, ident=note.get("id", ""))
    for technical in note.findall("notations/technical"):
        for mark in technical:
            _technical(mark, facts)
    prepared.notes[number] = facts
    # The library keeps a note's colour and neither its id nor its place in the file.
    for name in list(note.attrib):
        del note.attrib[name]
    note.set("color", f"#{number:06X}")


def _technical(mark: Element, facts: NoteFacts) -> None:
    text = (mark.text or "").strip()
    if mark.tag == "fingering" and mark.get("alternate") != "yes" and re.fullmatch("[0-4]", text):
        facts.finger = (
            int(text) if facts.finger is None and mark.get("substitution") != "yes" else facts.finger
        )
    elif mark.tag == "open-string":
        facts.finger = 0
    elif mark.tag == "string" and re.fullmatch("[1-9]|1[0-2]", text):
        facts.string = int(text)
    elif mark.tag == "fret" and re.fullmatch(r"\d|[1-3]\d", text):
        facts.fret = int(text)
    elif mark.tag in ("hammer-on", "pull-off") and mark.get("type") == "stop":
        facts.slurred = True
    elif mark.tag == "harmonic":
        facts.harmonic = "artificial" if mark.find("artificial") is not None else "natural"
        for kind in ("base", "touching", "sounding"):
            if mark.find(f"{kind}-pitch") is not None:
                facts.harmonic_pitch = kind


def note_number(color: object) -> int:
    """Return the number that `prepare` gave a note, 0 for none."""
    text = str(color or "")
    return int(text[1:], 16) if re.fullmatch("#[0-9A-F]{6}", text) else 0

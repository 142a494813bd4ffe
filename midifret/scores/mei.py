"""MEI before the library reads it: endings and wrappers opened, and what it would lose kept."""

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass, field, replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from midifret.scores.faults import ScoreFault
from midifret.scores.jumps import ending_numbers, with_words
from midifret.scores.limits import MOST_BARS
from midifret.scores.musicxml import NoteFacts
from midifret.scores.position_words import position_words
from midifret.scores.written import WrittenMark
from midifret.terms.score import Directions

MEI = "http://www.music-encoding.org/ns/mei"
_ID = "{http://www.w3.org/XML/1998/namespace}id"
# Elements that only wrap notes; what the library does not know it drops with all that is in it.
_WRAPPERS = {"ending", "graceGrp", "supplied", "unclear", "add", "corr", "reg", "lem", "rdg", "expansion"}
_CHOICES = {"app", "choice"}
_FUNCTIONS = {"daCapo": "D.C.", "dalSegno": "D.S.", "fine": "Fine", "segno": "Segno", "coda": "Coda"}


@dataclass(slots=True)
class Prepared:
    """The document made ready, and what was kept of it. notes: by id. marks: for all staves."""

    text: str
    title: str
    composer: str
    names: list[str] = field(default_factory=list)
    transposed: list[tuple[int, int] | None] = field(default_factory=list)
    tunings: list[tuple[int, ...]] = field(default_factory=list)
    directions: list[Directions] = field(default_factory=list)
    measures: list[str] = field(default_factory=list)
    notes: dict[str, NoteFacts] = field(default_factory=dict)
    marks: list[tuple[int, str, WrittenMark]] = field(default_factory=list)
    marks_at: dict[str, WrittenMark] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)


def prepare(root: Element) -> Prepared:
    """Make an MEI document ready to be read. Raises ScoreFault for one without a score."""
    if root.tag != f"{{{MEI}}}mei":
        raise ScoreFault("this XML is no score: it is not MEI", f"a root `mei` in the namespace {MEI}")
    for number, movement in enumerate(list(root.iter(_mei("mdiv")))):
        if number:
            raise ScoreFault("the file holds more than one movement (mdiv)", "one movement in each file")
        if movement.find(_mei("score")) is None:
            raise ScoreFault("the movement holds no score", "mdiv with a score (not parts)")
    for parent in root.iter():
        parent.set("n", parent.get("n", "")) if parent.tag == _mei("ending") else None
    prepared = Prepared("", _text(root, "title"), _text(root, "composer"))
    _open_wrappers(root)
    if len(prepared.measures) > MOST_BARS:
        raise ScoreFault(f"the score has more than {MOST_BARS:,} bars")
    for definition in root.iter(_mei("staffDef")):
        if _first_of_its_number(root, definition):
            _staff(definition, prepared)
    unit = 4
    number = 0
    for element in root.iter():
        if element.tag == _mei("note"):
            number += 1
            if _ID not in element.attrib:
                element.set(_ID, f"mfnote{number}")
            facts = NoteFacts("1", 1, ident=element.get(_ID, ""))
            if re.fullmatch("[1-9]|1[0-2]", element.get("tab.course", "")):
                facts.string = int(element.get("tab.course", ""))
            if re.fullmatch(r"\d|[1-3]\d", element.get("tab.fret", "")):
                facts.fret = int(element.get("tab.fret", ""))
            prepared.notes[facts.ident] = facts
    for element in root.iter():
        if element.tag in (_mei("scoreDef"), _mei("staffDef")) and element.get("meter.unit"):
            unit = int(element.get("meter.unit", "4")) if element.get("meter.unit", "4").isdigit() else unit
        elif element.tag == _mei("meterSig") and (element.get("unit") or "").isdigit():
            unit = int(element.get("unit", "4"))
        elif element.tag == _mei("measure"):
            _measure(element, prepared, max(unit, 1))
    prepared.text = ElementTree.tostring(root, encoding="unicode")
    return prepared


def _mei(name: str) -> str:
    return f"{{{MEI}}}{name}"


def _text(root: Element, name: str) -> str:
    for element in root.iter(_mei(name)):
        if words := " ".join("".join(element.itertext()).split()):
            return words
    return ""


def _first_of_its_number(root: Element, definition: Element) -> bool:
    n = definition.get("n")
    return next((e for e in root.iter(_mei("staffDef")) if e.get("n") == n), None) is definition


def _staff(definition: Element, prepared: Prepared) -> None:
    label = definition.find(_mei("label"))
    name = definition.get("label", "") or ("".join(label.itertext()) if label is not None else "")
    prepared.names.append(" ".join(name.split()))
    semitones, steps = definition.get("trans.semi"), definition.get("trans.diat")
    if semitones is not None and re.fullmatch(r"-?\d{1,2}", semitones):
        chromatic = int(semitones)
        diatonic = int(steps) if steps and re.fullmatch(r"-?\d{1,2}", steps) else round(7 * chromatic / 12)
        prepared.transposed.append((diatonic, chromatic))
    else:
        prepared.transposed.append(None)
    courses = {}
    for course in definition.iter(_mei("course")):
        pitch, octave = course.get("pname", "").upper(), course.get("oct", "")
        if re.fullmatch(r"\d{1,2}", course.get("n", "")) and octave.isdigit() and len(pitch) == 1:
            alter = {"s": 1, "f": -1}.get(course.get("accid", ""), 0)
            steps_up = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}.get(pitch)
            if steps_up is not None:
                courses[int(course.get("n", "0"))] = 12 * (int(octave) + 1) + steps_up + alter
    prepared.tunings.append(tuple(courses[n] for n in sorted(courses)))


def _open_wrappers(element: Element) -> None:
    """Put what wrappers hold in their place; the bars of an ending keep its number."""
    children: list[Element] = []
    for child in list(element):
        _open_wrappers(child)
        name = child.tag.rpartition("}")[2] if isinstance(child.tag, str) else ""
        if name in _CHOICES:
            children += list(child[0]) if len(child) and child[0].tag == _mei("wrapped") else list(child)[:1]
        elif name in _WRAPPERS:
            for inner in child:
                if name == "ending" and inner.tag == _mei("measure"):
                    inner.set("midifret-ending", child.get("n", ""))
                children.append(inner)
        else:
            children.append(child)
    # A chosen reading may itself have been a wrapper: its notes then stand in its place.
    element[:] = [
        inner
        for child in children
        for inner in (list(child) if child.tag in {_mei(name) for name in _WRAPPERS} else [child])
    ]


def _measure(measure: Element, prepared: Prepared, unit: int) -> None:
    bar = len(prepared.measures)
    prepared.measures.append(measure.get("n", ""))
    left, right = measure.get("left", ""), measure.get("right", "")
    here = Directions(endings=ending_numbers(measure.attrib.pop("midifret-ending", "")))
    if left in ("rptstart", "rptboth"):
        here = replace(here, repeat_start=True)
    if prepared.directions and prepared.measures and left == "rptboth":
        prepared.directions[-1] = replace(prepared.directions[-1], repeat_end=2)
    if right in ("rptend", "rptboth"):
        here = replace(here, repeat_end=2)
    if bar and prepared.measures and measure.get("midifret-start"):
        here = replace(here, repeat_start=True)
    for element in measure:
        name = element.tag.rpartition("}")[2]
        if name == "fing":
            _finger(element, prepared)
        elif name in ("dir", "repeatMark", "reh"):
            words = "".join(element.itertext()) or _FUNCTIONS.get(element.get("func", ""), "")
            here = with_words(here, words)
            _mark(element, words, bar, prepared, unit)
        elif name == "slur" and not (element.get("startid") and element.get("endid")):
            _warn(prepared, "slurs without startid and endid are not read")
        elif name == "tie" and not (element.get("startid") and element.get("endid")):
            _warn(prepared, "ties without startid and endid are not read")
    prepared.directions.append(here)


def _warn(prepared: Prepared, text: str) -> None:
    if text not in prepared.warnings:
        prepared.warnings.append(text)


def _finger(element: Element, prepared: Prepared) -> None:
    facts = prepared.notes.get(element.get("startid", "").removeprefix("#"))
    if facts is None:
        return
    circled = any(rend.get("rend") == "circle" for rend in element.iter(_mei("rend")))
    text = "".join(element.itertext()).strip()
    if circled and re.fullmatch("[1-9]|1[0-2]", text):
        facts.string = int(text)
    elif not circled and re.fullmatch("[0-4]", text):
        facts.finger = int(text)


def _mark(element: Element, words: str, bar: int, prepared: Prepared, unit: int) -> None:
    start = element.get("startid", "").removeprefix("#")
    if any(rend.get("rend") == "circle" for rend in element.iter(_mei("rend"))):
        facts = prepared.notes.get(start)
        if facts is not None and re.fullmatch("[1-9]|1[0-2]", words.strip()):
            facts.string = int(words)
        return
    read = position_words(words)
    if read is None:
        return
    end = re.fullmatch(r"(\d{1,3})m\+(\d{1,3}(?:\.\d{1,6})?)", element.get("tstamp2", ""))
    end_bar = bar + int(end[1]) if end else None
    end_quarter = (Fraction(end[2]) - 1) * 4 / unit if end else None
    if start:
        prepared.marks_at[start] = WrittenMark(bar, Fraction(0), *read, end_bar, end_quarter)
    elif re.fullmatch(r"\d{1,3}(\.\d{1,6})?", element.get("tstamp", "")):
        onset = (Fraction(element.get("tstamp", "1")) - 1) * 4 / unit
        mark = WrittenMark(bar, max(onset, Fraction(0)), *read, end_bar, end_quarter)
        prepared.marks.append((bar, element.get("staff", ""), mark))

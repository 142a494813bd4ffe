"""What is mended and added in the engraver's SVG: digits clear of stems, words on their lines, marks."""

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from xml.etree import ElementTree

from midifret.pages.marks import MARKS, mark_attributes
from midifret.terms import Place, Verdict

_SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"
_FONT = re.compile(r'font-family="Times[^"]*"')
# In the engraver's units, 180 to a space: how near a digit's middle may come to a stem and how far it is
# moved from it; half the height of capitals in words over the staff; room after them. [ours, by eye]
_NEAR, _AWAY = 160, 175
_HALF_CAPITAL, _GAP = 130, 110
# The same for grace notes: half a small head, the size of their frets.
_HALF_SMALL_HEAD, _SMALL_DIGIT = 80, 220
# Size of the finger beside a head of a chord: two heads a third apart leave 180. [ours, by eye]
_CHORD_DIGIT = 265
_LOWER = 150  # words of a jump, by eye [ours]
# Widths of italic capitals in shares of their size, generous [measured by eye].
_WIDTHS = {"I": 0.36, "V": 0.68, "X": 0.68, "C": 0.68, "½": 0.8}

ElementTree.register_namespace("", _SVG)
ElementTree.register_namespace("xlink", _XLINK)


def finished(
    svg: str,
    *,
    font: str,
    verdicts: Mapping[int, Verdict] | None = None,
    heads: Mapping[int, Sequence[str]] | None = None,
    graces: Mapping[str, Place] | None = None,
    fingers: Mapping[int, int] | None = None,
) -> str:
    """Mend one SVG of the engraver and mark the notes that `verdicts` names, by their numbers.

    heads: ids of the heads of each note. graces: places of grace notes by the ids of their heads, to be drawn
    into the tablature, where there is one. fingers: by the notes' numbers, for those beside heads of chords.
    The groups m{n} stay, each at its note's place in the row of marks (its `transform`), empty where there is
    no verdict, so that a caller may put a mark there later.
    """
    root = ElementTree.fromstring(_FONT.sub(f'font-family="{font}"', svg))
    groups = {ident: group for group in root.iter(f"{{{_SVG}}}g") if (ident := group.get("id"))}
    stems = _stems(root)
    for ident, group in groups.items():
        if re.fullmatch(r"f\d+", ident) and group.get("class") == "accid":
            _finger_beside_head(group, (fingers or {}).get(int(ident[1:])))
        elif re.fullmatch(r"f\d+", ident):
            _clear_of_stem(group, stems.get(f"n{ident[1:]}"))
        elif re.fullmatch(r"p\d+", ident) and f"e{ident[1:]}" in groups:
            _on_one_line(group, groups[f"e{ident[1:]}"])
        elif re.fullmatch(r"bar\d+(times|fine|jump)", ident):
            _below_stems(group)
        elif re.fullmatch(r"m\d+", ident):
            _mark(group, (verdicts or {}).get(int(ident[1:])))
    _apart(root)
    if graces:
        _graces_in_tablature(root, graces)
    for n, verdict in (verdicts or {}).items():
        for ident in (heads or {}).get(n, ()):
            if ident in groups:
                groups[ident].set("fill", MARKS[verdict].colour)
                groups[ident].set("color", MARKS[verdict].colour)
    return ElementTree.tostring(root, encoding="unicode")


def _stems(root: ElementTree.Element) -> dict[str, tuple[float, float, float]]:
    """Where the stem of each head stands: x, upper y, lower y."""
    found: dict[str, tuple[float, float, float]] = {}
    for group in root.iter(f"{{{_SVG}}}g"):
        kind = group.get("class", "")
        if kind not in ("note", "chord"):
            continue
        stem = next((child for child in group if child.get("class") == "stem"), None)
        path = None if stem is None else stem.find(f"{{{_SVG}}}path")
        if path is None:
            continue
        numbers = [float(number) for number in re.findall(r"-?[\d.]+", path.get("d", ""))]
        if len(numbers) != 4:
            continue
        place = (numbers[0], min(numbers[1], numbers[3]), max(numbers[1], numbers[3]))
        for note in (group, *group.iter(f"{{{_SVG}}}g")):
            if note.get("class") == "note":
                found[note.get("id", "")] = place
    return found


def _clear_of_stem(group: ElementTree.Element, stem: tuple[float, float, float] | None) -> None:
    text = group.find(f"{{{_SVG}}}text")
    if text is None or stem is None:
        return
    x, y = float(text.get("x", "0")), float(text.get("y", "0"))
    at, upper, lower = stem
    if abs(x - at) < _NEAR and upper - 40 < y and y - 220 < lower + 40:
        text.set("x", f"{at + (_AWAY if x >= at else -_AWAY):g}")


def _below_stems(words: ElementTree.Element) -> None:
    """The engraver makes room for these words before it moves them to the left, where a stem may be."""
    text = words.find(f"{{{_SVG}}}text")
    if text is not None:
        text.set("y", f"{float(text.get('y', '0')) + _LOWER:g}")


def _finger_beside_head(group: ElementTree.Element, finger: int | None) -> None:
    """Put the digit of a finger where the engraver has kept room for it, its middle as high as the head's."""
    glyph = group.find(f"{{{_SVG}}}use")
    if glyph is None or finger is None:
        return
    x, y = (float(number) for number in re.findall(r"-?[\d.]+", glyph.get("transform", ""))[:2])
    group.remove(glyph)
    group.set("class", "fing")
    at = {"x": f"{x:g}", "y": f"{y + _CHORD_DIGIT * 0.33:g}", "font-size": f"{_CHORD_DIGIT}px"}
    text = ElementTree.SubElement(group, f"{{{_SVG}}}text", at | {"font-weight": "bold"})
    text.text = str(finger)


def _on_one_line(words: ElementTree.Element, line: ElementTree.Element) -> None:
    """Let the line go on from the middle of the words: whichever is higher stays."""
    text = words.find(f"{{{_SVG}}}text")
    path, hook = line.find(f"{{{_SVG}}}path"), line.find(f"{{{_SVG}}}polyline")
    if text is None or path is None:
        return
    ends = [float(number) for number in re.findall(r"-?[\d.]+", path.get("d", ""))]
    if len(ends) != 4:
        return
    x = min(float(text.get("x", "0")), ends[0])
    start = x + _width(text) + _GAP
    y = min(ends[1], float(text.get("y", "0")) - _HALF_CAPITAL)
    text.set("x", f"{x:g}")
    text.set("y", f"{y + _HALF_CAPITAL:g}")
    moved = y - ends[1]
    if start < ends[2]:
        path.set("d", f"M{start:g} {y:g} L{ends[2]:g} {y:g}")
    else:
        line.remove(path)
    if hook is not None:
        points = [point.split(",") for point in hook.get("points", "").split()]
        hook.set("points", " ".join(f"{max(float(px), x):g},{float(py) + moved:g}" for px, py in points))
        if start >= ends[2]:
            line.remove(hook)


def _apart(root: ElementTree.Element) -> None:
    """Move words to the left that would run into the next ones."""
    texts = [
        text
        for group in root.iter(f"{{{_SVG}}}g")
        if re.fullmatch(r"p\d+", group.get("id", "")) and (text := group.find(f"{{{_SVG}}}text")) is not None
    ]
    texts.sort(key=lambda text: float(text.get("x", "0")))
    for text, following in pairwise(texts):
        x, y = (float(text.get(name, "0")) for name in ("x", "y"))
        next_x, next_y = (float(following.get(name, "0")) for name in ("x", "y"))
        over = x + _width(text) + _GAP / 2 - next_x
        if over > 0 and abs(y - next_y) < 2 * _HALF_CAPITAL:
            text.set("x", f"{x - over:g}")


def _width(text: ElementTree.Element) -> float:
    letters = "".join(text.itertext()).strip()
    size = max((float(s.get("font-size", "0px")[:-2]) for s in text.iter(f"{{{_SVG}}}tspan")), default=0.0)
    return size * sum(_WIDTHS.get(letter, 0.6) for letter in letters)


def _graces_in_tablature(root: ElementTree.Element, graces: Mapping[str, Place]) -> None:
    """Put the fret of each grace note, small, under its head on the line of its string."""
    for measure in root.iter(f"{{{_SVG}}}g"):
        staves = [child for child in measure if child.get("class") == "staff"]
        if measure.get("class") != "measure" or len(staves) < 2:
            continue
        lines = [child.get("d", "") for child in staves[1] if child.tag == f"{{{_SVG}}}path"]
        heights = [float(re.findall(r"[\d.]+", line)[1]) for line in lines]
        for group in staves[0].iter(f"{{{_SVG}}}g"):
            place = graces.get(group.get("id", ""))
            head = next(group.iter(f"{{{_SVG}}}use"), None)
            if place is None or head is None or place.string > len(heights):
                continue
            x = float(re.findall(r"-?[\d.]+", head.get("transform", ""))[0]) + _HALF_SMALL_HEAD
            y = heights[place.string - 1]
            fret = str(place.fret)
            wide = len(fret) * _SMALL_DIGIT / 2 + 30
            shape = {"x": f"{x - wide / 2:g}", "y": f"{y - 90:g}", "width": f"{wide:g}", "height": "180"}
            looks = {"style": "fill:#ffffff;stroke:none"}
            group_of_fret = ElementTree.SubElement(staves[1], f"{{{_SVG}}}g", {"class": "graceFret"})
            ElementTree.SubElement(group_of_fret, f"{{{_SVG}}}rect", shape | looks)
            at = {"x": f"{x:g}", "y": f"{y + _SMALL_DIGIT * 0.33:g}", "text-anchor": "middle"}
            text = ElementTree.SubElement(group_of_fret, f"{{{_SVG}}}text", at)
            text.set("font-size", f"{_SMALL_DIGIT}px")
            text.text = fret


def _mark(group: ElementTree.Element, verdict: Verdict | None) -> None:
    text = group.find(f"{{{_SVG}}}text")
    if text is None:
        return
    x, y = float(text.get("x", "0")), float(text.get("y", "0"))
    for child in list(group):
        group.remove(child)
    group.set("class", "mark")
    group.set("transform", f"translate({x:g} {y - 100:g})")
    if verdict is not None:
        ElementTree.SubElement(group, f"{{{_SVG}}}path", mark_attributes(verdict))

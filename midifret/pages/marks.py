"""Verdicts on a page: a shape beside the note and a colour of the note, each telling it alone."""

from collections.abc import Mapping
from dataclasses import dataclass

from midifret.terms import Verdict

# A shape is drawn inside a square of this side, its middle at the origin, in the page's own units (18 to a
# space of the staff is 180 of them).
SIDE = 240


@dataclass(frozen=True, slots=True)
class Mark:
    """How a verdict looks. path: SVG path in a square from -1 to 1; filled, else drawn as a line.

    words: in a legend.
    """

    words: str
    colour: str
    path: str
    filled: bool = False


# Colours: the palette safe for colour-blind eyes of Okabe and Ito (2008), from memory; the shapes tell the
# verdicts apart without it. All shapes [ours].
MARKS: Mapping[Verdict, Mark] = {
    Verdict.RIGHT: Mark("right", "#009e73", "M-0.8 0.1 L-0.2 0.7 L0.8 -0.7"),
    Verdict.ELSEWHERE: Mark(
        "right note, other place", "#0072b2", "M0 -0.8 L0.8 0 L0 0.8 L-0.8 0 Z", filled=True
    ),
    Verdict.OCTAVE: Mark("other octave", "#56b4e9", "M-0.8 -0.45 H0.8 M-0.8 0.45 H0.8"),
    Verdict.FRET_OFF: Mark("one fret off", "#e69f00", "M-0.8 0 H0.8 M0.3 -0.5 L0.8 0 L0.3 0.5"),
    Verdict.STRING_OFF: Mark("one string off", "#cc79a7", "M0 -0.8 V0.8 M-0.5 0.3 L0 0.8 L0.5 0.3"),
    Verdict.WRONG: Mark("wrong", "#d55e00", "M-0.7 -0.7 L0.7 0.7 M-0.7 0.7 L0.7 -0.7"),
    Verdict.MISSED: Mark("no answer", "#666666", "M-0.7 0 A0.7 0.7 0 1 0 0.7 0 A0.7 0.7 0 1 0 -0.7 0"),
}


def mark_attributes(verdict: Verdict, side: float = SIDE) -> dict[str, str]:
    """The attributes of the SVG path that draws a verdict around the origin, `side` wide."""
    mark = MARKS[verdict]
    looks = {
        "fill": mark.colour if mark.filled else "none",
        "stroke": mark.colour,
        "stroke-width": "0.24",
        "stroke-linecap": "round",
        "stroke-linejoin": "round",
    }
    # As a style, for the engraver's own style sheet goes before attributes.
    style = ";".join(f"{name}:{value}" for name, value in looks.items())
    return {"d": mark.path, "transform": f"scale({side / 2:g})", "style": style}


def legend_svg(verdict: Verdict) -> str:
    """One mark as an SVG of its own."""
    attributes = " ".join(f'{name}="{value}"' for name, value in mark_attributes(verdict, 20).items())
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="24" height="24" viewBox="-12 -12 24 24">'
        f"<path {attributes}/></svg>"
    )

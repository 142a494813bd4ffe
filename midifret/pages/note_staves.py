"""Single notes on short staves that all stand alike, so that one can take the place of another."""

import re
from collections.abc import Sequence

from midifret.pages.drawing import Job, engrave_apart
from midifret.pages.engraver import FONT
from midifret.pages.finish import finished
from midifret.pages.mei import one_note_mei
from midifret.terms import SpelledPitch, Unavailable

WIDTH_MM, _STAFF_MM = 26.0, 7.0
_VIEW = re.compile(r'viewBox="0 0 (\d+) (\d+)"')
_INNER = re.compile(r'<svg (class="definition-scale"[^>]*viewBox="0 0 (\d+) (\d+)")')
_MARGIN = re.compile(r'class="page-margin" transform="translate\((-?[\d.]+), (-?[\d.]+)\)"')
_TOP_LINE = re.compile(r'class="staff">\s*<path d="M-?[\d.]+ (-?[\d.]+) L')


def note_staves(pitches: Sequence[SpelledPitch]) -> dict[SpelledPitch, str]:
    """Engrave each pitch once, as a whole note: all drawings are of one size, their staves at one height.

    Engraved in a process of its own. Raises Unavailable without the engraving library.
    """
    wanted = list(dict.fromkeys(pitches))
    engraved = engrave_apart([Job(one_note_mei(pitch), WIDTH_MM, _STAFF_MM) for pitch in wanted])
    return dict(zip(wanted, steady([finished(systems[0], font=FONT) for systems in engraved]), strict=True))


def steady(svgs: Sequence[str]) -> list[str]:
    """Let the staves of some drawings stand at one height, with room for the highest and lowest of them.

    Raises Unavailable for drawings that are not as this engraver makes them.
    """
    measured = [_measure(svg) for svg in svgs]
    above = max((top for _, _, top in measured), default=0.0)
    below = max((height - top for _, height, top in measured), default=0.0)
    made = []
    for svg, (width, height, top) in zip(svgs, measured, strict=True):
        view = f'viewBox="0 {top - above:g} {width:g} {above + below:g}"'
        # The drawing inside would else be stretched to the new size.
        inner = _INNER.sub(rf'<svg width="{width:g}" height="{height:g}" \1', svg, count=1)
        made.append(_VIEW.sub(view, inner, count=1))
    return made


def _measure(svg: str) -> tuple[float, float, float]:
    """Width, height, and how far down the top line is, in the units of the outer drawing."""
    view, inner = _VIEW.search(svg), _INNER.search(svg)
    margin, line = _MARGIN.search(svg), _TOP_LINE.search(svg)
    if view is None or inner is None or margin is None or line is None:
        raise Unavailable(
            "the engraver draws in a way that is not known here", allowed="verovio 6.4 or a later 6"
        )
    width, height = float(view[1]), float(view[2])
    return width, height, (float(margin[2]) + float(line[1])) * height / float(inner[3])

"""The one module that knows the engraving library, which not everybody has."""

import importlib
from typing import Any

from midifret.terms import BadInput, Unavailable

INSTALL = "pip install 'midifret[pages]'"
FONT = "Libertinus Serif"  # travels with the printing library, so that every machine prints the same


def load_library() -> Any:
    """Import the engraving library. Raises Unavailable where it is missing."""
    try:
        return importlib.import_module("verovio")
    except ImportError:
        raise Unavailable("for engraved pages the library verovio is missing", allowed=INSTALL) from None


def engrave(mei: str, *, width_mm: float, staff_mm: float) -> tuple[str, ...]:
    """Engrave MEI into one SVG for each system, all as wide as `width_mm`, each as high as it needs.

    staff_mm: height of the five lines. Holds the interpreter while it draws. Raises Unavailable without the
    library, BadInput for MEI that it does not take.
    """
    library = load_library()
    library.enableLog(library.LOG_OFF)
    toolkit = library.toolkit()
    unit = staff_mm * 10 / 8  # half a space, in tenths of a millimetre
    toolkit.setOptions(
        {
            "adjustPageHeight": True,
            "breaks": "auto",
            "footer": "none",
            "header": "none",
            "font": "Leipzig",
            "pageWidth": round(width_mm * 10 * 9 / unit),
            "pageHeight": 100,  # less than any system: each has a page of its own
            "pageMarginLeft": 45,  # room for bar numbers of four digits, which stand over the first line
            "pageMarginRight": 0,
            "pageMarginTop": 10,
            "pageMarginBottom": 10,
            "unit": 9.0,
            "scale": 100,
            "spacingNonLinear": 0.55,
            "spacingLinear": 0.3,
            "staffLineWidth": 0.2,
            "minLastJustification": 0.6,
            "svgViewBox": True,
            "svgRemoveXlink": False,
            "xmlIdSeed": 1,
            "expandNever": True,
        }
    )
    if not toolkit.loadData(mei):
        raise BadInput("the engraver does not take this music", allowed="a score that midifret has laid out")
    return tuple(toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1))

"""QR codes for a terminal: two rows of a code in each line of text."""

import segno

# Light and dark of a code, upper and lower half (a code is dark on light, whatever colours the terminal has).
_HALVES = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}


def qr_lines(text: str) -> list[str]:
    """Return a QR code as lines for a terminal of light letters on dark ground, with its quiet zone.

    The quiet zone is four modules wide (ISO/IEC 18004 [mem]). The addresses of a stand take 19 lines of 37.
    """
    rows = [
        [bool(module) for module in row]
        for row in segno.make_qr(text, error="l", boost_error=False).matrix_iter(border=4)
    ]
    if len(rows) % 2:
        rows.append([False] * len(rows[0]))
    return [
        "".join(_HALVES[upper, lower] for upper, lower in zip(above, below, strict=True))
        for above, below in zip(rows[::2], rows[1::2], strict=True)
    ]

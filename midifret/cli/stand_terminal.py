"""What the terminal shows of the stand: the codes that let devices in; and how a browser is opened."""

import io
import webbrowser
from pathlib import Path

from midifret.stand.codes import Code

# Browsers that would take the terminal for themselves; they show no page of this kind either.
_WHITE_ON_BLACK, _AS_BEFORE = "\x1b[97;40m", "\x1b[0m"  # ECMA-48, and bright white of most terminals
_IN_TERMINAL = frozenset({"www-browser", "links", "elinks", "lynx", "w3m"})


def open_browser(address: str) -> bool:
    """Open the system's browser, unless it would take the terminal; return whether one was found."""
    try:
        browser = webbrowser.get()
        name = Path(str(getattr(browser, "name", ""))).name
        return name not in _IN_TERMINAL and bool(browser.open(address))
    except (webbrowser.Error, OSError):
        return False


def pairing_lines(address: str, play: Code, watch: Code, *, coloured: bool = False) -> str:
    """What lets another device in. address: to be scanned, with the code to play after its #.

    coloured: the QR code is white on black whatever the terminal's own colours are.
    """
    return (
        f"{qr_code(address, coloured=coloured)}\n"
        f"On another device of this network: scan this, or open {address.partition('#')[0]}\n"
        "and type a code.\n"
        f"  To play:  {play.shown}\n"
        f"  To watch: {watch.shown}\n"
        "Each is for one device and some minutes. The connection is not encrypted: use it on a network of\n"
        "your own.\n"
    )


def qr_code(text: str, *, coloured: bool = False) -> str:
    """A QR code, two squares to a character; light squares are drawn, dark ones are left as they are."""
    import segno

    out = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out=out, compact=True, border=2)
    lines = out.getvalue().rstrip("\n").split("\n")
    return "\n".join(f"{_WHITE_ON_BLACK}{line}{_AS_BEFORE}" if coloured else line for line in lines)

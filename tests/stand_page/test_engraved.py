"""Only shapes and words of an engraving get into the page."""

import io
from typing import Any

import pytest
from PIL import Image

from tests.stand_page.moments import music, staff_note
from tests.stand_page.scripted import Stand

SVG = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
REBUILT = """async (source) => {
  const {rebuilt} = await import("/engraved.js");
  const made = rebuilt(source);
  if (made === null) return null;
  document.body.append(made.svg);
  const text = made.svg.outerHTML;
  made.svg.remove();
  return {text, idents: [...made.idents.keys()]};
}"""


HOSTILE = [
    "<script>window.broken = 1</script>",
    '<script href="http://elsewhere.example/a.js"/>',
    '<g onload="window.broken = 1" onclick="window.broken = 1"><path d="M0 0"/></g>',
    "<foreignObject><div xmlns='http://www.w3.org/1999/xhtml'><img src='x' onerror='window.broken=1'/></div>"
    "</foreignObject>",
    '<image href="http://elsewhere.example/a.png"/>',
    '<use href="http://elsewhere.example/a.svg#b"/>',
    '<use xlink:href="//elsewhere.example/a.svg#b"/>',
    '<use href="data:image/svg+xml,&lt;svg/&gt;#b"/>',
    '<a href="javascript:window.broken = 1"><text>x</text></a>',
    "<style>@import 'http://elsewhere.example/a.css'; body { display: none }</style>",
    '<path d="M0 0" style="fill: url(http://elsewhere.example/a.svg#b); background: red"/>',
    '<path d="M0 0" fill="url(http://elsewhere.example/a.svg#b)"/>',
    '<animate attributeName="href" to="javascript:window.broken = 1"/>',
    '<set attributeName="onload" to="window.broken = 1"/>',
    "<iframe xmlns='http://www.w3.org/1999/xhtml' src='http://elsewhere.example/'/>",
]


def test_nothing_that_acts_or_fetches_gets_in(stand: Stand) -> None:
    page = stand.page()
    stand.asked.clear()
    for inner in HOSTILE:
        made = page.evaluate(REBUILT, f'<svg {SVG} viewBox="0 0 9 9">{inner}<path d="M1 1"/></svg>')
        assert made is not None, inner
        assert 'd="M1 1"' in made["text"]  # what stands beside it is still there
        for word in (
            "elsewhere",
            "script",
            "onload",
            "onclick",
            "onerror",
            "url(",
            "import",
            "data:",
            "style=",
        ):
            assert word not in made["text"], made["text"]
    page.wait_for_timeout(100)
    assert page.evaluate("window.broken") is None
    assert not [address for address in stand.asked if "elsewhere" in address]


def test_what_is_no_drawing_is_none(stand: Stand) -> None:
    page = stand.page()
    for source in ("", "<svg", "<html></html>", "not at all", f"<svg {SVG}><g></svg>"):
        assert page.evaluate(REBUILT, source) is None, source


def test_two_drawings_do_not_share_names(stand: Stand) -> None:
    page = stand.page()
    one = page.evaluate(REBUILT, staff_note().lines[0])
    other = page.evaluate(REBUILT, staff_note().lines[0])
    ids = [set(_values(made["text"], ' id="')) for made in (one, other)]
    assert ids[0]
    assert not ids[0] & ids[1]
    for made, own in zip((one, other), ids, strict=True):
        assert {name.removeprefix("#") for name in _values(made["text"], ' href="')} <= own


def test_every_head_and_place_of_a_mark_is_found(stand: Stand) -> None:
    engraving, heads = music()
    page = stand.page()
    found: set[str] = set()
    for line in engraving.lines:
        found |= set(page.evaluate(REBUILT, line)["idents"])
    assert set(heads.values()) <= found
    assert {f"m{n}" for n in heads} <= found


def test_it_looks_as_the_engraver_drew_it(stand: Stand) -> None:
    """As much ink as where the browser draws the file itself with its own sheet, within one in a hundred."""
    source = music()[0].lines[0]
    size = {"width": 900, "height": 300}
    plain = stand.context(viewport=size, color_scheme="light").new_page()
    plain.set_content(f"<body style='margin: 0'>{source}</body>")
    page = stand.page(viewport=size, color_scheme="light")
    page.evaluate(
        """async (source) => {
          const {rebuilt} = await import("/engraved.js");
          const place = document.createElement("div");
          place.className = "engraved";
          place.append(rebuilt(source).svg);
          document.body.replaceChildren(place);
          document.body.style.cssText = "display: block; background: white; color: black";
        }""",
        source,
    )
    drawn, ours = _ink(plain), _ink(page)
    assert drawn > 2000
    assert ours == pytest.approx(drawn, rel=0.01)


def _ink(page: Any) -> int:
    """How many points of a page are dark."""
    image = Image.open(io.BytesIO(page.screenshot())).convert("L")
    return sum(image.histogram()[:128])


def _values(text: str, mark: str) -> list[str]:
    return [part.split('"')[0] for part in text.split(mark)[1:]]

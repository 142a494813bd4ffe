"""The report as one page for a browser: headings, pictures and tables, with nothing fetched from anywhere."""

import base64
from html import escape

from midifret.report_page.parts import Group, Numbers, Part, Picture, Section, Sheet, Steps, Text
from midifret.report_page.sections import head, sections, title_of
from midifret.report_page.style import STYLE
from midifret.report_page.values import Progress

_CLASSES = {Group.PLAIN: "", Group.ROWS: ' class="rows"', Group.TEACHER: ' class="teacher"'}


def page_html(progress: Progress) -> str:
    """Return the whole page as one HTML text."""
    title = escape(title_of(progress))
    whole: tuple[Part, ...] = (*head(progress), *sections(progress))
    parts = "".join(_part(part, 2) for part in whole)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title><style>{STYLE}</style></head>"
        f"<body><main><h1>{title}</h1>{parts}</main></body></html>\n"
    )


def _part(part: Part, level: int) -> str:
    """One part. level: of a heading in it."""
    match part:
        case Text(text, strong):
            return f"<p><strong>{escape(text)}</strong></p>" if strong else f"<p>{escape(text)}</p>"
        case Steps(items):
            return f"<ol>{''.join(f'<li>{escape(item)}</li>' for item in items)}</ol>"
        case Picture(svg, label):
            named = svg.replace("<svg ", f'<svg role="img" aria-label="{escape(label)}" ', 1)
            return _scrolls(named, label)
        case Numbers():
            return _numbers(part)
        case Sheet():
            return _sheet(part)
        case Section(title, parts, group):
            inside = "".join(_part(one, level + 1) for one in parts)
            return f"<section{_CLASSES[group]}><h{level}>{escape(title)}</h{level}>{inside}</section>"


def _scrolls(inside: str, label: str) -> str:
    """What may be wider than the screen: it scrolls by itself, also with keys."""
    return f'<div class="wide" tabindex="0" role="region" aria-label="{escape(label)}">{inside}</div>'


def _folded(summary: str, inside: str, *, repeats: bool = False) -> str:
    """A click away on the screen, open on paper; left out there where it repeats a picture."""
    kind = ' class="repeats"' if repeats else ""
    return f"<details{kind}><summary>{escape(summary)}</summary>{inside}</details>"


def _numbers(table: Numbers) -> str:
    heads = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in table.heads)
    body = "".join(
        f'<tr><th scope="row">{escape(row[0])}</th>{"".join(f"<td>{escape(c)}</td>" for c in row[1:])}</tr>'
        for row in table.rows
    )
    whole = _scrolls(f"<table><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>", table.label)
    return _folded(table.label, whole, repeats=table.repeats) if table.folded else whole


def _sheet(sheet: Sheet) -> str:
    lines = "".join(
        _image(line, f"{sheet.label}, line {number}") for number, line in enumerate(sheet.lines, 1)
    )
    marks = "".join(f"<li>{_image(svg, '')} {escape(words)}</li>" for svg, words in sheet.legend)
    legend = f'<ul class="marks">{marks}</ul>' if marks else ""
    music = _scrolls(f'<div class="sheet">{lines}</div>', sheet.label)
    return _folded(sheet.label, legend + music)


def _image(svg: str, label: str) -> str:
    """A picture that brings its own style. label: empty where the words beside it say the same."""
    coded = base64.b64encode(svg.encode()).decode()
    return f'<img src="data:image/svg+xml;base64,{coded}" alt="{escape(label)}">'

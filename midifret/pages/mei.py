"""A laid-out score as MEI with ids of our own, for the engraver."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from html import escape

from midifret.neck import Neck
from midifret.pages.bars import Bar, Event, Head, Laid, Layer
from midifret.pages.beside import Beside, Stretch
from midifret.terms import SpelledPitch

# Alterations as MEI writes them (MEI 5, data.ACCIDENTAL.WRITTEN and .GESTURAL).
_WRITTEN = {-2: "ff", -1: "f", 0: "n", 1: "s", 2: "x"}
_GESTURAL = {-2: "ff", -1: "f", 0: "n", 1: "s", 2: "ss"}
_WORDS_PERCENT = 85  # of positions and barres, so that short ones stand beside each other [by eye]
_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">'
    "<meiHead><fileDesc><titleStmt><title>{title}</title></titleStmt><pubStmt/></fileDesc></meiHead>"
    "<music><body><mdiv><score>"
)
_TAIL = "</score></mdiv></body></music></mei>\n"


def to_mei(laid: Laid, beside: Beside, neck: Neck, *, tablature: bool = False, marks: bool = False) -> str:
    """Write a laid-out score as MEI, for the engraver alone: fingers in chords take room as signs do.

    Ids: heads as in `Laid.heads`; f{n} the finger of note n, s{n} its string, p{n} the position or barre that
    begins at it, e{n} its line, l{n} a slur, m{n} the room for its mark, where `marks` asks for it; bar{i} is
    bar i, from 1, and bar{i}segno, coda, fine, jump, times are what leads on from it. Octaves are sounding
    ones, the clef has its 8 below.
    """
    return "".join(_parts(laid, beside, neck, tablature=tablature, marks=marks))


def _parts(laid: Laid, beside: Beside, neck: Neck, *, tablature: bool, marks: bool) -> Iterator[str]:
    first = laid.bars[0]
    yield _HEAD.format(title=escape(laid.score.title))
    meter = f' meter.count="{first.meter.beats}" meter.unit="{first.meter.beat_type}"'
    yield f'<scoreDef{_key(first.fifths)}{meter if first.new_meter else ""}><staffGrp bar.thru="true">'
    yield '<staffDef n="1" lines="5"><clef shape="G" line="2" dis="8" dis.place="below"/></staffDef>'
    if tablature:
        yield f'<staffDef n="2" lines="{neck.strings}" notationtype="tab.guitar"><clef shape="TAB" line="5"/>'
        if first.new_meter:
            yield _meter(first, hidden=True)
        yield "<tuning>"
        for string in range(1, neck.strings + 1):
            step, octave = _open_string(neck.open_midi(string))
            yield f'<course n="{string}" pname="{step}" oct="{octave}"/>'
        yield "</tuning></staffDef>"
    yield "</staffGrp></scoreDef><section>"
    slurs = slurs_of(laid)
    starting = {stretch.first: stretch for stretch in beside.stretches}
    for index, bar in enumerate(laid.bars):
        if index and (bar.new_key or bar.new_meter):
            yield f"<scoreDef{_key(bar.fifths) if bar.new_key else ''}>"
            if bar.new_meter:
                hidden = f'<staffDef n="2">{_meter(bar, hidden=True)}</staffDef>' if tablature else ""
                yield f'<staffGrp><staffDef n="1">{_meter(bar)}</staffDef>{hidden}</staffGrp>'
            yield "</scoreDef>"
        begins, ends = ending_edges(laid.bars, index)
        if begins:
            yield f'<ending n="{ending_words(bar.signs.endings)}">'
        yield f'<measure xml:id="bar{index + 1}" n="{escape(bar.number, quote=True)}"'
        yield ' metcon="false"' if bar.length != bar.meter.bar else ""
        yield from _bar_lines(laid.bars, index)
        yield ">"
        yield '<staff n="1">'
        for layer in bar.layers:
            yield f'<layer n="{layer.number}">'
            yield from _layer(layer, beside, crowded=len(bar.layers) > 2)
            yield "</layer>"
        yield "</staff>"
        if tablature:
            yield '<staff n="2">'
            for layer in bar.layers:
                yield f'<layer n="{layer.number}">'
                yield from _tab_layer(layer, beside)
                yield "</layer>"
            yield "</staff>"
        yield from _controls(bar, laid, beside, starting, slurs, marks=marks)
        yield from _repeat_words(laid.bars, index)
        yield "</measure>"
        if ends:
            yield "</ending>"
    yield "</section>" + _TAIL


def _bar_lines(bars: Sequence[Bar], index: int) -> Iterator[str]:
    """Repeat signs, a double line where a jump is made, the end."""
    signs = bars[index].signs
    if signs.repeat_start:
        yield ' left="rptstart"'
    if signs.repeat_end:
        yield ' right="rptend"'
    elif index + 1 == len(bars):
        yield ' right="end"'
    elif signs.jump or signs.fine:
        yield ' right="dbl"'


def _repeat_words(bars: Sequence[Bar], index: int) -> Iterator[str]:
    """Segno and coda over the bar, Fine and the words of a jump under its end, clear of positions."""
    bar, ident = bars[index], f"bar{index + 1}"
    end = f"{float(bar.length / bar.meter.unit + 1):g}"
    if bar.signs.segno:
        yield f'<repeatMark xml:id="{ident}segno" func="segno" place="above" tstamp="0"/>'
    if bar.signs.coda:
        leaves = leaves_for_coda(bars, index)
        when = end if leaves else "0"
        yield f'<repeatMark xml:id="{ident}coda" func="coda" place="above" tstamp="{when}"/>'
    for name, words in (
        ("times", f"{bar.signs.repeat_end} times" if bar.signs.repeat_end > 2 else ""),
        ("fine", "Fine" if bar.signs.fine else ""),
        ("jump", jump_words(bars, index)),
    ):
        if words:
            where = f'place="below" tstamp="{end}"'
            looks = 'halign="right" fontstyle="normal"'
            yield f'<dir xml:id="{ident}{name}" {where}><rend {looks}>{words}</rend></dir>'


def jump_words(bars: Sequence[Bar], index: int) -> str:
    """D.C. or D.S., and as far as where; empty for no jump [common practice, no source]."""
    jump = bars[index].signs.jump
    if not jump:
        return ""
    begin = {"dc": "D.C.", "ds": "D.S."}[jump]
    if any(bar.signs.fine for bar in bars):
        return f"{begin} al Fine"
    return f"{begin} al Coda" if sum(bar.signs.coda for bar in bars) > 1 else begin


def leaves_for_coda(bars: Sequence[Bar], index: int) -> bool:
    """Whether the coda sign at this bar is the one that is left from: the first of two."""
    return not any(bar.signs.coda for bar in bars[:index]) and any(b.signs.coda for b in bars[index + 1 :])


def ending_edges(bars: Sequence[Bar], index: int) -> tuple[bool, bool]:
    """Whether a bracket of an ending begins at this bar, and whether one ends with it."""
    here = bars[index].signs.endings
    before = bars[index - 1] if index else None
    after = bars[index + 1] if index + 1 < len(bars) else None
    begins = bool(here) and (before is None or before.signs.endings != here or before.signs.repeat_end > 0)
    ends = bool(here) and (after is None or after.signs.endings != here or bars[index].signs.repeat_end > 0)
    return begins, ends


def ending_words(numbers: Sequence[int]) -> str:
    """Numbers of an ending as printed: 1., 1. 2. [common practice, no source]."""
    return " ".join(f"{number}." for number in numbers)


def _key(fifths: int) -> str:
    return f' keysig="{abs(fifths)}{"s" if fifths > 0 else "f" if fifths < 0 else ""}"'


def _meter(bar: Bar, *, hidden: bool = False) -> str:
    """Shown in the upper staff alone: tablature needs none."""
    invisible = ' visible="false"' if hidden else ""
    return f'<meterSig count="{bar.meter.beats}" unit="{bar.meter.beat_type}"{invisible}/>'


def _open_string(midi: int) -> tuple[str, int]:
    """A natural or a sharp; tablature is drawn by the fret, so that its spelling is never seen."""
    return ("c", "c", "d", "d", "e", "f", "f", "g", "g", "a", "a", "b")[midi % 12], midi // 12 - 1


def _duration(event: Event) -> str:
    base = "breve" if event.value.base == 0 else event.value.base
    return f' dur="{base}"' + (f' dots="{event.value.dots}"' if event.value.dots else "")


def _layer(layer: Layer, beside: Beside, *, crowded: bool) -> Iterator[str]:
    for event in layer.events:
        if event.graces:
            yield from _graces(event)
        if event.begins and event.tuplet:
            parts, time_of = event.tuplet
            yield f'<tuplet num="{parts}" numbase="{time_of}" num.format="count">'
        if event.beam == "begin":
            yield "<beam>"
        yield _event(event, layer.stem, beside, crowded=crowded)
        if event.beam == "end":
            yield "</beam>"
        if event.ends:
            yield "</tuplet>"


def _event(event: Event, stem: str, beside: Beside, *, crowded: bool) -> str:
    if not event.heads:
        if event.whole:
            return f'<{"mSpace" if event.hidden else "mRest"} xml:id="{event.ident}"/>'
        # With inner voices between them, rests of the outer ones stand at the edge of the staff.
        where = f' loc="{10 if stem == "up" else -5}"' if crowded and not event.hidden else ""
        return f'<{"space" if event.hidden else "rest"} xml:id="{event.ident}"{_duration(event)}{where}/>'
    direction = f' stem.dir="{stem}"' if stem else ""
    if len(event.heads) == 1:
        return _note(event.heads[0], _duration(event) + direction)
    heads = "".join(_note(head, "", _finger_in_chord(head, beside)) for head in event.heads)
    return f'<chord xml:id="{event.ident}"{_duration(event)}{direction}>{heads}</chord>'


def _finger_in_chord(head: Head, beside: Beside) -> str:
    """Room left of a head for its finger: a small head among its signs, for which `finish` puts the digit."""
    n = head.note.n
    if not head.first or n not in beside.fingers:
        return ""
    return f'<accid xml:id="f{n}" accid="s" glyph.auth="smufl" glyph.num="U+E0A4"/>'


def _note(head: Head, more: str, left: str = "") -> str:
    """left: what stands left of the head and of its sign."""
    pitch = head.note.pitch
    sign = inside = ""
    if head.shown is not None and left:
        inside = f'<accid accid="{_WRITTEN[head.shown]}"/>'
    elif head.shown is not None:
        sign = f' accid="{_WRITTEN[head.shown]}"'
    elif pitch.alter:
        sign = f' accid.ges="{_GESTURAL[pitch.alter]}"'
    tie = {(True, True): "m", (True, False): "i", (False, True): "t"}.get((head.tied_on, head.tied_back))
    tied = f' tie="{tie}"' if tie else ""
    shape = ' head.shape="diamond"' if head.note.harmonic else ""
    name = f' pname="{pitch.step.lower()}" oct="{pitch.octave}"'
    opened = f'<note xml:id="{head.ident}"{name}{more}{sign}{tied}{shape}'
    return f"{opened}>{inside}{left}</note>" if left else f"{opened}/>"


def _graces(event: Event) -> Iterator[str]:
    """One with a stroke as an eighth, several as sixteenths under a beam [common practice]."""
    if len(event.graces) == 1:
        yield _note(event.graces[0], ' dur="8" grace="unacc" stem.mod="1slash" stem.dir="up"')
        return
    yield "<beam>"
    for head in event.graces:
        yield _note(head, ' dur="16" grace="unacc" stem.dir="up"')
    yield "</beam>"


def _tab_layer(layer: Layer, beside: Beside) -> Iterator[str]:
    """Frets where they are struck; grace notes are drawn later, for the engraver has none in tablature."""
    for event in layer.events:
        if event.begins and event.tuplet:
            parts, time_of = event.tuplet
            yield f'<tuplet num="{parts}" numbase="{time_of}" num.visible="false" bracket.visible="false">'
        struck = [
            place
            for head in event.heads
            if head.first and (place := beside.places.get(head.note.n)) is not None
        ]
        if event.whole:
            yield "<mSpace/>"
        elif struck:
            frets = "".join(f'<note tab.course="{p.string}" tab.fret="{p.fret}"/>' for p in struck)
            yield f"<tabGrp{_duration(event)}>{frets}</tabGrp>"
        else:
            yield f"<space{_duration(event)}/>"
        if event.ends:
            yield "</tuplet>"


def slurs_of(laid: Laid) -> dict[str, str]:
    """Where slurs begin and end, by ids of heads: one over each run of notes that the left hand begins."""
    runs: dict[str, str] = {}
    before: dict[int, tuple[str, Fraction]] = {}
    begun: dict[int, str] = {}
    for note in laid.score.notes:
        ident = laid.heads[note.n][0]
        last = before.get(note.voice)
        if note.slurred and last is not None and (last[1] < note.onset_quarter or not note.duration_quarter):
            start = begun.setdefault(note.voice, last[0])
            runs[start] = ident
        elif not (note.slurred and last is not None):
            begun.pop(note.voice, None)
        before[note.voice] = (ident, note.onset_quarter)
    return runs


def _controls(
    bar: Bar,
    laid: Laid,
    beside: Beside,
    starting: Mapping[int, Stretch],
    slurs: Mapping[str, str],
    *,
    marks: bool,
) -> Iterator[str]:
    """What stands beside the notes of a bar: the upper voice has its own above, the lower one below."""
    for layer in bar.layers:
        fingers = "below" if layer.stem == "down" else "above"
        others = "above" if layer.stem == "up" else "below"
        for event in layer.events:
            struck = [head for head in (*event.graces, *event.heads) if head.first]
            for what, place in (("f", fingers), ("s", others), ("m", others)):
                # What is nearest to the staff comes first: a column then reads as the chord does.
                for head in struck if place == "above" else reversed(struck):
                    if what == "f" and len(event.heads) > 1 and head in event.heads:
                        continue  # it stands left of its head
                    yield from _beside_head(head, beside, what, place, marks=marks)
            for head in struck:
                yield from _from_head(head, laid, starting, slurs)


def _beside_head(head: Head, beside: Beside, what: str, place: str, *, marks: bool) -> Iterator[str]:
    n = head.note.n
    begin = f'<fing xml:id="{what}{n}" startid="#{head.ident}" place="{place}">'
    if what == "f" and n in beside.fingers:
        yield f"{begin}{beside.fingers[n]}</fing>"
    elif what == "s" and n in beside.strings:
        yield f'{begin}<rend rend="circle" fontweight="normal">{beside.strings[n]}</rend></fing>'
    elif what == "m" and marks:
        yield f"{begin}M</fing>"


def _from_head(
    head: Head, laid: Laid, starting: Mapping[int, Stretch], slurs: Mapping[str, str]
) -> Iterator[str]:
    n = head.note.n
    at = f'startid="#{head.ident}"'
    if head.ident in slurs:
        yield f'<slur xml:id="l{n}" {at} endid="#{slurs[head.ident]}"/>'
    if n in starting:
        stretch = starting[n]
        words = f'<rend fontsize="{_WORDS_PERCENT}%">{escape(stretch.words)}</rend>'
        yield f'<dir xml:id="p{n}" place="above" {at}>{words}</dir>'
        if stretch.line:
            how = 'func="coloration" lform="dashed" lstartsym="none" lendsym="angledown"'
            yield f'<bracketSpan xml:id="e{n}" {how} {at} endid="#{laid.heads[stretch.last][0]}"/>'


def one_note_mei(pitch: SpelledPitch) -> str:
    """MEI of one whole note alone on a staff, with its sign, for a printed question."""
    sign = f' accid="{_WRITTEN[pitch.alter]}"' if pitch.alter else ""
    note = f'<note xml:id="n1" pname="{pitch.step.lower()}" oct="{pitch.octave}" dur="1"{sign}/>'
    return (
        _HEAD.format(title="")
        + '<scoreDef><staffGrp><staffDef n="1" lines="5"><clef shape="G" line="2" dis="8" dis.place="below"/>'
        + '</staffDef></staffGrp></scoreDef><section><measure xml:id="bar1" right="invis"><staff n="1">'
        + f'<layer n="1">{note}</layer></staff></measure></section>'
        + _TAIL
    )

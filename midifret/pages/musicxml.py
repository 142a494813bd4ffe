"""A laid-out score as MusicXML 4.0 with its places: string, fret and finger of every note that has them."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from fractions import Fraction
from html import escape
from math import lcm

from midifret.neck import Neck
from midifret.neck.names import spell
from midifret.pages.bars import Bar, Event, Head, Laid
from midifret.pages.beside import Beside, Stretch
from midifret.pages.mei import ending_edges, ending_words, jump_words, leaves_for_coda, slurs_of
from midifret.terms.score import Directions

STANDARD_MIDIS = (64, 59, 55, 50, 45, 40)  # string 1 first [music21, mingus: the usual tuning]
# Types of notes by the part of a whole that they last (MusicXML 4.0, note-type-value).
_TYPES = {0: "breve", 1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd"}
_TYPES |= {64: "64th", 128: "128th"}
_SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_TEMPO = '<direction placement="above"><direction-type><metronome><beat-unit>quarter</beat-unit>'

_DIRECTION = (
    '<direction placement="above"><direction-type>{what}</direction-type><sound {sound}/></direction>'
)


def to_musicxml(laid: Laid, beside: Beside, neck: Neck) -> str:
    """Write a laid-out score with the signs of repeats that its bars have.

    Pitches are sounding ones under a clef with an octave change of -1, which is one of the two legal ways
    (MusicXML 4.0). Frets count from the capo. Every place in `beside` is written, and the fingers shown.
    """
    return "".join(_parts(laid, beside, neck))


def _parts(laid: Laid, beside: Beside, neck: Neck) -> Iterator[str]:
    score = laid.score
    divisions = lcm(*(d for bar in laid.bars for d in _denominators(bar)))
    yield '<?xml version="1.0" encoding="UTF-8"?>\n'
    yield (
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        '"http://www.musicxml.org/dtds/partwise.dtd">\n'
    )
    yield '<score-partwise version="4.0">'
    if score.title:
        yield f"<work><work-title>{escape(score.title)}</work-title></work>"
    yield "<identification>"
    if score.composer:
        yield f'<creator type="composer">{escape(score.composer)}</creator>'
    yield "<encoding><software>midifret</software></encoding></identification>"
    yield '<part-list><score-part id="P1"><part-name>Guitar</part-name></score-part></part-list>'
    yield '<part id="P1">\n'
    slurs = slurs_of(laid)
    starts, ends = set(slurs), set(slurs.values())
    edges = _edges(beside)
    for index, bar in enumerate(laid.bars):
        implicit = ' implicit="yes"' if bar.pick_up else ""
        yield f'<measure number="{escape(bar.number, quote=True)}"{implicit}>'
        yield from _left(laid.bars, index)
        yield from _attributes(bar, laid, neck, divisions, first=index == 0)
        yield from _signs(laid.bars, index)
        yield from _tempos(bar, laid, divisions)
        for place, layer in enumerate(bar.layers):
            if place:
                yield f"<backup><duration>{int(bar.length * divisions)}</duration></backup>"
            for event in layer.events:
                yield from _event(event, bar, layer.number, divisions, beside, edges, starts, ends)
        yield from _jumps(laid.bars, index)
        yield from _right(laid.bars, index)
        yield "</measure>\n"
    yield "</part></score-partwise>\n"


def _left(bars: Sequence[Bar], index: int) -> Iterator[str]:
    """The bar line before a bar, where it is more than one."""
    signs = bars[index].signs
    begins, _ = ending_edges(bars, index)
    if not (signs.repeat_start or begins):
        return
    yield '<barline location="left">'
    if signs.repeat_start:
        yield "<bar-style>heavy-light</bar-style>"
    if begins:
        yield f'<ending number="{_numbers(signs)}" type="start">{ending_words(signs.endings)}</ending>'
    if signs.repeat_start:
        yield '<repeat direction="forward"/>'
    yield "</barline>"


def _right(bars: Sequence[Bar], index: int) -> Iterator[str]:
    """The bar line after a bar, where it is more than one."""
    signs = bars[index].signs
    last = index + 1 == len(bars)
    _, ends = ending_edges(bars, index)
    style = "light-heavy" if signs.repeat_end or last else "light-light" if signs.jump or signs.fine else ""
    if not (style or ends):
        return
    yield '<barline location="right">'
    if style:
        yield f"<bar-style>{style}</bar-style>"
    if ends:
        yield f'<ending number="{_numbers(signs)}" type="stop"/>'
    if signs.repeat_end:
        times = f' times="{signs.repeat_end}"' if signs.repeat_end > 2 else ""
        yield f'<repeat direction="backward"{times}/>'
    yield "</barline>"


def _numbers(signs: Directions) -> str:
    return ", ".join(map(str, signs.endings))


def _signs(bars: Sequence[Bar], index: int) -> Iterator[str]:
    """Segno and coda, which stand at the begin of a bar."""
    signs = bars[index].signs
    if signs.segno:
        yield _DIRECTION.format(what="<segno/>", sound='segno="segno"')
    if signs.coda and not leaves_for_coda(bars, index):
        yield _DIRECTION.format(what="<coda/>", sound='coda="coda"')


def _jumps(bars: Sequence[Bar], index: int) -> Iterator[str]:
    """To coda, Fine, D.C. and D.S., which stand at the end of a bar."""
    signs = bars[index].signs
    if signs.coda and leaves_for_coda(bars, index):
        yield _DIRECTION.format(what="<words>To Coda</words>", sound='tocoda="coda"')
    if signs.fine:
        yield _DIRECTION.format(what="<words>Fine</words>", sound='fine="yes"')
    if signs.jump:
        sound = 'dacapo="yes"' if signs.jump == "dc" else 'dalsegno="segno"'
        yield _DIRECTION.format(what=f"<words>{jump_words(bars, index)}</words>", sound=sound)


def _denominators(bar: Bar) -> Iterator[int]:
    yield bar.length.denominator
    for layer in bar.layers:
        for event in layer.events:
            yield event.start.denominator
            yield event.end.denominator


def _attributes(bar: Bar, laid: Laid, neck: Neck, divisions: int, *, first: bool) -> Iterator[str]:
    if not (first or bar.new_key or bar.new_meter):
        return
    yield "<attributes>"
    if first:
        yield f"<divisions>{divisions}</divisions>"
    if bar.new_key:
        yield f"<key><fifths>{bar.fifths}</fifths></key>"
    if bar.new_meter or first:
        yield f"<time><beats>{bar.meter.beats}</beats><beat-type>{bar.meter.beat_type}</beat-type></time>"
    if first:
        yield "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
        yield from _tuning(laid, neck)
    yield "</attributes>"


def _tuning(laid: Laid, neck: Neck) -> Iterator[str]:
    """The capo, and the strings where they are not tuned as usual.

    Lines count from the bottom: line 1 is the lowest string (MusicXML 4.0, staff-tuning). That element is
    meant for tablature, and some programs draw tablature where it stands [verovio 6.4 does, run]; but nothing
    else tells how a guitar is tuned, without which strings and frets say nothing.
    """
    capo = laid.score.capo or neck.capo
    midis = laid.score.tuning_midis or neck.tuning.open_midi
    if midis == STANDARD_MIDIS and not capo:
        return
    yield "<staff-details>"
    for line, midi in enumerate(reversed(midis) if midis != STANDARD_MIDIS else (), 1):
        pitch = spell(midi)[0]
        alter = f"<tuning-alter>{pitch.alter}</tuning-alter>" if pitch.alter else ""
        yield f'<staff-tuning line="{line}"><tuning-step>{pitch.step}</tuning-step>{alter}'
        yield f"<tuning-octave>{pitch.octave}</tuning-octave></staff-tuning>"
    yield f"<capo>{capo}</capo></staff-details>" if capo else "</staff-details>"


def _tempos(bar: Bar, laid: Laid, divisions: int) -> Iterator[str]:
    for tempo in laid.score.tempos:
        at = tempo.onset_quarter - bar.start_quarter
        if 0 <= at < bar.length:
            bpm = f"{tempo.quarter_bpm:g}"
            yield f"{_TEMPO}<per-minute>{bpm}</per-minute></metronome></direction-type>"
            yield f'{_offset(at, divisions)}<sound tempo="{bpm}"/></direction>'


_Edges = dict[int, list[tuple[int, Stretch]]]


def _edges(beside: Beside) -> tuple[_Edges, _Edges]:
    """By the note that they begin with and by the one that they end with: each line and its number."""
    begins: _Edges = defaultdict(list)
    ends: _Edges = defaultdict(list)
    for index, stretch in enumerate(beside.stretches):
        begins[stretch.first].append((index % 6 + 1, stretch))
        ends[stretch.last].append((index % 6 + 1, stretch))
    return begins, ends


def _begun(heads: Sequence[Head], begins: _Edges) -> Iterator[str]:
    """Positions and barres as words, with dashes as far as they hold, before the notes that they begin at."""
    for head in heads:
        for number, stretch in begins.get(head.note.n, ()) if head.first else ():
            dashes = f'<direction-type><dashes type="start" number="{number}"/></direction-type>'
            words = f"<direction-type><words>{stretch.words}</words></direction-type>"
            yield f'<direction placement="above">{words}{dashes if stretch.line else ""}</direction>'


def _ended(heads: Sequence[Head], ends: _Edges) -> Iterator[str]:
    """The ends of the dashes, after the notes that they end with."""
    for head in heads:
        for number, stretch in ends.get(head.note.n, ()) if head.first else ():
            if stretch.line:
                dashes = f'<dashes type="stop" number="{number}"/>'
                yield f"<direction><direction-type>{dashes}</direction-type></direction>"


def _offset(at: Fraction, divisions: int) -> str:
    return f"<offset>{float(at * divisions):g}</offset>" if at else ""


def _event(
    event: Event,
    bar: Bar,
    voice: int,
    divisions: int,
    beside: Beside,
    edges: tuple[_Edges, _Edges],
    starts: set[str],
    ends: set[str],
) -> Iterator[str]:
    length = f"<duration>{int((event.end - event.start) * divisions)}</duration>"
    if not event.heads:
        if event.hidden:
            yield f"<forward>{length}<voice>{voice}</voice></forward>"
            return
        # Where the bar is shorter than its meter, readers would take it for a full one.
        full = event.whole and event.end - event.start == bar.meter.bar
        rest = '<rest measure="yes"/>' if full else "<rest/>"
        written = "" if event.whole else _type(event)
        yield f"<note>{rest}{length}<voice>{voice}</voice>{written}{_tuplet(event)}</note>"
        return
    for grace in event.graces:
        stroke = ' slash="yes"' if len(event.graces) == 1 else ""
        kind = f"<voice>{voice}</voice><type>{'eighth' if len(event.graces) == 1 else '16th'}</type>"
        yield f"<note><grace{stroke}/>{_pitch(grace)}{kind}{_sign(grace)}"
        yield f"{_notations(grace, None, beside, starts, ends)}</note>"
    heads = (*event.graces, *event.heads)
    yield from _begun(heads, edges[0])
    for index, head in enumerate(event.heads):
        yield f"<note>{'<chord/>' if index else ''}{_pitch(head)}{length}"
        yield '<tie type="stop"/>' if head.tied_back else ""
        yield '<tie type="start"/>' if head.tied_on else ""
        yield f"<voice>{voice}</voice>{_type(event, head)}"
        if event.beam and not index:
            yield f'<beam number="1">{event.beam}</beam>'
        yield f"{_notations(head, None if index else event, beside, starts, ends)}</note>"
    yield from _ended(heads, edges[1])


def _pitch(head: Head) -> str:
    pitch = head.note.pitch
    alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
    return f"<pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>"


def _type(event: Event, head: Head | None = None) -> str:
    text = f"<type>{_TYPES[event.value.base]}</type>" + "<dot/>" * event.value.dots
    if head is not None:
        text += _sign(head)
    if event.tuplet:
        parts, time_of = event.tuplet
        text += f"<time-modification><actual-notes>{parts}</actual-notes>"
        text += f"<normal-notes>{time_of}</normal-notes></time-modification>"
    if head is not None and head.note.harmonic:
        text += "<notehead>diamond</notehead>"
    return text


def _sign(head: Head) -> str:
    return "" if head.shown is None else f"<accidental>{_SIGNS[head.shown]}</accidental>"


def _tuplet(event: Event) -> str:
    marks = [
        f'<tuplet type="{kind}"/>' for kind, here in (("start", event.begins), ("stop", event.ends)) if here
    ]
    return f"<notations>{''.join(marks)}</notations>" if marks else ""


def _notations(head: Head, event: Event | None, beside: Beside, starts: set[str], ends: set[str]) -> str:
    parts = []
    if head.tied_back:
        parts.append('<tied type="stop"/>')
    if head.tied_on:
        parts.append('<tied type="start"/>')
    if head.ident in ends:
        parts.append('<slur type="stop" number="1"/>')
    if head.ident in starts:
        parts.append('<slur type="start" number="1"/>')
    if event is not None:
        for kind, here in (("start", event.begins), ("stop", event.ends)):
            if here:
                parts.append(f'<tuplet type="{kind}"/>')
    technical = []
    n = head.note.n
    if head.first:
        if head.note.harmonic:
            technical.append("<harmonic><natural/></harmonic>")
        if n in beside.fingers:
            technical.append(f"<fingering>{beside.fingers[n]}</fingering>")
        if n in beside.places:
            place = beside.places[n]
            technical.append(f"<string>{place.string}</string><fret>{place.fret}</fret>")
    if technical:
        parts.append(f"<technical>{''.join(technical)}</technical>")
    return f"<notations>{''.join(parts)}</notations>" if parts else ""

"""Several parts or staves of a file that are one guitar's."""

import io
from pathlib import Path

import mido
import pytest

from midifret.scores import look_of
from midifret.scores.child import read as read_bytes
from midifret.terms import BadInput
from tests.scores.test_formats import midi_file
from tests.scores.writing import musicxml, note, read

# Invented: an upper voice E G over a bass E, two bars of two quarters.
HEARD = [("0", 52, 2), ("0", 64, 1), ("1", 67, 1), ("2", 52, 2), ("2", 67, 1), ("3", 64, 1)]
ABC_VOICES = "X:1\nT:Two\n{layout}M:2/4\nL:1/4\nK:C clef=treble-8\n{v1}\ne g|g e|]\n{v2}\nE2|E2|]\n"
KERN_SPINES = (
    "**kern\t**kern\n{staff}*clefGv2\t*clefGv2\n*M2/4\t*M2/4\n=1\t=1\n2E\t4e\n.\t4g\n=2\t=2\n2E\t4g\n.\t4e\n"
    "==\t==\n*-\t*-\n"
)


def abc(layout: str = "", v1: str = "V:1", v2: str = "V:2") -> str:
    return ABC_VOICES.format(layout=layout, v1=v1, v2=v2)


def two_parts(first: str = "Upper", second: str = "Lower") -> str:
    one = musicxml(note("E4") + note("G4"), note("G4") + note("E4"), name=first, time="2/4")
    other = musicxml(note("E3", 2), note("E3", 2), name=second, time="2/4").replace("P1", "P2")
    entry = other[other.index("<score-part ") : other.index("</part-list>")]
    part = other[other.index("<part id") : other.index("</score-partwise>")]
    return one.replace("</part-list>", entry + "</part-list>").replace(
        "</score-partwise>", part + "</score-partwise>"
    )


def heard(score: object) -> list[tuple[str, int, int]]:
    return [(str(n.onset_quarter), n.midi, n.duration_quarter) for n in score.notes]  # type: ignore[attr-defined]


def test_parts_are_read_together_where_asked(tmp_path: Path) -> None:
    for asked in ("1+2", "Upper+Lower", "all"):
        score = read(tmp_path, two_parts(), part=asked)
        assert heard(score) == HEARD
        assert [n.voice for n in score.notes] == [2, 1, 1, 2, 1, 1]
        assert "part 1 (Upper) and part 2 (Lower) are read as the voices of one guitar" in score.remarks
    assert [n.midi for n in read(tmp_path, two_parts(), part="1+2", voices=(2,)).notes] == [52, 52]


def test_without_a_word_two_parts_are_asked_about(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="2 parts with notes") as told:
        read(tmp_path, two_parts())
    assert "part 1+2, or all" in told.value.allowed


@pytest.mark.parametrize("asked", ["1+3", "1+1", "Upper+Nobody", "1+"])
def test_parts_that_are_not_there_are_told(tmp_path: Path, asked: str) -> None:
    with pytest.raises(BadInput, match="there is no part"):
        read(tmp_path, two_parts(), part=asked)


def test_parts_in_other_bars_cannot_be_one_guitar(tmp_path: Path) -> None:
    text = two_parts()
    cut = text.rindex('<measure number="1">')
    text = text[:cut] + text[cut:].replace("<beats>2</beats>", "<beats>3</beats>").replace(
        note("E3", 2), note("E3", 3)
    )
    with pytest.raises(
        BadInput, match="cannot be read as one guitar: their bars differ in length, first at bar 1"
    ):
        read(tmp_path, text, part="all")


def test_parts_that_stand_in_different_octaves_are_not_mixed(tmp_path: Path) -> None:
    text = two_parts()
    cut = text.rindex("<part id")
    text = text[:cut] + text[cut:].replace("<clef-octave-change>-1</clef-octave-change>", "")
    with pytest.raises(BadInput, match="octave of their clefs"):
        read(tmp_path, text, part="all")


def test_staves_of_one_guitar_are_one_part(tmp_path: Path) -> None:
    """The bass on a second staff of the same part, as a keyboard's would be."""
    low = (
        note("E3", 2, voice=2)
        .replace("<voice>2</voice>", "<voice>2</voice>")
        .replace("</note>", "<staff>2</staff></note>")
    )
    back = "<backup><duration>48</duration></backup>"

    def bar(*pitches: str) -> str:
        return "".join(note(p).replace("</note>", "<staff>1</staff></note>") for p in pitches) + back + low

    clefs = "".join(
        f'<clef number="{n}"><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>'
        for n in (1, 2)
    )
    for name, parts in (("Guitar", 1), ("Harp", 2)):
        text = musicxml(
            bar("E4", "G4"), bar("G4", "E4"), clef="<staves>2</staves>" + clefs, name=name, time="2/4"
        )
        assert len(read_bytes(".musicxml", text.encode()).parts) == parts
        score = read(tmp_path, text, part=None if parts == 1 else "all")
        assert heard(score) == HEARD


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        (abc(), 1),
        (abc(layout="%%score (1 2)\n"), 1),
        (abc(layout="%%score (1 2)\n", v1='V:1 name="High"', v2='V:2 name="Low"'), 1),
        (abc(layout="%%score 1 2\n"), 2),
        (abc(v1='V:1 name="Guitar 1"', v2='V:2 name="Guitar 2"'), 2),
        (abc(v2="V:2 clef=bass"), 2),
    ],
    ids=["nothing said", "one staff", "named on one staff", "two staves", "named", "another clef"],
)
def test_voices_of_abc_are_one_part_where_they_share_a_staff(tmp_path: Path, text: str, parts: int) -> None:
    written = read_bytes(".abc", text.encode())
    assert len(written.parts) == parts
    if parts == 1:
        assert heard(read(tmp_path, text, "tune.abc")) == HEARD
        assert any("voices 1, 2 are read as the voices of one part" in w for w in look_of(written).warnings)


def test_spines_of_kern(tmp_path: Path) -> None:
    joined = KERN_SPINES.format(staff="*staff1\t*staff1\n")
    assert heard(read(tmp_path, joined, "tune.krn")) == HEARD
    apart = KERN_SPINES.format(staff="*staff2\t*staff1\n")
    assert len(read_bytes(".krn", apart.encode()).parts) == 2
    assert heard(read(tmp_path, apart, "tune.krn", part="1+2")) == HEARD


def test_tracks_of_a_midi_file(tmp_path: Path) -> None:
    upper = midi_file(notes=[(0, 480, 64), (480, 480, 67), (960, 480, 67), (1440, 480, 64)])
    lower = midi_file(notes=[(0, 960, 52), (960, 960, 52)])
    song, other = (mido.MidiFile(file=io.BytesIO(data)) for data in (upper, lower))
    song.tracks.append(other.tracks[-1])
    stream = io.BytesIO()
    song.save(file=stream)
    assert heard(read(tmp_path, stream.getvalue(), "tune.mid", part="all")) == HEARD

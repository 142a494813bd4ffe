"""Files of strangers: every fault told by name, place and what is allowed, in bounded time and memory."""

import io
import json
import os
import random
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

from midifret.scores import Choices, look_at_score, read_score
from midifret.scores.child import read
from midifret.scores.limits import MOST_BYTES, MOST_MEMORY_BYTES, MOST_NOTES
from midifret.scores.parse import parse
from midifret.terms import BadInput
from tests.scores.long import LONG_KINDS, long_tune, midi_with_bends
from tests.scores.test_formats import ABC, KERN, MEI, XML, midi_file
from tests.scores.writing import OCTAVE_CLEF, kept, musicxml, note

# The billion laughs: ten entities, each ten times the one before.
LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefghi", "bcdefghij", strict=True))
    + "]><score-partwise><work><work-title>&j;</work-title></work></score-partwise>"
)
OUTSIDE = '<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
CONTAINER = '<?xml version="1.0"?><container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'


def zipped(files: dict[str, str | bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return stream.getvalue()


def compressed(path: str, content: str | bytes = XML, name: str = "score.xml") -> bytes:
    return zipped({"META-INF/container.xml": CONTAINER.format(path), name: content})


HUGE = musicxml("".join(note("C4", 0.25) for _ in range(100_000)))
# Legal notes, more than the limit on bytes forbids: zeros compress to nothing.
BOMB = compressed("score.xml", b"<score-partwise>" + b" " * (MOST_BYTES + 1000))
DEEP = "<score-partwise>" + "<a>" * 5000
PERCUSSION = musicxml(
    "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>"
    "<duration>96</duration><voice>1</voice></note>",
    clef="<clef><sign>percussion</sign></clef>",
    name="Drums",
)
FAULTS: dict[str, tuple[str, str | bytes, str]] = {
    "no such kind": ("tune.pdf", "%PDF", "is no kind of score that is read"),
    "no suffix": ("tune", "X:1", "a file without a suffix is no kind of score"),
    "empty": ("tune.musicxml", "", "the file is empty"),
    "blank": ("tune.abc", "\n \n", "the file is empty"),
    "broken XML": ("tune.musicxml", XML[: len(XML) // 2], "broken XML: unclosed token"),
    "mismatched XML": ("tune.xml", "<score-partwise><a></score-partwise>", "tune.xml:1:22: broken XML: mism"),
    "other XML": ("tune.xml", "<svg/>", "this XML is no score: its root is 'svg'"),
    "billion laughs": ("tune.musicxml", LAUGHS, "declares the entity 'a'"),
    "entity from outside": ("tune.xml", OUTSIDE + XML.split("?>")[1], "declares the entity 'x'"),
    "bytes that are no UTF-8": (
        "tune.musicxml",
        XML.encode().replace(b"Guitar", b"Guit\xff\xfear"),
        "broken XML: bytes that are not UTF-8, which it says or is taken to be",
    ),
    "unknown entity": ("tune.musicxml", XML.replace("Guitar", "&outside;"), "broken XML: undefined entity"),
    "nested too deep": ("tune.musicxml", DEEP, "elements lie more than 64 deep"),
    "too many notes": ("tune.musicxml", HUGE, f"more than {MOST_NOTES:,} notes"),
    "zip bomb": ("tune.mxl", BOMB, "unpacks to more than 16 MB"),
    "path outside": ("tune.mxl", compressed("../../etc/passwd"), "points outside itself: '../../etc/passwd'"),
    "absolute path": ("tune.mxl", compressed("/etc/passwd"), "points outside itself"),
    "path on Windows": ("tune.mxl", compressed("C:\\boot.ini"), "points outside itself"),
    "path to nothing": ("tune.mxl", compressed("other.xml"), "names 'other.xml', which is not in it"),
    "no container": ("tune.mxl", zipped({"a.xml": XML, "b.xml": XML}), "no META-INF/container.xml says"),
    "many files": ("tune.mxl", zipped({str(n): "" for n in range(300)}), "300 files lie in"),
    "damaged zip": ("tune.mxl", compressed("score.xml")[:-40], "that can be opened (File is not a zip"),
    "damaged entry": ("tune.mxl", compressed("score.xml").replace(b"\x55", b"\xaa", 3), "."),
    "no zip": ("tune.mxl", XML, "this is MusicXML, and its name says compressed MusicXML"),
    "MIDI by another name": ("tune.xml", midi_file(notes=[(0, 480, 60)]), "this is Standard MIDI File, and"),
    "MusicXML by another name": ("tune.krn", XML, "this is MusicXML, and its name says Humdrum kern"),
    "bytes without sense": ("tune.mid", bytes(range(256)) * 20, "this is no Standard MIDI File"),
    "broken MIDI": ("tune.mid", b"MThd\0\0\0\6\0\1\0\2\1\xe0MTrk\0\0", "not a Standard MIDI File"),
    "MIDI without notes": ("tune.mid", midi_file(notes=[]), "there is no note in this file"),
    "drums in MIDI": ("tune.mid", midi_file(channel=9, notes=[(0, 480, 38)]), "is percussion: no note of it"),
    "percussion": ("tune.musicxml", PERCUSSION, "part 1 (Drums) is percussion: no note of it has a pitch"),
    "empty part": (
        "tune.musicxml",
        musicxml("<note><rest/><duration>96</duration><voice>1</voice></note>"),
        "part 1 (Guitar) is empty: there is no note in it",
    ),
    "no bars": ("tune.musicxml", musicxml(), "has no bars"),
    "no part": ("tune.xml", "<score-partwise><part-list/></score-partwise>", "there is no part in this"),
    "a repeat without end": (
        "tune.musicxml",
        musicxml(note("C4", 4) + '<barline><repeat direction="backward" times="1000000"/></barline>'),
        "times is 1000000",
    ),
    "a transposition without sense": (
        "tune.musicxml",
        musicxml(note("C4", 4), attributes="<transpose><chromatic>9999</chromatic></transpose>"),
        "chromatic is 9999",
    ),
    "MEI without a score": (
        "tune.mei",
        '<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv/></body></music></mei>',
        "the movement holds no score",
    ),
    "ABC without a tune": ("tune.abc", "%abc-2.1\n", "no tune begins here"),
    "ABC without a key": ("tune.abc", "X:1\nT:x\nCDE|\n", "no key, where its music begins"),
    "ABC of several tunes": ("tune.abc", ABC + "\n" + ABC, "the file holds 2 tunes"),
    "kern that breaks off": ("tune.krn", "**kern\t**kern\n4c\n", "the part without a name has no bars"),
}  # fmt: skip


@pytest.mark.parametrize(("name", "content", "message"), FAULTS.values(), ids=FAULTS)
def test_what_cannot_be_read_is_told(tmp_path: Path, name: str, content: str | bytes, message: str) -> None:
    path = kept(tmp_path, name, content)
    began = time.monotonic()
    with pytest.raises(BadInput) as told:
        read_score(path)
    assert message in str(told.value)
    assert name in str(told.value)
    assert told.value.exit_code == 2
    # Bounded time: two seconds here on two busy cores; the limit leaves room for slower machines.
    assert time.monotonic() - began < 20


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="there is no such file"):
        read_score(tmp_path / "none.musicxml")
    (tmp_path / "folder.xml").mkdir()
    with pytest.raises(BadInput, match="this is a folder"):
        read_score(tmp_path / "folder.xml")
    large = tmp_path / "large.musicxml"
    with large.open("wb") as stream:
        stream.truncate(MOST_BYTES + 1)
    with pytest.raises(BadInput, match="larger than 16 MB"):
        read_score(large)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes in this system's folders")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.abc")
    with pytest.raises(BadInput, match="a pipe or a device"):
        read_score(tmp_path / "pipe.abc")


def test_choices_that_do_not_fit_say_what_there_is(tmp_path: Path) -> None:
    path = kept(tmp_path, "tune.musicxml", XML)
    for choices, message in (
        (Choices(part="2"), "there is no part '2', or more than one (1 Guitar)"),
        (Choices(part="Flute"), "there is no part 'Flute'"),
        (Choices(voices=(3,)), "there is no voice 3 in this part (voices 1)"),
        (Choices(first_bar=30, last_bar=40), "there are no bars 30 to 40 (bars 1 to 5)"),
        (Choices(first_bar=3, last_bar=2), "there are no bars 3 to 2"),
        (Choices(transpose="up"), "transposition 'up'"),
        (Choices(transpose=99), "a transposition by 99"),
        (Choices(tune=2), "a tune was asked for by its number"),
    ):
        with pytest.raises(BadInput) as told:
            read_score(path, choices)
        assert message in str(told.value)
    with pytest.raises(BadInput, match="there is no tune 4 in the file"):
        read_score(kept(tmp_path, "tune.abc", ABC), Choices(tune=4))


def test_whole_way_through_a_process(tmp_path: Path) -> None:
    for name, content in (
        ("tune.musicxml", XML), ("tune.mxl", compressed("score.xml")), ("tune.mei", MEI), ("tune.krn", KERN),
        ("tune.xml", MEI), ("utf-16.musicxml", XML.replace("UTF-8", "UTF-16").encode("utf-16")),
    ):  # fmt: skip
        assert read_score(kept(tmp_path, name, content)).notes[0].midi == 62
    assert look_at_score(kept(tmp_path, "tune.abc", ABC)).title == "A tune"


def test_a_process_that_takes_too_long_is_ended(tmp_path: Path) -> None:
    path = kept(tmp_path, "tune.musicxml", XML)
    with pytest.raises(BadInput, match="takes more than 0 seconds"):
        parse(path, most_wall_s=0.01)


@pytest.mark.skipif(sys.platform != "linux", reason="limits of memory hold on Linux")
def test_the_process_lives_under_limits(tmp_path: Path) -> None:
    code = (
        "import json, resource, sys\n"
        "from midifret.scores import child\n"
        "child._limit()\n"
        "limits = [resource.getrlimit(getattr(resource, n))[0] for n in"
        " ('RLIMIT_AS', 'RLIMIT_CPU', 'RLIMIT_FSIZE', 'RLIMIT_CORE')]\n"
        "try:\n    bytearray(2 * limits[0])\n    held = False\nexcept MemoryError:\n    held = True\n"
        "file = open(sys.argv[1], 'wb', buffering=0)\n"
        "try:\n    file.write(b'x')\n    wrote = True\nexcept OSError:\n    wrote = False\n"
        "print(json.dumps([limits, held, wrote]))\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "x")], capture_output=True, text=True, check=False
    )
    limits, held, wrote = json.loads(run.stdout)
    assert limits == [MOST_MEMORY_BYTES, 40, 0, 0]
    assert held
    assert not wrote


def test_the_one_who_asks_never_loads_the_library(tmp_path: Path) -> None:
    path = kept(tmp_path, "tune.musicxml", XML)
    code = (
        "import sys\nfrom pathlib import Path\nfrom midifret.scores import read_score\n"
        f"assert len(read_score(Path({str(path)!r})).notes) == 20\n"
        "assert 'music21' not in sys.modules and 'mido' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_bytes_turned_at_random_end_in_a_score_or_a_clear_error(tmp_path: Path) -> None:
    turn = random.Random(5)
    texts = {"a.musicxml": XML, "a.abc": ABC, "a.krn": KERN, "a.mei": MEI}
    files: list[tuple[str, bytes]] = [(name, text.encode()) for name, text in texts.items()]
    files += [("a.mid", midi_file(notes=[(0, 480, 60), (480, 480, 62)])), ("a.mxl", compressed("score.xml"))]
    for name, data in files:
        for _ in range(2):
            spoiled = bytearray(data)
            for _ in range(4):
                spoiled[turn.randrange(len(spoiled))] = turn.randrange(256)
            path = kept(tmp_path, name, bytes(spoiled))
            try:
                look_at_score(path)
            except BadInput as told:
                assert name in str(told)  # noqa: PT017 - either way is right


def test_a_long_piece_within_the_limits(tmp_path: Path) -> None:
    bars = ["".join(note(p, 0.25) for p in ("E4", "G4", "B3", "E3") * 4) for _ in range(125)]
    score = read_score(kept(tmp_path, "long.musicxml", musicxml(*bars, clef=OCTAVE_CLEF)))
    assert len(score.notes) == 2_000


@pytest.mark.parametrize("suffix", LONG_KINDS)
def test_too_many_notes_are_told_before_anything_is_built_of_them(tmp_path: Path, suffix: str) -> None:
    """Of every kind; the file is counted, so that its length costs next to nothing."""
    path = kept(tmp_path, f"long{suffix}", long_tune(suffix, MOST_NOTES + 400))
    began = time.monotonic()
    with pytest.raises(BadInput, match=f"more than {MOST_NOTES:,} notes"):
        read_score(path)
    assert time.monotonic() - began < 15  # measured 0.7 to 2.6 s with 120,000 notes on two busy cores


@pytest.mark.parametrize("suffix", LONG_KINDS)
def test_a_long_tune_of_every_kind_is_read_whole(tmp_path: Path, suffix: str) -> None:
    # 3,200 notes: a ten-page piece [ours].
    score = read_score(kept(tmp_path, f"long{suffix}", long_tune(suffix, 3_200)), Choices())
    assert len(score.notes) == 3_200
    assert [n.midi for n in score.notes[:4]] == [64, 67, 59, 52]
    assert score.notes[-1].end_quarter == 800


def test_a_long_abc_tune_costs_in_proportion(tmp_path: Path) -> None:
    """Beaming made the library's time grow with the square: 6,400 notes took nine seconds, now 0.8."""
    data = long_tune(".abc", 6_400)
    began = time.process_time()
    read(".abc", data)
    assert time.process_time() - began < 5


def test_a_midi_file_of_bends_is_too_large(tmp_path: Path) -> None:
    path = kept(tmp_path, "bends.mid", midi_with_bends(1_600, 1_000))
    with pytest.raises(BadInput, match="larger than a score needs"):
        read_score(path)

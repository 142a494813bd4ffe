"""Faulty and hostile drill files, through the loader and `check`: refused with their place, or read."""

import json
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.cli.main import run
from midifret.drills import build
from midifret.drills.library import check, find, load_all
from midifret.drills.models import DrillFile, Item
from midifret.files import Home, parse_document
from midifret.neck import Neck, Tuning
from midifret.terms import BadInput

HEAD = b"title: T\nstage: S\ntrains: W. W.\n"
NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
BOMB = b"a: &a0 [x, x, x, x, x, x, x, x, x, x]\n" + b"".join(
    b"b%d: &a%d [%s]\n" % (i, i, b", ".join([b"*a%d" % (i - 1)] * 10)) for i in range(1, 10)
)

KEYS = (
    *DrillFile.model_fields,
    *Item.model_fields,
    *("fret", "leap", "from", "to", "names", "frets", "strings", "name", "pairs", "right", "number", "note"),
)

Checked = Callable[[bytes], list[tuple[int, int, str]]]


@pytest.fixture
def checked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Checked:
    """Run `check` on bytes; also see that the loader and the plain output agree with it."""

    def problems(data: bytes) -> list[tuple[int, int, str]]:
        path = tmp_path / "drill.yaml"
        path.write_bytes(data)
        home = str(tmp_path / "home")
        code = run(["--home", home, "check", str(path), "--json"])
        [file] = json.loads(capsys.readouterr().out)["files"]
        assert (code, file["ok"]) == ((2, False) if file["problems"] else (0, True))
        found = [(p["line"], p["column"], p["message"]) for p in file["problems"]]
        assert run(["--home", home, "check", str(path)]) == code
        lines = capsys.readouterr().out.splitlines()
        if not found:
            build(find(str(path), Home.of(home)), NECK)
            return []
        assert len(lines) == len(found)
        for line, (row, column, message) in zip(lines, found, strict=True):
            assert line.startswith(f"{path}:{row}:{column}: ")
            assert message in line
        with pytest.raises(BadInput):
            build(find(str(path), Home.of(home)), NECK)
        assert run(["--home", home, "preview", str(path)]) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert "Traceback" not in said.err
        return found

    return problems


@pytest.mark.parametrize(
    ("data", "line", "column", "said"),
    [
        (HEAD + b"ask: !!python/object/apply:os.system [ls]\n", 4, 6, "tag"),
        (HEAD + b"ask: !!python/name:os.system\n", 4, 6, "tag"),
        (HEAD + b"ask: !!binary aGk=\n", 4, 6, "tag"),
        (BOMB, 5, 10, "too many values"),
        (b"title: " + b"x" * 10_000_000, 1, 1, "too large"),
        (HEAD + b"ask: " + b"[" * 500, 4, 29, "nested too deeply"),
        (HEAD + b"title: U\nask: {row: {fret: 5}}\n", 4, 1, 'the key "title" is written twice'),
        (HEAD + b"ask: {row: {fret: 5, fret: 6}}\n", 4, 22, 'the key "fret" is written twice'),
        (HEAD + b"ask:\n\trow: {fret: 5}\n", 5, 1, "a tab stands here"),
        (HEAD + b"# caf\xe9\nask: {row: {fret: 5}}\n", 4, 6, "not UTF-8"),
        (b"", 1, 1, "the file is empty"),
        (b"\n# only a comment\n", 1, 1, "the file is empty"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", 1, 1, "not UTF-8"),
        (b"- just\n- a list\n", 1, 1, "a list is not a group of keys"),
        (b"just words\n", 1, 1, "'just words' is not a group of keys"),
    ],
    ids=lambda value: value[:40].decode(errors="replace") if isinstance(value, bytes) else None,
)
def test_what_is_no_drill_file_is_refused_with_its_place(
    checked: Checked, data: bytes, line: int, column: int, said: str
) -> None:
    [(row, col, message)] = checked(data)
    assert said in message
    assert (row, col) == (line, column)


def test_a_byte_order_mark_and_windows_line_ends_are_read(checked: Checked) -> None:
    data = b"\xef\xbb\xbf" + HEAD + b"ask: {row: {fret: 5}}\n"
    assert checked(data) == []
    assert checked(data.replace(b"\n", b"\r\n")) == []
    [(line, column, _)] = checked((HEAD + b"ask: {row: {fret: 50}}\n").replace(b"\n", b"\r\n"))
    assert (line, column) == (4, 19)


@pytest.mark.parametrize(
    ("line", "column", "said", "text"),
    [
        (4, 7, "unknown key \"roww\"; did you mean \"row\"?", b"ask: {roww: {fret: 5}}\n"),
        (5, 1, "unknown key \"shwo\"; did you mean \"show\"?", b"ask: {row: {fret: 5}}\nshwo: name\n"),
        (4, 19, "'five' is not a whole number", b"ask: {row: {fret: five}}\n"),
        (4, 19, "5.5 is not a whole number", b"ask: {row: {fret: 5.5}}\n"),
        (4, 19, "true is not a whole number", b"ask: {row: {fret: true}}\n"),
        (4, 18, "nothing is written here", b"ask: {row: {fret: }}\n"),
        (4, 19, "25 is out of range", b"ask: {row: {fret: 25}}\n"),
        (4, 19, "the guitar has no fret 20", b"ask: {row: {fret: 20}}\n"),
        (4, 21, "the guitar has no place 7:1", b"ask: {places: [6:5, 7:1]}\n"),
        (4, 16, "'6-5' is not a place", b"ask: {places: [6-5]}\n"),
        (4, 15, "this is empty", b"ask: {places: []}\n"),
        (4, 6, "nothing is asked here", b"ask: {}\n"),
        (4, 6, "this is empty", b"ask: []\n"),
        (4, 6, "walk and row stand in one item", b"ask: {row: {fret: 5}, walk: {from: 6:0, to: 6:3}}\n"),
        (4, 13, "the walk has only one note", b"ask: {walk: {from: 6:0, to: 6:0}}\n"),
        (4, 23, "'0..3' is not a range", b"ask: {region: {frets: 0..3}}\n"),
        (5, 8, "'fast' is not known here", b"ask: {row: {fret: 5}}\norder: fast\n"),
        (5, 8, "'position' is not known here", b"ask: {row: {fret: 5}}\njudge: position\n"),
        (5, 14, "1.5 is out of range", b"ask: {row: {fret: 5}}\nnaming_rate: 1.5\n"),
        (5, 8, "0 is out of range", b"ask: {row: {fret: 5}}\ncount: 0\n"),
        (5, 14, "'inf' is not a number", b"ask: {row: {fret: 5}}\nnaming_rate: inf\n"),
        (4, 14, "there is no drill 'row-5-leap-22'", b"ask: {drill: row-5-leap-22}\n"),
    ],
)  # fmt: skip
def test_each_fault_is_told_at_its_place(
    checked: Checked, line: int, column: int, said: str, text: bytes
) -> None:
    [(row, col, message)] = checked(HEAD + text)
    assert said in message
    assert (row, col) == (line, column)


def test_all_problems_of_a_file_come_in_one_pass(checked: Checked) -> None:
    found = checked(
        b"titel: T\nstage: 3\ntrains: W. W.\nminutes: long\nask:\n"
        b"  - places: [6:5, 9:1]\n"
        b"  - row: {fret: 20}\n    show: colour\n"
        b"  - walk: {from: 6:0, to: 6:0}\n"
        b"  - {rwo: {fret: 1}}\n"
        b"  - drill: nowhere\n"
        b"order: sideways\n"
    )
    assert [(line, column) for line, column, _ in found] == [
        (1, 1),  # the key "title" is missing
        (1, 1),  # unknown key "titel"
        (2, 8),  # a number is no text
        (4, 10),
        (6, 19),
        (7, 17),
        (8, 11),
        (9, 11),
        (10, 6),
        (11, 12),
        (12, 8),
    ]


def test_a_group_that_lacks_a_key_hides_no_other_fault(checked: Checked) -> None:
    found = checked(
        HEAD + b"ask:\n  - places_of: {note: E}\n    judge: pitch\n"
        b"  - draw: {frets: 0-3, notes: D mayor, count: 5}\n"
        b"  - walk: {from: 6:20, to: X4}\n"
        b"  - walk: {from: 6:20}\n"
        b"  - row: {}\n"
        b"gate: {right: 95%}\n"
    )
    assert [(line, column) for line, column, _ in found] == [
        (5, 16),
        (7, 31),
        (8, 18),
        (8, 28),
        (9, 11),
        (10, 10),
        (11, 15),
    ]


def test_a_number_that_is_none_is_told_its_range(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "d.yaml"
    path.write_bytes(HEAD + b"ask: {row: {fret: 5}}\ngate: {right: 95%}\n")
    assert run(["--home", str(tmp_path), "check", str(path)]) == 2
    assert "gate.right: '95%' is not a number (allowed: a number, 0 to 1)" in capsys.readouterr().out


def test_hidden_files_of_editors_and_systems_are_no_drills(tmp_path: Path) -> None:
    home = Home.of(tmp_path)
    home.writable(home.drills)
    (home.drills / "._mine.yaml").write_bytes(b"\x00\x05\x16\x07")
    assert load_all(home)[1] == ()


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("6:5", "6:5"), ("'6:5'", "6:5"), ("06:05", "6:5")],
)
def test_places_mean_what_was_typed(tmp_path: Path, typed: str, meant: str) -> None:
    path = tmp_path / "d.yaml"
    path.write_bytes(HEAD + f"ask: {{places: [{typed}]}}\n".encode())
    [prompt] = build(find(str(path), Home.of(tmp_path)), NECK).prompts
    assert str(prompt.places[0]) == meant  # and not 365, as a number to the base of sixty


@pytest.mark.parametrize(("typed", "prompts"), [("no", 4), ("off", 4), ("false", 4), ("yes", 7), ("on", 7)])
def test_yes_and_no_mean_what_was_typed(tmp_path: Path, typed: str, prompts: int) -> None:
    path = tmp_path / "d.yaml"
    text = f"ask: {{string: {{number: 1, frets: 0-3, back: {typed}}}}}\n"
    path.write_bytes(HEAD.replace(b"title: T", b"title: off") + text.encode())
    exercise = build(find(str(path), Home.of(tmp_path)), NECK)
    assert len(exercise.prompts) == prompts
    assert exercise.title == "off"


def test_an_underscore_makes_no_number(checked: Checked) -> None:
    assert [message for _, _, message in checked(HEAD + b"ask: {row: {fret: 5}}\ncount: 1_0\n")] == [
        "'1_0' is not a whole number"
    ]


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text("6:5-row ABC", max_size=5),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(KEYS),
                inner,
                max_size=4,
            )
        ),
        max_leaves=12,
    )
)
def test_any_value_is_checked_without_a_crash(value: object) -> None:
    document = parse_document(json.dumps(value if value is not None else {}).encode(), "any.yaml")
    for problem in check(document, NECK, Home.of("no-such-folder")):
        assert problem.file == "any.yaml"
        assert problem.line
        assert problem.message


def test_hostile_files_cost_only_a_moment(checked: Checked) -> None:
    began_s = time.perf_counter()
    checked(BOMB)
    checked(HEAD + b"ask:\n" + b"  - row: {fret: 5, leap: 2}\n" * 500)
    checked(HEAD + b"ask: [" + b"{}, " * 5000 + b"]\n")
    checked(HEAD + b"a: " + b"'" * 200_000)
    assert time.perf_counter() - began_s < 5.0  # seconds, generous: a busy machine needs one

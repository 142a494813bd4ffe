"""YAML as a teacher types it is read exactly; everything else is refused with its place."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.files import parse_document, read_document
from midifret.files.document import MOST_BYTES, MOST_DEPTH
from midifret.terms import BadInput


def _read(text: str | bytes):
    return parse_document(text if isinstance(text, bytes) else text.encode(), "f.yaml")


@pytest.mark.parametrize(
    ("typed", "value"),
    [  # YAML 1.2.2, chapter 10.3 (core schema): the only plain scalars that are not text
        ("6:5", "6:5"),
        ("off", "off"),
        ("no", "no"),
        ("Yes", "Yes"),
        ("1_0", "1_0"),
        ("0-4", "0-4"),
        ("F#4", "F#4"),
        ("2024-01-01", "2024-01-01"),
        ("'7'", "7"),
        ("!!str 7", "7"),
        ("010", 10),
        ("0o17", 15),
        ("0x1F", 31),
        ("-3", -3),
        ("1.5", 1.5),
        ("1e3", 1000.0),
        ("true", True),
        ("~", None),
        ("", None),
        ("[6:5, 5:0]", ["6:5", "5:0"]),
    ],
)
def test_scalars_mean_what_was_typed(typed, value):
    got = _read(f"a: {typed}\n").root.plain()["a"]
    assert got == value
    assert type(got) is type(value)


def test_an_old_version_line_changes_nothing():
    assert _read("%YAML 1.1\n---\na: off\nb: 6:5\n").root.plain() == {"a": "off", "b": "6:5"}


def test_a_byte_order_mark_shifts_no_column():
    document = _read(b"\xef\xbb\xbfa: 1\nb: 2\n")
    assert document.root.plain() == {"a": 1, "b": 2}
    assert document.where(("a",), at_key=True) == (1, 1)


def test_every_value_knows_its_line_and_column():
    document = _read("title: x\nask:\n  - walk:\n      from: 6:0\n  - [1, 22]\n")
    assert document.where(("title",)) == (1, 8)
    assert document.where(("ask", 0, "walk", "from")) == (4, 13)
    assert document.where(("ask", 0, "walk", "from"), at_key=True) == (4, 7)
    assert document.where(("ask", 1, 1)) == (5, 9)
    assert document.where(("ask", 0, "walk", "to")) == (4, 7)  # missing: the group it is missing from


def test_an_index_into_a_single_value_is_that_value():
    assert _read("ask: {row: 5}\n").where(("ask", 0, "row")) == (1, 12)


@pytest.mark.parametrize(
    ("text", "line", "column", "said"),
    [
        ("", 1, 1, "empty"),
        ("# nothing\n", 1, 1, "empty"),
        ("a: 1\n\tb: 2\n", 2, 1, "tab"),
        ("a:\n\t- 1\n", 2, 1, "tab"),
        ("a: 1\nb: 2\na: 3\n", 3, 1, 'key "a" is written twice, first in line 1'),
        ("a: b: c\n", 1, 5, "colon"),
        ("a: [1, 2\n", 2, 1, "not closed"),
        ("a: 'x\n", 2, 1, "not closed"),
        ("a: @x\n", 1, 4, "cannot begin"),
        ("a: 1\n---\nb: 2\n", 2, 1, "second document"),
        ("? [a]\n: b\n", 1, 3, "key must be a single word"),
        ("a: !!python/object/apply:os.system [x]\n", 1, 4, "tag"),
        ("a: !own x\n", 1, 4, "tag"),
        ("a: &a [*a]\n", 1, 8, "inside what it names"),
        ("a: *b\n", 1, 4, "names nothing above it"),
        ('a: "\\e[31m"\n', 1, 4, "U+001B"),
        ('a: "\\uD800"\n', 1, 4, "U+D800"),
        (b"a: x\nb: \xff\n", 2, 4, "UTF-8"),
        (b"a: \x00\n", 1, 4, "U+0000"),
        ("a: x\n".encode("utf-16"), 1, 1, "UTF-16"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(text, line, column, said):
    with pytest.raises(BadInput) as caught:
        _read(text)
    (problem,) = caught.value.problems
    assert said in problem.message
    assert (problem.line, problem.column) == (line, column)
    assert str(problem).startswith(f"f.yaml:{line}:{column}: ")


def test_an_alias_bomb_is_refused():
    lines = ["a: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"b{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, 10)]
    with pytest.raises(BadInput, match="too many values"):
        _read("\n".join(lines))


def test_a_plain_alias_is_read():
    assert _read("a: &x [1, 2]\nb: *x\n").root.plain() == {"a": [1, 2], "b": [1, 2]}


@pytest.mark.parametrize("text", ["[" * 100_000, "- " * 10_000, "{a: " * 10_000])
def test_deep_nesting_is_refused(text):
    with pytest.raises(BadInput, match=f"at most {MOST_DEPTH} levels"):
        _read(text)


def test_a_file_of_ten_megabytes_is_refused(tmp_path):
    path = tmp_path / "large.yaml"
    path.write_bytes(b"a: " + b"x" * 10_000_000)
    with pytest.raises(BadInput, match=f"at most {MOST_BYTES // 1024} kB"):
        read_document(path)


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    with pytest.raises(BadInput, match="no such file"):
        read_document(tmp_path / "none.yaml")
    with pytest.raises(BadInput, match="folder"):
        read_document(tmp_path)


@given(st.binary(max_size=60) | st.text(alphabet="ab:-[]{}&*!|>'\"%@#\n\t ,?~0", max_size=60).map(str.encode))
def test_any_bytes_are_read_or_refused_with_a_place(data):
    try:
        parse_document(data, "f.yaml").root.plain()
    except BadInput as error:
        refused = error
    else:
        return
    assert refused.problems[0].line >= 1
    assert refused.problems[0].column >= 1

"""A model's problems come all at once, in plain words."""

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from midifret.files import FileModel, Flag, check_model, choice, parse_document


class _Colour(StrEnum):
    RED = "red"
    BLUE = "blue"


class _Inner(FileModel):
    least: Annotated[int, Field(ge=1, le=9)] | None = None
    from_: str = Field(alias="from")


class _Model(FileModel):
    title: str = Field(description="a short title")
    share: float = Field(default=1.0, ge=0, le=1)
    colour: Annotated[_Colour, choice(_Colour)] = _Colour.RED
    back: Flag = False
    inner: tuple[_Inner, ...] = Field(default=(), strict=False)


def _problems(text: str):
    return check_model(parse_document(text.encode(), "f.yaml"), _Model)[1]


def test_all_problems_of_a_file_come_in_one_pass_in_its_order():
    problems = _problems(
        "share: 2\ncolour: grean\nback: maybe\ninner:\n  - {leest: 3, from: 5}\n  - {least: 0}\n"
    )
    assert [(p.line, p.column, p.key, p.message, p.allowed) for p in problems] == [
        (1, 1, "title", 'the key "title" is missing', "a short title"),
        (1, 8, "share", "2 is out of range", "0 to 1"),
        (2, 9, "colour", "'grean' is not known here", "red, blue"),
        (3, 7, "back", "'maybe' is neither yes nor no", "yes, no"),
        (5, 6, "inner[1].leest", 'unknown key "leest"; did you mean "least"?', "least, from"),
        (5, 22, "inner[1].from", "5 is not a text", "a text in quotes"),
        (6, 5, "inner[2].from", 'the key "from" is missing', ""),
        (6, 13, "inner[2].least", "0 is out of range", "1 to 9"),
    ]


def test_an_empty_value_and_a_wrong_kind_are_told():
    assert [p.message for p in _problems("title:\ninner: 3\n")] == [
        "nothing is written here",
        "3 is not a list",
    ]
    assert [p.message for p in _problems("- 1\n")] == ["a list is not a group of keys"]


def test_yes_and_no_are_truth_values_only_where_one_is_asked_for():
    model, problems = check_model(parse_document(b"title: no\nback: yes\n", "f.yaml"), _Model)
    assert problems == ()
    assert (model.title, model.back) == ("no", True)

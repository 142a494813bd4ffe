"""The base of all file models and the kinds of value that several of them share."""

from enum import StrEnum
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, WithJsonSchema
from pydantic_core import PydanticCustomError

SAID = "said"  # the type of errors that bring their own words


class FileModel(BaseModel):
    """A group of keys in a file: no other keys, no conversion of types, frozen."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, populate_by_name=False)


def refuse(message: str, allowed: str = "") -> PydanticCustomError:
    """Make an error for a validator to raise, in words for the person who wrote the file."""
    return PydanticCustomError(SAID, "{message}", {"message": message, "allowed": allowed})


class _Choice(BeforeValidator):
    """A word out of a list."""


def choice(words: type[StrEnum]) -> Any:
    """Annotate a field of an enumeration: the file holds one of its values as text."""

    def chosen(value: Any) -> StrEnum:
        if isinstance(value, words):
            return value
        try:
            return words(value)
        except ValueError:
            raise refuse(f"{shown(value)} is not known here", ", ".join(words)) from None

    return _Choice(chosen)


def schema_of(words: type[StrEnum]) -> WithJsonSchema:
    """Annotate the same field for the JSON Schema."""
    return WithJsonSchema({"type": "string", "enum": [str(word) for word in words]})


_FLAGS = {"yes": True, "on": True, "no": False, "off": False}


def _flag(value: Any) -> Any:
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value.lower() in _FLAGS:
        return _FLAGS[value.lower()]
    raise refuse(f"{shown(value)} is neither yes nor no", "yes, no")


Flag = Annotated[
    bool, BeforeValidator(_flag), WithJsonSchema({"enum": [True, False, "yes", "no", "on", "off"]})
]


def shown(value: Any) -> str:
    """Name a value from a file in an error message."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a group of keys"
    if isinstance(value, list):
        return "a list"
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."

"""A model checked against a document: every problem in one pass, in words that a teacher understands."""

import difflib
import types
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

import annotated_types
from pydantic import BaseModel, RootModel, ValidationError
from pydantic.fields import FieldInfo

from midifret.files.document import Document, Path_
from midifret.files.fields import SAID, shown
from midifret.terms import Problem

Model = TypeVar("Model", bound=BaseModel)

_KINDS = {
    "string_type": "a text",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a group of keys",
    "model_type": "a group of keys",
    "model_attributes_type": "a group of keys",
}
_NUMBERS = ("int_type", "int_from_float", "float_type")
_OUT_OF_RANGE = ("greater_than", "greater_than_equal", "less_than", "less_than_equal", "finite_number")


def check_model(document: Document, model: type[Model]) -> tuple[Model | None, tuple[Problem, ...]]:
    """Read a document as a model: the model, or None and every problem, in the order of the file."""
    try:
        return model.model_validate(document.root.plain()), ()
    except ValidationError as error:
        problems = [_problem(document, model, fault) for fault in error.errors(include_url=False)]
    return None, tuple(sorted(problems, key=lambda problem: (problem.line or 0, problem.column or 0)))


def faulty_paths(document: Document, model: type[BaseModel]) -> tuple[Path_, ...]:
    """Return the paths of the values that the model refuses, and of the groups that lack a key."""
    try:
        model.model_validate(document.root.plain())
    except ValidationError as error:
        faults = error.errors(include_url=False)
        paths = (fault["loc"][:-1] if fault["type"] == "missing" else fault["loc"] for fault in faults)
        return tuple(path for path in paths if path)
    return ()


def _problem(document: Document, model: type[BaseModel], fault: Any) -> Problem:
    path, kind, value = fault["loc"], fault["type"], fault["input"]
    context = fault.get("ctx", {})
    if kind == "missing":
        about = _Spot(model, path).about
        return document.problem(path, f'the key "{path[-1]}" is missing', about)
    if kind == "extra_forbidden":
        return _unknown_key(document, model, path)
    if kind == SAID:
        return document.problem(path, context["message"], context["allowed"])
    if kind == "value_error":
        message, _, allowed = str(context["error"]).partition("; write ")
        return document.problem(path, message, allowed)
    if kind in _OUT_OF_RANGE:
        return document.problem(path, f"{shown(value)} is out of range", _Spot(model, path).range)
    if kind in _KINDS:
        if value is None:
            return document.problem(path, "nothing is written here", _KINDS[kind])
        hint = " in quotes" if kind == "string_type" and isinstance(value, int | float) else ""
        if kind in _NUMBERS and (allowed := _Spot(model, path).range):
            hint = f", {allowed}"
        return document.problem(path, f"{shown(value)} is not {_KINDS[kind]}", _KINDS[kind] + hint)
    if kind in ("string_too_short", "too_short"):
        least = context["min_length"]
        message = "this is empty" if not value else f"{len(value)} are too few"
        return document.problem(path, message, f"at least {least}")
    if kind in ("string_too_long", "too_long"):
        return document.problem(path, "this is too long", f"at most {context['max_length']}")
    return document.problem(path, fault["msg"][0].lower() + fault["msg"][1:])


def _unknown_key(document: Document, model: type[BaseModel], path: Path_) -> Problem:
    known = _Spot(model, path[:-1]).keys
    near = difflib.get_close_matches(str(path[-1]).lower(), known, n=1, cutoff=0.5)
    hint = f'; did you mean "{near[0]}"?' if near else ""
    return document.problem(path, f'unknown key "{path[-1]}"{hint}', ", ".join(known), at_key=True)


class _Spot:
    """What a model says of the value at a path: its keys, its range, its description."""

    def __init__(self, model: type[BaseModel], path: Path_) -> None:
        self._type: Any = model
        self._marks: list[Any] = []
        self.about = ""
        self._unwrap()
        for step in path:
            self._marks = []
            self._descend(step)
            self._unwrap()

    def _descend(self, step: str | int) -> None:
        if isinstance(self._type, type) and issubclass(self._type, BaseModel):
            found = _field(self._type, str(step))
            self._type = found.annotation if found is not None else None
            self._marks = list(found.metadata) if found is not None else []
            self.about = (found.description or "") if found is not None else ""
        elif get_origin(self._type) in (list, tuple):
            self._type = get_args(self._type)[0]
        elif get_origin(self._type) is dict:
            self._type = get_args(self._type)[1]

    def _unwrap(self) -> None:
        while True:
            if get_origin(self._type) is Annotated:
                self._marks += self._type.__metadata__
                self._type = get_args(self._type)[0]
            elif get_origin(self._type) in (Union, types.UnionType):
                self._type = next(part for part in get_args(self._type) if part is not types.NoneType)
            elif isinstance(self._type, type) and issubclass(self._type, RootModel):
                self._type = self._type.model_fields["root"].annotation
            else:
                return

    @property
    def keys(self) -> list[str]:
        if not (isinstance(self._type, type) and issubclass(self._type, BaseModel)):
            return []
        return [found.alias or name for name, found in self._type.model_fields.items()]

    @property
    def range(self) -> str:
        marks = [part for mark in self._marks for part in (mark.metadata if _is_field(mark) else [mark])]
        least = next((mark.ge for mark in marks if isinstance(mark, annotated_types.Ge)), None)
        most = next((mark.le for mark in marks if isinstance(mark, annotated_types.Le)), None)
        if least is None and most is None:
            return ""
        if least is None or most is None:
            return f"at least {least}" if least is not None else f"at most {most}"
        return f"{least} to {most}"


def _is_field(mark: Any) -> bool:
    return isinstance(mark, FieldInfo)


def _field(model: type[BaseModel], key: str) -> FieldInfo | None:
    return next((f for name, f in model.model_fields.items() if key == (f.alias or name)), None)

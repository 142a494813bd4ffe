"""The tree of errors that a person may cause; each says what was wrong and what is allowed."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault in a file, as a compiler would put it.

    file: path as the person gave it. line, column: from 1, or None where there is none.
    key: the path of keys to the value. allowed: what could stand there, or an empty text.
    """

    file: str
    line: int | None
    column: int | None
    key: str
    message: str
    allowed: str = ""

    def __str__(self) -> str:
        """Return one line: file, line, column, key, message, what is allowed."""
        where = ":".join(str(part) for part in (self.file, self.line, self.column) if part is not None)
        key = f"{self.key}: " if self.key else ""
        allowed = f" (allowed: {self.allowed})" if self.allowed else ""
        return f"{where}: {key}{self.message}{allowed}"


class MidifretError(Exception):
    """Anything that ends a command with a message to the person instead of a traceback."""

    exit_code = 2


class BadInput(MidifretError):
    """A file, name or value that cannot be used.

    message: one sentence that names the bad value. allowed: what would do, or what to do.
    problems: the single faults, where a file has several.
    """

    def __init__(self, message: str, *, allowed: str = "", problems: tuple[Problem, ...] = ()) -> None:
        """Keep the parts apart, so that a screen or a document can lay them out."""
        super().__init__(message)
        self.message = message
        self.allowed = allowed
        self.problems = problems

    def __str__(self) -> str:
        """Return the message, what is allowed, and every single fault on a line of its own."""
        lines = [f"{self.message} ({self.allowed})" if self.allowed else self.message]
        return "\n".join([*lines, *(str(problem) for problem in self.problems)])


class Unavailable(BadInput):
    """Something outside the program that is needed and not there: a port, a disk, a book."""

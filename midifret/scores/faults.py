"""What a reading process says when it cannot read a score."""


class ScoreFault(Exception):
    """One fault. message: what is wrong, without the file's name. allowed: what would do. line: from 1."""

    def __init__(
        self, message: str, allowed: str = "", *, line: int | None = None, column: int | None = None
    ):
        """Keep the parts apart, so that the file's name can be put before them."""
        super().__init__(message)
        self.message, self.allowed, self.line, self.column = message, allowed, line, column

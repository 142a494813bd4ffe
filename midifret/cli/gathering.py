"""Several options of a command as one value."""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

Command = TypeVar("Command", bound=Callable[..., Any])
Option = Callable[[Any], Any]


def gathered(
    command: Command,
    options: Sequence[Option],
    names: Sequence[str],
    become: str,
    made: Callable[..., object],
) -> Command:
    """Add options to a command, which gets one value of them all.

    names: what click calls them. become: the name of the value. made: makes it of them, by keyword.
    """

    def gather(*args: Any, **kwargs: Any) -> Any:
        value = made(**{name: kwargs.pop(name) for name in names})
        return command(*args, **{become: value}, **kwargs)

    gather.__doc__ = command.__doc__
    gather.__name__ = command.__name__
    wrapped: Any = gather
    for option in reversed(options):
        wrapped = option(wrapped)
    before = getattr(command, "__click_params__", [])
    wrapped.__click_params__ = [*before, *wrapped.__click_params__]
    return wrapped  # type: ignore[no-any-return]

"""The one-time codes by which another device is let in: drawn, shown, used once, soon out of date."""

import hmac
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

# Letters and digits that are not taken for one another: neither 0 O Q D, 1 I L, 2 Z, 5 S, 8 B nor U V [ours].
ALPHABET = "34679ACEFGHJKMNPRTWXY"
# 21 to the 6th are 86 million; four codes hold at a time at most. With 1,000 guesses a day (rates.py) that is
# one chance in 21,000 for each whole day of guessing [calc].
LENGTH = 6
# A code is shown for so long, and holds a minute more for who is just typing it [ours].
SHOWN_S = 240.0
HOLDS_S = 300.0


class Rights(StrEnum):
    """What a viewer may do."""

    PLAY = "play"
    WATCH = "watch"


@dataclass(frozen=True, slots=True)
class Code:
    """A one-time code. until_s: when another one will be shown."""

    text: str
    rights: Rights
    until_s: float

    @property
    def shown(self) -> str:
        """As people read it: in two halves."""
        return f"{self.text[: LENGTH // 2]}-{self.text[LENGTH // 2 :]}"


class Codes:
    """The codes that hold, one shown for each kind of rights. draw: gives so many random bytes."""

    def __init__(self, draw: Callable[[int], bytes]) -> None:
        """No code is drawn before one is asked for."""
        self._draw = draw
        self._holding: list[tuple[Code, float]] = []  # with when each ceases to hold

    def shown(self, rights: Rights, now_s: float) -> Code:
        """Return the code to be shown now; a new one where the last was used or is out of date."""
        self._forget(now_s)
        for code, _ in reversed(self._holding):
            if code.rights is rights and code.until_s > now_s:
                return code
        text = self._text()
        while any(code.text == text for code, _ in self._holding):
            text = self._text()
        code = Code(text, rights, now_s + SHOWN_S)
        self._holding.append((code, now_s + HOLDS_S))
        return code

    def use(self, typed: str, now_s: float) -> Rights | None:
        """Return what a code gives, and let it hold no longer; None for a wrong one."""
        self._forget(now_s)
        text = "".join(typed.upper().split()).replace("-", "")
        found: Code | None = None
        for code, _ in self._holding:
            if hmac.compare_digest(code.text.encode(), text.encode("utf-8", "replace")):
                found = code
        if found is None:
            return None
        self._holding = [each for each in self._holding if each[0] is not found]
        return found.rights

    def _forget(self, now_s: float) -> None:
        self._holding = [each for each in self._holding if each[1] > now_s]

    def _text(self) -> str:
        letters: list[str] = []
        whole = 256 - 256 % len(ALPHABET)  # bytes from here on would make some letters likelier
        while len(letters) < LENGTH:
            letters += [ALPHABET[byte % len(ALPHABET)] for byte in self._draw(LENGTH) if byte < whole]
        return "".join(letters[:LENGTH])

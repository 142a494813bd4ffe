"""A note name typed letter by letter, taken as soon as it can mean only one thing."""

from dataclasses import dataclass

from midifret.neck import Language, parse_name
from midifret.neck.names import typed_names
from midifret.terms import SpelledPitch

# A letter that could still take an accidental counts after this pause; an accidental follows its letter
# within 0.3 s or so when both are meant [ours, not measured].
PAUSE_S = 0.8


@dataclass(frozen=True, slots=True)
class NamedAnswer:
    """A finished name. pitch: in octave 4. time_s: when its last letter was typed."""

    typed: str
    pitch: SpelledPitch
    time_s: float


class NameEntry:
    """Collects the letters of one name.

    text: what has been typed so far.
    """

    def __init__(self, language: Language) -> None:
        """Start empty."""
        self.text = ""
        self._language = language
        self._names = typed_names(language)
        self._last_s = 0.0

    def key(self, key: str, time_s: float) -> NamedAnswer | None:
        """Take a key; return the name if it is finished. Keys that lead to no name are ignored."""
        if key == "backspace":
            self.text = self.text[:-1]
            return None
        if key == "enter":
            return self._finish() if self.text in self._names else None
        text = self.text + key.lower().replace("♯", "#").replace("♭", "b")
        longer = [name for name in self._names if name.startswith(text)]
        if len(key) != 1 or not longer:
            return None
        self.text, self._last_s = text, time_s
        return self._finish() if longer == [text] else None

    def whole(self, name: str, time_s: float) -> NamedAnswer | None:
        """Take a whole name, as a button has it; None for what is no name."""
        typed = name.lower().replace("♯", "#").replace("♭", "b")
        if typed not in self._names:
            return None
        self.text, self._last_s = typed, time_s
        return self._finish()

    def tick(self, now_s: float) -> NamedAnswer | None:
        """Let time pass: a name that could still go on counts after a pause."""
        if self.text in self._names and now_s - self._last_s >= PAUSE_S:
            return self._finish()
        return None

    @property
    def typed_s(self) -> float:
        """When the last letter was typed."""
        return self._last_s

    @property
    def is_name(self) -> bool:
        """Whether what was typed so far is a whole name."""
        return self.text in self._names

    def clear(self) -> None:
        """Forget what was typed."""
        self.text = ""

    def _finish(self) -> NamedAnswer:
        typed, self.text = self.text, ""
        step, alter, _ = parse_name(typed, self._language)
        return NamedAnswer(typed, SpelledPitch(step, alter, 4), self._last_s)

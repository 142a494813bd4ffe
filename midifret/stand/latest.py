"""What a page has to be told: of moments the newest alone, of all else everything in order."""

from collections import OrderedDict, deque
from dataclasses import replace

from midifret.stand.messages import Engraving, Hall, NoteMark, RunScreen, ToPage

# A page this far behind is closed; it comes back and is told all there is [ours].
MOST_WAITING = 1000
# What is kept for pages that come later [ours].
MOST_ENGRAVINGS = 256


class Outbox:
    """What one page has not been told yet. Only the newest moment waits, with the marks of those before."""

    def __init__(self) -> None:
        """Nothing waits."""
        self._others: deque[ToPage] = deque()
        self._moment: Hall | RunScreen | None = None

    def put(self, message: ToPage) -> bool:
        """Add a message; returns False where so many wait that the page is beyond hope."""
        if isinstance(message, Hall | RunScreen):
            self._moment = joined(self._moment, message)
            return True
        self._others.append(message)
        return len(self._others) <= MOST_WAITING

    def next(self) -> ToPage | None:
        """Return what is to be told next: the moment comes last, after the engravings that it needs."""
        if self._others:
            return self._others.popleft()
        moment, self._moment = self._moment, None
        return moment

    def __len__(self) -> int:
        """How many messages wait."""
        return len(self._others) + (self._moment is not None)


def joined(older: Hall | RunScreen | None, newer: Hall | RunScreen) -> Hall | RunScreen:
    """Return the newer moment, with the marks of the older one where it only says what changed."""
    if not isinstance(older, RunScreen) or not isinstance(newer, RunScreen) or older.run != newer.run:
        return newer
    if older.reading is None or newer.reading is None or newer.reading.whole:
        return newer
    marks = {mark.ident: mark for mark in (*older.reading.marks, *newer.reading.marks)}
    reading = replace(newer.reading, marks=tuple(marks.values()), whole=older.reading.whole)
    return replace(newer, reading=reading)


class Known:
    """What whoever connects is told: the engravings of this run, and the last moment with all its marks."""

    def __init__(self) -> None:
        """Nothing was told yet."""
        self._engravings: OrderedDict[str, Engraving] = OrderedDict()
        self._moment: Hall | RunScreen | None = None
        self._marks: dict[str, NoteMark] = {}

    def keep(self, message: ToPage) -> None:
        """Remember a message, if it is one of those that last."""
        if isinstance(message, Engraving):
            self._engravings[message.name] = message
            self._engravings.move_to_end(message.name)
            if len(self._engravings) > MOST_ENGRAVINGS:
                self._engravings.popitem(last=False)
        elif isinstance(message, Hall):
            if isinstance(self._moment, RunScreen):  # the run is over, and what was engraved for it
                self._engravings.clear()
            self._moment = message
            self._marks.clear()
        elif isinstance(message, RunScreen):
            if not isinstance(self._moment, RunScreen) or self._moment.run != message.run:
                self._marks.clear()
            self._moment = message
            if message.reading is not None:
                if message.reading.whole:
                    self._marks.clear()
                for mark in message.reading.marks:
                    self._marks[mark.ident] = mark

    def all(self) -> tuple[ToPage, ...]:
        """Return what to tell, in order."""
        moment = self._moment
        if isinstance(moment, RunScreen) and moment.reading is not None:
            reading = replace(moment.reading, marks=tuple(self._marks.values()), whole=True)
            moment = replace(moment, reading=reading)
        return (*self._engravings.values(), *(() if moment is None else (moment,)))

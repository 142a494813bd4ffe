"""The check before a day's first run: does every open string arrive, on its channel and in tune?"""

from midifret.gear.guitar import Guitar
from midifret.neck import Language, pitch_name, spell
from midifret.session.screen import StringCheck
from midifret.terms import Note

# Long enough to pluck six to eight strings slowly, one a second, and start over once.
CHECK_S = 10.0
# A string this far off sounds out of tune beside its neighbours: well above the 5 to 10 cents that a trained
# ear hears, well below the 40 cents up to which a fret is never mistaken [ours].
IN_TUNE_CENTS = 15.0


class OpenStringCheck:
    """Listens to open strings, in any order. Times are on the run's clock."""

    def __init__(self, guitar: Guitar, language: Language, start_s: float) -> None:
        """Wait for every string of the guitar."""
        self._neck = guitar.neck
        self._start_s = start_s
        self._names = {
            string: pitch_name(spell(self._neck.open_midi(string))[0], language)
            for string in range(1, self._neck.strings + 1)
        }
        self._cents: dict[int, float] = {}
        self._states: dict[int, str] = {}
        self.message = "Pluck every open string once."

    def hear(self, note: Note) -> None:
        """Take a note. A string that sounds stopped is either fretted or out of tune by that much."""
        if note.string is None:
            self.message = f"Channel {note.channel + 1} has no string in this guitar's settings."
        elif note.fret == 0:
            self.tune(note.string, note.cents)
        else:
            self._cents.pop(note.string, None)
            self._states[note.string] = f"sounds as fret {note.fret}: fretted, or out of tune"

    def tune(self, string: int, cents: float) -> None:
        """Take how far an open string now sounds from its pitch."""
        self._cents[string] = cents
        if abs(cents) <= IN_TUNE_CENTS:
            self._states[string] = "heard, in tune"
        else:
            self._states[string] = f"heard, {abs(cents):.0f} cents {'sharp' if cents > 0 else 'flat'}"

    def heard_open(self, string: int) -> bool:
        """Whether this string was last heard open."""
        return string in self._cents

    @property
    def strings(self) -> tuple[StringCheck, ...]:
        """How each string stands, string 1 first."""
        return tuple(
            StringCheck(
                string,
                name,
                self._states.get(string, "waiting"),
                self._cents.get(string),
                ok=abs(self._cents.get(string, 1e9)) <= IN_TUNE_CENTS,
            )
            for string, name in self._names.items()
        )

    @property
    def heard_any(self) -> bool:
        """Whether any string of the guitar was heard, right or not."""
        return bool(self._states)

    @property
    def passed(self) -> bool:
        """Whether every string arrived and is in tune."""
        return all(check.ok for check in self.strings)

    def done(self, now_s: float) -> bool:
        """Whether the check is over, passed or not."""
        return self.passed or now_s - self._start_s >= CHECK_S

    def verdict(self) -> str:
        """Say in one line what was found."""
        if self.passed:
            return "All strings heard and in tune."
        silent = [f"{check.string} ({check.name})" for check in self.strings if check.state == "waiting"]
        off = [
            f"{check.string}: {check.state}"
            for check in self.strings
            if check.state != "waiting" and not check.ok
        ]
        parts = []
        if silent:
            parts.append(
                f"not heard: {', '.join(silent)}; check the pickup and the channel list of the guitar"
            )
        if off:
            parts.append(f"string {'; string '.join(off)}")
        return "; ".join(parts) + "."

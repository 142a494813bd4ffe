"""Small invented scores for the tests, and MusicXML around what a test is about."""

from pathlib import Path

from midifret.scores import Choices, score_of
from midifret.scores.child import read as read_bytes
from midifret.terms.score import Score

OCTAVE_CLEF = "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
PLAIN_CLEF = "<clef><sign>G</sign><line>2</line></clef>"


TYPES = {
    quarters: f"<type>{name}</type>"
    for quarters, name in ((4, "whole"), (2, "half"), (1, "quarter"), (0.5, "eighth"), (0.25, "16th"))
} | {3: "<type>half</type><dot/>", 1 / 3: "<type>eighth</type>"}


def note(pitch: str, quarters: float = 1, *, inside: str = "", voice: int = 1, before: str = "") -> str:
    """One note of MusicXML: pitch as "F#4"; `inside` stands after the voice, `before` at the start."""
    alter = {"#": "<alter>1</alter>", "b": "<alter>-1</alter>"}.get(pitch[1:-1], "")
    duration = "" if "<grace" in before else f"<duration>{round(quarters * 24)}</duration>"
    kind = TYPES.get(quarters, "")
    ties = "".join(f'<tie type="{kind}"/>' for kind in ("stop", "start") if f'tied type="{kind}"' in inside)
    return (
        f"<note>{before}<pitch><step>{pitch[0]}</step>{alter}<octave>{pitch[-1]}</octave></pitch>"
        f"{duration}{ties}<voice>{voice}</voice>{kind}{inside}</note>"
    )


def notations(inside: str) -> str:
    return f"<notations>{inside}</notations>"


def technical(inside: str) -> str:
    return notations(f"<technical>{inside}</technical>")


def words(text: str) -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def musicxml(
    *bars: str, clef: str = OCTAVE_CLEF, attributes: str = "", name: str = "Guitar", time: str = "4/4"
) -> str:
    """A score of one part; each bar is what stands in it."""
    beats, unit = time.split("/")
    first = (
        "<attributes><divisions>24</divisions><key><fifths>0</fifths></key>"
        f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>{clef}{attributes}</attributes>"
    )
    measures = "".join(
        f'<measure number="{n}">{first if n == 1 else ""}{bar}</measure>'
        for n, bar in enumerate(bars, start=1)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0"><part-list>'
        f'<score-part id="P1"><part-name>{name}</part-name></score-part></part-list>'
        f'<part id="P1">{measures}</part></score-partwise>'
    )


def kept(folder: Path, name: str, content: str | bytes) -> Path:
    """Write a file and return its path."""
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def read(folder: Path, content: str | bytes, name: str = "tune.musicxml", **choices: object) -> Score:
    """Read a score from text, in this process; tests/scores/test_safety.py goes the whole way."""
    path = kept(folder, name, content)
    choice = Choices(**choices)  # type: ignore[arg-type]
    return score_of(read_bytes(path.suffix, path.read_bytes(), choice.tune), str(path), choice)


def sounding(score: Score) -> list[tuple[str, str, int]]:
    """Onset, duration and pitch of every note, as a test writes them down."""
    return [(str(n.onset_quarter), str(n.duration_quarter), n.midi) for n in score.notes]


REPEAT_START = '<barline location="left"><repeat direction="forward"/></barline>'
REPEAT_END = '<barline location="right"><repeat direction="backward"/></barline>'


def ending(number: str, kind: str, *, repeat: bool = False) -> str:
    """A bracket over a bar: kind start, stop or discontinue."""
    location = "left" if kind == "start" else "right"
    again = '<repeat direction="backward"/>' if repeat else ""
    return f'<barline location="{location}"><ending number="{number}" type="{kind}"/>{again}</barline>'

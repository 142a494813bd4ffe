"""Damaged and hostile files: takes, drills, guitars, tunings and settings, and what has to hold of them."""

import io
import json
import math
import random
import re
from functools import cache
from pathlib import Path

import mido
from fuzz_hearing import any_neck, any_script, any_wiring, check_decoder, demand, split

from midifret.cli.decode import decode_document, decode_lines
from midifret.drills import build
from midifret.drills.library import check, find, load_all
from midifret.drills.models import DrillFile
from midifret.files import Home, check_model, parse_document, shipped_folder
from midifret.gear import check_guitar, load_guitar, load_settings, load_tunings
from midifret.gear.guitar import Guitar
from midifret.gear.load import check_settings, check_tunings
from midifret.gear.write import guitar_text
from midifret.hear import Decoder, decode
from midifret.neck import Language, Neck
from midifret.session.recorded import judge_take
from midifret.terms import Exercise, TimedMessage
from midifret.terms.marks import CuePoint, Mark, MarkKind, TypedName
from midifret.wire.take import Take, format_take, parse_take

NOBODY = Home(Path("no-such-folder"))
PLAYED = ("row-5-leap-1", "places-of-a", "mixed-review", "open-position-naming", "taken-string-pairs")

# A few bytes can claim a recording of 200,000 years, which is read at once; the program writes what it hears
# itself, and that is no longer than this. [ours]
LONGEST_WRITTEN_S = 30 * 86_400

# What is put in where bytes are damaged: ends of numbers of seven, eight, sixteen and 32 bits.
_EDGES = (0x00, 0x01, 0x7F, 0x80, 0x81, 0xFF, 0xF0, 0xF7, 0x2F, 0x51)


def flipped(data: bytes, draw: random.Random, *, most: int = 4) -> bytes:
    """The same bytes damaged at a few places: flipped, cut, doubled, moved, numbers at their ends."""
    damaged = bytearray(data)
    for _ in range(draw.randint(1, most)):
        if not damaged:
            return b""
        at = draw.randrange(len(damaged))
        size = draw.choice((1, 1, 2, 4, draw.randint(1, 40)))
        match draw.randrange(8):
            case 0:
                damaged[at] ^= 1 << draw.randrange(8)
            case 1:
                damaged[at] = draw.choice(_EDGES)
            case 2:
                del damaged[at : at + size]
            case 3:
                damaged[at:at] = damaged[at : at + size] * draw.choice((1, 1, 3, 50))
            case 4:
                other = draw.randrange(len(damaged))
                damaged[other:other] = damaged[at : at + size]
            case 5:
                damaged[at:at] = draw.randbytes(size)
            case 6:
                del damaged[at:]
            case _:
                damaged[at : at + 4] = draw.choice((0, 1, 0xFFFFFFFF, 0x7FFFFFFF, len(data))).to_bytes(
                    4, "big"
                )
    return bytes(damaged)


# Takes.


@cache
def _stages() -> tuple[tuple[Guitar, ...], tuple[Exercise, ...]]:
    guitar = load_guitar("default", NOBODY)
    return (guitar,), tuple(build(find(name, NOBODY), guitar.neck) for name in PLAYED)


def any_take(draw: random.Random) -> bytes:
    """A file as a sequencer or a take of ours has it, most of them whole, with hostile music in it."""
    script = []
    neck, wiring = any_neck(draw), any_wiring(any_neck(draw), draw)
    for _ in range(draw.randint(1, 3)):
        start_s = script[-1][0] if script else 0.0
        heard = split(any_script(neck, wiring, draw))  # what a port hands on is split before it is kept
        script += [(start_s + time_s, data) for time_s, data in heard if data]
    data = _ours(script, draw) if draw.random() < 0.5 else _theirs(script, draw)
    if draw.random() < 0.4:
        data = flipped(data, draw)
    if draw.random() < 0.1:
        data = _lengths_set(data, draw)
    return data


def _ours(script: list[tuple[float, bytes]], draw: random.Random) -> bytes:
    end_s = script[-1][0] if script else 0.0
    times = sorted(draw.uniform(0, end_s) for _ in range(6))
    cues = tuple(CuePoint(draw.choice((n, n, 0, 999_999_999)), s) for n, s in enumerate(times, start=1))
    marks = tuple(
        Mark(draw.choice(tuple(MarkKind)), draw.uniform(0, end_s)) for _ in range(draw.randint(0, 5))
    )
    typed = tuple(TypedName(draw.choice(("A", "C#", "Bb")), s) for s in times[: draw.randint(0, 6)])
    take = Take(
        messages=tuple(TimedMessage(time_s, message) for time_s, message in script),
        drill=draw.choice((*PLAYED, "", "no such: drill\n", "é♯\x00")),
        seed=draw.choice((None, 0, -1, 10**18)),
        guitar=draw.choice(("", "default", "elsewhere")),
        cues=cues if draw.random() < 0.7 else (),
        marks=tuple(sorted(marks, key=lambda mark: mark.time_s)),
        typed=typed,
    )
    return format_take(take)


def _theirs(script: list[tuple[float, bytes]], draw: random.Random) -> bytes:
    """Several tracks, tempo changes, any division, texts in any encoding, system exclusive."""
    tracks = [mido.MidiTrack() for _ in range(draw.randint(1, 4))]
    ticks = [0] * len(tracks)
    division = draw.choice((1, 24, 96, 480, 960, 32767))
    for time_s, data in script:
        which = draw.randrange(len(tracks))
        now = max(ticks[which], round(time_s * division * 2))
        delta = min(now - ticks[which], 0x0FFFFFFF)
        message: mido.Message | mido.MetaMessage
        try:
            message = mido.Message.from_bytes(data, time=delta)
        except ValueError:
            continue
        if message.is_realtime or message.type in (
            "reset",
            "tune_request",
            "songpos",
            "song_select",
            "quarter_frame",
        ):
            continue
        ticks[which] += delta
        tracks[which].append(message)
        if draw.random() < 0.05:
            tempo = draw.choice((1, 500_000, 16_777_215, draw.randrange(1, 1 << 24)))
            tracks[which].append(mido.MetaMessage("set_tempo", tempo=tempo))
        if draw.random() < 0.05:
            kind = draw.choice(("text", "lyrics", "marker", "cue_marker"))
            text = draw.choice(("1", "pause", "A", "seed: 99", "drill: x", "é", "9" * 30, ""))
            tracks[which].append(mido.MetaMessage(kind, text=text))
        if draw.random() < 0.03:
            tracks[which].append(
                mido.Message("sysex", data=bytes(draw.choices(range(128), k=draw.randint(0, 200))))
            )
    file = mido.MidiFile(type=0 if len(tracks) == 1 else 1, ticks_per_beat=division)
    file.tracks += tracks
    written = io.BytesIO()
    file.save(file=written)
    data = bytearray(written.getvalue())
    if draw.random() < 0.1:
        data[12:14] = bytes((256 - draw.choice((24, 25, 29, 30)), draw.choice((1, 40, 100, 255))))
    if draw.random() < 0.1:
        at = data.find(b"MTrk")
        data[at:at] = b"XFIH" + (5).to_bytes(4, "big") + b"\x00\x01MTr"  # a chunk to be skipped
    return bytes(data)


def _lengths_set(data: bytes, draw: random.Random) -> bytes:
    """The length or number of something in the file set to another one."""
    damaged = bytearray(data)
    at = draw.choice([4, 8, 10, 12] + [i + 4 for i in range(len(data) - 8) if data[i : i + 4] == b"MTrk"])
    size = 2 if 8 <= at <= 12 else 4
    value = draw.choice((0, 1, 2, 6, 0xFFFF, len(data), draw.randrange(1 << (8 * size)))) % (1 << (8 * size))
    damaged[at : at + size] = value.to_bytes(size, "big")
    return bytes(damaged)


def check_take(data: bytes, draw: random.Random) -> None:
    """Read a file, hear it, print it, judge it, write it and read it again. Raises what any of it raises."""
    take = parse_take(data, "t.mid")
    times = [message.time_s for message in take.messages]
    demand(times == sorted(times) and all(math.isfinite(s) and s >= 0 for s in times), f"times: {times}")
    demand(take.end_s >= max(times, default=0.0), f"ends at {take.end_s}")
    guitars, exercises = _stages()
    guitar, exercise = draw.choice(guitars), draw.choice(exercises)
    neck = guitar.neck
    wiring = guitar.wiring if draw.random() < 0.5 else any_wiring(neck, draw)
    decoded = decode(take.messages, Decoder(neck, wiring), end_s=take.end_s)
    json.dumps(decode_document(decoded), allow_nan=False)
    decode_lines(decoded, draw.choice(tuple(Language)))
    for item in decoded.notes:
        demand(item.duration_s >= -1e-9, f"lasts {item.duration_s}: {item.note}")
        demand(not item.note.doubtful, f"doubtful to the end: {item.note}")
    if times and times[-1] < 60 and draw.random() < 0.2:
        check_decoder(neck, wiring, list(take.messages))
    answers, _ = judge_take(
        exercise,
        guitar,
        take.messages,
        cues=take.cues,
        marks=take.marks,
        typed=take.typed,
        end_s=take.end_s,
    )
    numbers = [answer.n for answer in answers]
    demand(numbers == sorted(set(numbers)), f"answers out of order: {numbers}")
    whole = not any(mark.kind is MarkKind.ENDED_EARLY for mark in take.marks)
    demand(not whole or len(answers) == len(exercise.prompts), f"prompts without an answer: {numbers}")
    if take.end_s > LONGEST_WRITTEN_S:
        return
    again = parse_take(format_take(take), "again.mid")
    demand(len(again.messages) == len(take.messages), "written and read again: messages lost")
    demand((again.drill, again.seed) == (take.drill, take.seed), f"heads: {again} {take}")
    if draw.random() < 0.1:  # what is no message is left out
        format_take(Take(tuple(TimedMessage(0.0, draw.randbytes(size)) for size in range(5))))


# Files that people edit.

_WORDS = (
    *(
        "0",
        "-1",
        "1",
        "7",
        "19",
        "25",
        "128",
        "999999999999999999999999",
        "1e400",
        "-0.0",
        ".5",
        "0x7f",
        "0o17",
    ),
    *("true", "null", "~", "off", "no", "1_0", "6:5", "0:0", "7:30", "-1:2", "''", '""', "[]", "{}", "[[]]"),
    *("[1, 2]", "{a: b}", "&a x", "*a", "!!str 5", "!!python/object:os.system x", "<<: *a", "? k", "| \n  x"),
    *("C", "C#", "Bb", "H", "E4", "E99", "C##4", "x" * 300, "é", "♯", "\u202e", "\U0001f3b8", "\\u0000"),
    *("nan", "inf", ".inf", ".nan", "2026-01-01", "---", "...", "%YAML 1.2", "\t", "- ", ": ", "# ", "\x00"),
    *(
        "2",
        "3",
        "5",
        "6",
        "8",
        "11",
        "12",
        "15",
        "16",
        "17",
        "18",
        "20",
        "23",
        "24",
        "60",
        "96",
        "0.1",
        "99.9",
    ),
    *(
        "6:0",
        "1:19",
        "1:20",
        "7:1",
        "12:5",
        "X",
        "Q",
        "B#",
        "Cb",
        "H#",
        "Fis",
        "C-1",
        "G9",
        "C minor",
        "H dur",
    ),
    *("per-string", "mpe", "one-channel", "shuffled", "place", "name", "all", "1-4", "4-1", "0-99"),
)


def mutated(text: str, words: tuple[str, ...], draw: random.Random) -> bytes:
    """A YAML file with tokens swapped, put in, left out, nested, anchored; at times with bytes damaged."""
    lines = text.splitlines()
    for _ in range(draw.choice((1, 1, 1, 2, 4))):
        told = [n for n, line in enumerate(lines) if ":" in line and line.lstrip()[:1] != "#"]
        at = draw.choice(told) if told and draw.random() < 0.9 else draw.randrange(len(lines) or 1)
        line = lines[at] if lines else ""
        indent = line[: len(line) - len(line.lstrip())]
        word = draw.choice(_WORDS) if draw.random() < 0.6 else draw.choice(words)
        match draw.randrange(14):
            case 0 | 1 | 2:
                key, colon, _ = line.partition(":")
                lines[at : at + 1] = [f"{key}: {word}" if colon else f"{indent}{word}"]
            case 3:
                tokens = line.split(" ")
                tokens[draw.randrange(len(tokens))] = word
                lines[at : at + 1] = [" ".join(tokens)]
            case 4:
                lines[at : at + 1] = []
            case 5:
                lines[at:at] = [f"{indent}{word}: {draw.choice(_WORDS)}"]
            case 6:
                other = draw.randrange(len(lines)) if lines else 0
                lines[other:other] = lines[at : at + draw.randint(1, 4)]
            case 7:
                lines[at : at + 1] = [draw.choice((" ", "  ", "- ", "")) + line]
            case 8:
                deep = draw.choice((3, 23, 24, 25, 400, 3000))
                opened = draw.choice(("[", "{a: "))
                closed = "]" if opened == "[" else "}"
                key = line.partition(":")[0]
                lines[at : at + 1] = [
                    f"{key}: {opened * deep}1{closed * draw.choice((deep, deep, 0, deep - 1))}"
                ]
            case 9 | 10 | 11:
                lines[at : at + 1] = [_renumbered(line, draw)]
            case 12:
                laugh = [
                    f"{indent}a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9) if n else 'x'}]" for n in range(7)
                ]
                lines[at:at] = laugh
            case _:
                lines[at : at + 1] = [
                    line[:-1] + draw.choice(("'", '"', "[", "{", ",", "*", "&", "!", "%", "@"))
                ]
    data = "\n".join(lines).encode("utf-8", "surrogatepass")
    return flipped(data, draw, most=2) if draw.random() < 0.1 else data


def _renumbered(line: str, draw: random.Random) -> str:
    """The line with one of its numbers changed: a little, a lot, its sign, its kind."""
    numbers = list(re.finditer("[0-9]+", line))
    if not numbers:
        return line
    found = draw.choice(numbers)
    number = int(found[0][:40])
    other = draw.choice(
        (number - 1, number + 1, 2 * number, -number, number + draw.randint(-24, 24), number * 10**20)
    )
    text = draw.choice((f"{other}", f"{other}", f"{other}", f"{other}.5", f"'{other}'"))
    return f"{line[: found.start()]}{text}{line[found.end() :]}"


@cache
def _seeds(kind: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The shipped files of a kind, and the words in them."""
    config = shipped_folder("config")
    paths = {
        "drills": sorted(shipped_folder("drills").rglob("*.yaml")),
        "guitar": [config / "guitars" / "default.yaml"],
        "tunings": [config / "tunings.yaml"],
        "settings": [config / "settings.yaml"],
    }[kind]
    texts = [path.read_text(encoding="utf-8") for path in paths]
    # The same without remarks and with what stands in remarks as an example put to use.
    texts += [
        "\n".join(line.partition(" #")[0].removeprefix("# ") for line in text.splitlines()) for text in texts
    ]
    words = sorted({word.strip("[]{},:") for text in texts for word in text.split()} - {""})
    return tuple(texts), tuple(words)


def any_file(kind: str, draw: random.Random) -> bytes:
    """A damaged file of a kind."""
    texts, words = _seeds(kind)
    return mutated(draw.choice(texts), words, draw)


def check_drill(data: bytes, draw: random.Random) -> None:
    """Read a drill and make its exercise on some neck. Raises what any of it raises."""
    document = parse_document(data, "d.yaml")
    neck = draw.choice(_necks())
    problems = check(document, neck, NOBODY)
    for problem in problems:
        demand(bool(problem.message) and bool(str(problem)), f"a problem without words: {problem!r}")
        demand((problem.line or 1) >= 1 and (problem.column or 1) >= 1, f"nowhere: {problem}")
    content, found = check_model(document, DrillFile)
    demand((content is None) == bool(found), f"neither a drill nor a problem: {found}")


@cache
def _necks() -> tuple[Neck, ...]:
    tunings = load_tunings(NOBODY)
    return tuple(
        Neck(tuning, frets, capo) for tuning in tunings for frets, capo in ((19, 0), (12, 11), (24, 5))
    )


def check_gear(kind: str, data: bytes, draw: random.Random) -> None:
    """Read a guitar, tunings or settings; a guitar that is one is written, read again and heard."""
    document = parse_document(data, f"{kind}.yaml")
    if kind == "settings":
        settings, problems = check_settings(document)
        demand((settings is None) == bool(problems), f"neither settings nor a problem: {problems}")
        return
    if kind == "tunings":
        tunings, problems = check_tunings(document)
        demand(not (tunings and problems), f"tunings and problems: {problems}")
        for tuning in tunings:
            neck = Neck(tuning)
            demand(all(0 <= neck.midi(place) <= 127 for place in neck.all_places()), f"beyond MIDI: {tuning}")
        return
    guitar, problems = check_guitar(document, load_known(), name="g")
    demand((guitar is None) == bool(problems), f"neither a guitar nor a problem: {problems}")
    if guitar is None:
        return
    text = guitar_text(guitar)
    again, problems = check_guitar(parse_document(text.encode(), "again.yaml"), load_known(), name="g")
    demand(
        again == guitar, f"written and read again it is another one: {problems}\n{guitar}\n{again}\n{text}"
    )
    check_decoder(guitar.neck, guitar.wiring, any_script(guitar.neck, guitar.wiring, draw))


@cache
def load_known() -> tuple:  # type: ignore[type-arg]
    """The shipped tunings."""
    return load_tunings(NOBODY)


def warm_up() -> None:
    """Load what is loaded once, so that no input pays for it."""
    _stages()
    _necks()
    load_known()
    load_settings(NOBODY)
    load_all(NOBODY)
    faulty = b"titel: x\njudge: too\ntuning: none\n"  # what helps with faults is made at the first one
    check_drill(faulty, random.Random(0))
    for kind in ("guitar", "tunings", "settings"):
        check_gear(kind, faulty, random.Random(0))

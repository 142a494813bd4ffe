"""What a practice session says between its parts, in plain words: what comes and why, and what came of it."""

from collections.abc import Callable, Sequence
from typing import Any

from midifret.neck import Accidentals, Language, Neck, pitch_name, roman, spell
from midifret.practice import Asked, Block, BlockKind, DayPlan, RecallKind, Stage
from midifret.practice.asking import has_octave
from midifret.practice.course import BlockDone, Course, is_nothing_due
from midifret.session.interlude import Interlude, InterludeKind, Option, Reply
from midifret.show.shown import minutes_long
from midifret.show.words import counted

# The title of a drill by its name.
Titles = Callable[[str], str]
_MOST_TOLD = 8  # places in one sentence [ours]
_TITLES = {
    BlockKind.WARM_UP: "Warm-up",
    BlockKind.WEAK: "Weak places",
    BlockKind.CLOSE: "To end on",
    BlockKind.BREAK: "Break",
}
_ASKED_WORDS = {
    RecallKind.NAME: "A note name and a string: play it there, at the lowest fret that has it.",
    RecallKind.STAFF: "A note on the staff and a string: play it there.",
    RecallKind.NAMING: "A place is shown: type its name.",
}
_GO = Option(Reply.GO, "enter", "begin")
_SKIP = Option(Reply.SKIP, "s", "leave it out")
_STOP = Option(Reply.STOP, "q", "stop for now")


def block_title(block: Block, titles: Titles) -> str:
    """What a block is, in a few words."""
    if block.drill is not None:
        return titles(block.drill)
    if block.score is not None:
        return block.score
    if block.kind is BlockKind.READING:
        return f"Reading in position {roman(block.position)}" if block.position else "Reading"
    if block.kind in (BlockKind.ROW, BlockKind.NEW) and block.asked:
        frets = sorted({asked.place.fret for asked in block.asked})
        if len(frets) > 1:
            return "New places" if block.kind is BlockKind.NEW else f"Rows {frets[0]} to {frets[-1]}"
        what = "the open strings" if frets == [0] else f"row {frets[0]}"
        return f"New: {what}" if block.kind is BlockKind.NEW else f"{what[0].upper()}{what[1:]}"
    if is_nothing_due(block):
        return "What you know"
    return _TITLES.get(block.kind, "Places")


def block_interlude(course: Course, titles: Titles, *, hint: str = "", shown: bool = False) -> Interlude:
    """The screen before a block. hint: what else to know of it. shown: its places are shown.

    Raises ValueError at the end of a course.
    """
    block = course.block
    if block is None:
        raise ValueError("the session is over")
    number, of = _number(course)
    if block.kind is BlockKind.BREAK:
        return Interlude(
            InterludeKind.BREAK,
            "Break",
            (block.why,),
            (Option(Reply.GO, "enter", "play on now"), _STOP),
            quiet=("Pain is a sign to stop for today.",),
            number=number,
            of=of,
            counts_s=block.minutes * 60,
        )
    lines = [f"{_capital(minutes_long(course.block_left * 60))}. {block.why}"]
    quiet = [
        _ASKED_WORDS[kind]
        for kind in dict.fromkeys(asked.kind for asked in block.asked)
        if kind in _ASKED_WORDS
    ]
    if has_octave(block.asked):
        quiet.append(
            "Fret 12 has the name of the open string; where it says fretted, the open string is not meant."
        )
    if any(asked.kind is RecallKind.NAME and asked.place.fret > 12 for asked in block.asked):
        quiet.append("Where it says the higher one, the place above fret 12 is meant.")
    if shown:
        quiet = ["Each place is shown: play it."]
    quiet += [hint] if hint else []
    then = [block_title(each, titles) for each in course.coming]
    if then:
        quiet.append(f"Then: {'; '.join(_lower(each) for each in then)}.")
    return Interlude(
        InterludeKind.BLOCK,
        block_title(block, titles),
        tuple(lines),
        (_GO, _SKIP, _STOP),
        quiet=tuple(quiet),
        plucked=True,
        number=number,
        of=of,
    )


def left_interlude(course: Course, titles: Titles) -> Interlude:
    """The screen after the player has left a block before its end."""
    block = course.block
    assert block is not None
    number, of = _number(course)
    return Interlude(
        InterludeKind.LEFT,
        block_title(block, titles),
        (
            f"You left this block. {_capital(minutes_long(course.block_left * 60))} of it are left, "
            f"{minutes_long(course.left * 60)} of the session.",
        ),
        (Option(Reply.GO, "enter", "go on with it"), Option(Reply.SKIP, "s", "go on with the next"), _STOP),
        quiet=("What you stop now can be taken up until four in the morning.",),
        number=number,
        of=of,
    )


def take_up_interlude(course: Course, titles: Titles) -> Interlude:
    """The screen where a session of this practice day was not finished."""
    number, of = _number(course)
    block = course.block
    at = (
        f"You left at block {number} of {of}, {_lower(block_title(block, titles))}."
        if block is not None
        else ""
    )
    return Interlude(
        InterludeKind.TAKE_UP,
        "Go on?",
        (
            f"You began a session today and played {counted_minutes(course.played)} of it. {at}",
            f"{_capital(minutes_long(course.left * 60))} are left.",
        ),
        (
            Option(Reply.GO, "enter", "go on with it"),
            Option(Reply.ANEW, "n", "plan anew"),
            Option(Reply.STOP, "q", "quit"),
        ),
        number=number,
        of=of,
    )


def offer_interlude() -> Interlude:
    """The screen before anything is known of a player."""
    return Interlude(
        InterludeKind.OFFER,
        "Where to begin?",
        (
            "Nothing is known of you so far. In four minutes at most it can be found out where you stand: "
            "places are asked, row after row, until one does not come by heart.",
            "Or begin at the beginning, with the open position.",
        ),
        (
            Option(Reply.GO, "enter", "find out"),
            Option(Reply.SKIP, "b", "begin at the beginning"),
            Option(Reply.STOP, "q", "quit"),
        ),
        unasked=Reply.SKIP,
        quiet=("Where you do not know a place, press n, or wait: it is shown.",),
    )


def placed_interlude(lines: Sequence[str]) -> Interlude:
    """The screen after a placement run that is followed by practice."""
    return Interlude(
        InterludeKind.PLACED,
        "Where you stand",
        tuple(lines),
        (Option(Reply.GO, "enter", "practise"), Option(Reply.STOP, "q", "stop for now")),
    )


def placed_lines(stage: Stage, passed: Sequence[Stage], *, ran_out: bool) -> tuple[str, ...]:
    """What a placement run found, plainly. passed: stages that came by heart."""
    stands = f"You stand at {_lower(stage.title)}: that is where you go on."
    held = ", ".join(_lower(each.title) for each in passed)
    why = f"By heart came: {held}." if passed else "That is the beginning of the path."
    if ran_out:
        why += " The four minutes were over; it may be that you know more."
    return (
        stands,
        why,
        "It is an estimate by a few places. `midifret path --rows STAGE` sets another stage.",
    )


def summary_lines(
    course: Course,
    titles: Titles,
    newly: Sequence[Asked],
    in_time: int,
    tomorrow: DayPlan | None,
    neck: Neck,
    language: Language,
    accidentals: Accidentals,
) -> tuple[str, ...]:
    """What came of a session, honestly: what was practised, what comes in time now, what comes tomorrow.

    newly: places that came right and in time twice in a row and did not before. in_time: all that do.
    """
    if not any(done.answers for done in course.done):
        return ("Nothing was answered.",)
    right, answers = sum(done.right for done in course.done), sum(done.answers for done in course.done)
    ended = course.block is None
    lines = [
        f"{_capital(counted_minutes(course.played))} played{'' if ended else f' of {course.minutes:g}'}: "
        f"{right:,} of {answers:,} answers right at the first try."
    ]
    if newly:
        names = list(dict.fromkeys(_place_name(asked, neck, language, accidentals) for asked in newly))
        told = ", ".join(names[:_MOST_TOLD])
        more = f" and {len(names) - _MOST_TOLD} more" if len(names) > _MOST_TOLD else ""
        lines.append(
            f"Right and in time twice in a row now, as they were not when today began: {told}{more}. "
            "Whether it holds, tomorrow shows."
        )
    elif in_time:
        lines.append(f"{counted(in_time, 'place')} came in time twice in a row, as when today began.")
    else:
        lines.append("No place came in time twice in a row yet.")
    if not ended:
        left = "; ".join(_lower(block_title(each, titles)) for each in course.plan.blocks[course.at :])
        lines.append(f"Left for today: {left}. `midifret practice` takes it up.")
    elif tomorrow is not None:
        kinds = (BlockKind.WARM_UP, BlockKind.CLOSE, BlockKind.BREAK)
        coming = [_lower(block_title(each, titles)) for each in tomorrow.blocks if each.kind not in kinds]
        lines.append(
            f"Tomorrow, as it looks now: {'; '.join(dict.fromkeys(coming)) or 'what you know, to keep it'}."
        )
    return tuple(lines)


def end_interlude(course: Course, lines: Sequence[str]) -> Interlude:
    """The last screen of a session."""
    return Interlude(
        InterludeKind.END,
        "Done for today" if course.block is None else "Stopped",
        tuple(lines),
        (Option(Reply.GO, "enter", "close"),),
    )


def practice_document(
    course: Course, newly: Sequence[Asked], in_time: int, tomorrow: DayPlan | None
) -> dict[str, Any]:
    """The session as `practice --json` prints it.

    day; minutes: planned, of playing; played_minutes; ended: false where something is left to take up;
    blocks: {kind, drill, score, minutes, why, played_minutes, answers, right, skipped}, those left too;
    in_time: places right and in time twice in a row; newly_in_time: those that were not before, as
    {string, fret, kind}; tomorrow: {kind, drill, score, minutes, why}, null where something is left.
    """
    done = [*course.done, *(BlockDone() for _ in range(len(course.plan.blocks) - len(course.done)))]
    return {
        "day": course.plan.day.isoformat(),
        "minutes": course.minutes,
        "played_minutes": round(course.played, 2),
        "ended": course.block is None,
        "blocks": [
            _block_document(block)
            | {
                "played_minutes": round(part.minutes, 2),
                "answers": part.answers,
                "right": part.right,
                "skipped": part.skipped,
            }
            for block, part in zip(course.plan.blocks, done, strict=True)
        ],
        "in_time": in_time,
        "newly_in_time": [
            {"string": asked.place.string, "fret": asked.place.fret, "kind": asked.kind.value}
            for asked in newly
        ],
        "tomorrow": None if tomorrow is None else [_block_document(block) for block in tomorrow.blocks],
    }


def counted_minutes(minutes: float) -> str:
    """Minutes in figures, whole."""
    whole = round(minutes)
    return "less than a minute" if whole < 1 else counted(whole, "minute")


def _block_document(block: Block) -> dict[str, Any]:
    return {
        "kind": block.kind.value,
        "drill": block.drill,
        "score": block.score,
        "minutes": block.minutes,
        "why": block.why,
    }


def _place_name(asked: Asked, neck: Neck, language: Language, accidentals: Accidentals) -> str:
    pitch = spell(neck.midi(asked.place), accidentals)[0]
    return f"{pitch_name(pitch, language)} ({asked.place})"


def _number(course: Course) -> tuple[int, int]:
    return course.at + 1, len(course.plan.blocks)


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

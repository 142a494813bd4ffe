"""`midifret monitor`: what is heard from a guitar, live."""

import math
from collections import Counter

import click

from midifret.cli.app import app_of, guitar_option, json_option, print_document, warn
from midifret.cli.decode import decode_document
from midifret.cli.main import INTERRUPTED
from midifret.cli.timing import jump_words, timing_document, timing_line, timing_lines
from midifret.clock import Jump, JumpWatch, RealClock
from midifret.hear import Decoder, decode
from midifret.neck import Language, pitch_name, spell
from midifret.terms import (
    Attack,
    BadInput,
    Glitch,
    HeardEvent,
    HearingWarning,
    Note,
    NoteRevised,
    NoteSettled,
    TimedMessage,
    Voided,
)
from midifret.wire.ports import open_source

# Players begin to mind a delay at 20 ms; this one costs next to no work.
_POLL_S = 0.002
_TIMING_EVERY_S = 5.0


@click.command("monitor")
@guitar_option
@click.option("--port", metavar="PART", default=None, help="Part of the name of the MIDI input.")
@click.option(
    "--seconds",
    type=click.FloatRange(min=0.0, max=86_400.0, min_open=True),
    default=None,
    help="Stop after so long; else at Ctrl-C.",
)
@click.option("--timing", is_flag=True, help="Show also how well the notes can be dated.")
@json_option
@click.pass_context
def command(
    context: click.Context,
    guitar: str | None,
    port: str | None,
    seconds: float | None,
    timing: bool,
    as_json: bool,
) -> int:
    """Show every note as it is heard: string, fret, name, how far off pitch, how loud.

    The first thing to try with a new guitar: pluck each string and see whether it comes as itself. A note
    that may be a glitch of the converter is shown once it is sure; one that was a glitch, with the reason.
    A guitar that goes is waited for. With --timing: whether the driver's time steps can be trusted, how its
    clock runs against the computer's, and how late messages are read, every 5 s and at the end; play for a
    minute or more. With --json one document in the form of `decode` is printed at the end.
    """
    if seconds is not None and math.isnan(seconds):  # a range lets it through
        raise BadInput(f"{seconds:g} seconds cannot be listened", allowed="more than 0, up to 86400 s")
    app = app_of(context)
    heard_as = app.guitar(guitar)
    language = app.settings.language
    decoder = Decoder(heard_as.neck, heard_as.wiring)
    clock = RealClock()
    source = open_source(port if port is not None else heard_as.port, clock)
    messages: list[TimedMessage] = []
    voided: Counter[Glitch] = Counter()
    interrupted, notes, trouble = False, 0, ""
    gone_s: list[float] = []
    watch, jumps = JumpWatch(), list[Jump]()
    start_s = clock.now_s()
    end_s = math.inf if seconds is None else start_s + seconds
    next_timing_s = start_s + _TIMING_EVERY_S if timing and not as_json else math.inf
    try:
        if not as_json:
            click.echo(f"Listening to {source.name} as guitar {heard_as.name}. Ctrl-C stops.")
            click.echo(HEADING)
        while clock.now_s() < end_s:
            there = source.connected()  # first: what came before it went is still given out
            came = [TimedMessage(max(0.0, time_s - start_s), data) for time_s, data in source.poll()]
            events = [event for message in came for event in decoder.feed(*message)]
            events += decoder.advance(clock.now_s() - start_s)
            if not there and not trouble:
                gone_s.append(max(0.0, source.last_there_s - start_s))
                events += decoder.disconnect(gone_s[-1])
            notes += sum(isinstance(event, Note) and not event.doubtful for event in events)
            notes += sum(isinstance(event, NoteSettled) for event in events)
            voided.update(event.glitch for event in events if isinstance(event, Voided))
            if as_json:
                messages += came
            else:
                for line in (line for event in events for line in event_lines(event, language)):
                    click.echo(line)
            if source.trouble != trouble:
                trouble = source.trouble
                warn(f"{trouble} The monitor waits." if trouble else f"{source.name} is heard again.")
            if timing:
                for jump in watch.look(clock.readings()):
                    jumps.append(jump)
                    warn(jump_words(jump))
            if clock.now_s() >= next_timing_s:
                next_timing_s += _TIMING_EVERY_S
                click.echo(timing_line(source.figures()))
            clock.wait_s(_POLL_S)
    except KeyboardInterrupt:
        interrupted = True
    finally:
        source.close()
    if voided and not as_json:
        click.echo(voided_words(voided))
    if timing and not as_json:
        for line in timing_lines(source.figures(), jumps):
            click.echo(line)
    if as_json:
        document = decode_document(decode(messages, Decoder(heard_as.neck, heard_as.wiring), gone_s=gone_s))
        if timing:
            document["timing"] = timing_document(source.figures(), jumps, start_s)
        print_document(document)
    if source.untrusted:
        warn(
            f"{source.untrusted} times of the MIDI driver were wrong; these notes are dated by their arrival"
        )
    if interrupted:
        return INTERRUPTED
    if not notes:
        warn("nothing was heard")
        return 1
    return 0


HEADING = "   time s  string  fret  note  cents  velocity  channel"


def event_lines(event: HeardEvent, language: Language = Language.ENGLISH) -> list[str]:
    """What is heard as a line for people; the end of a note makes none."""
    match event:
        case Note(doubtful=True) | NoteRevised(Note(doubtful=True)):
            return []  # it comes again, settled or voided
        case Note():
            return [note_line(event, language)]
        case NoteSettled(note):
            return [note_line(note, language) + "  (doubtful at first)"]
        case Voided(note, glitch, reason):
            return [note_line(note, language) + f"  not counted, {glitch.value}: {reason}"]
        case NoteRevised(note):
            return [note_line(note, language) + "  (the note before, bent into place)"]
        case HearingWarning(_, message):
            return [f"           {message}"]
    return []


def voided_words(voided: Counter[Glitch]) -> str:
    """How many notes of each kind were not counted, the commonest first, in one line."""
    kinds = ", ".join(f"{count} {glitch.value}" for glitch, count in voided.most_common())
    return f"Not counted as notes: {voided.total()} ({kinds})."


def note_line(note: Note, language: Language) -> str:
    """A note in the columns of HEADING."""
    string = "-" if note.string is None else str(note.string)
    fret = "-" if note.fret is None else str(note.fret)
    name = pitch_name(spell(note.midi)[0], language, signs=False)
    moved = "  moved" if note.attack is Attack.MOVED else ""
    return (
        f"{note.onset_s:9.3f}  {string:>6}  {fret:>4}  {name:<4}  {note.cents:+5.0f}"
        f"  {note.velocity:>8}  {note.channel + 1:>7}{moved}"
    )

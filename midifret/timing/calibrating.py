"""A calibration from what was measured of a player: which parts count, what they give, what is missing."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from midifret.terms.calibration import (
    Calibration,
    CalibrationPart,
    Caveat,
    Latency,
    Measurement,
    Missing,
    Reaction,
    ViewKind,
)
from midifret.timing.answers import AnswerTimes
from midifret.timing.latency import Pluck, fit_latency
from midifret.timing.reaction import Reacted, fit_reaction
from midifret.timing.recall import caveats_of
from midifret.timing.rules import TimingRules
from midifret.timing.travel import Travels, fit_travels

USUAL_RULES = TimingRules()

# Measurements of one part, guitar, port and click that lie so near each other in time are one: whoever is
# asked for eight more plucks plays them now [ours].
ONE_SITTING = dt.timedelta(hours=2)


@dataclass(frozen=True, slots=True)
class Calibrated:
    """What the measurements of a player give for a guitar and port.

    latency, reaction, travels: each as far as it goes, or what is missing; None where it was never measured.
    times: for the runs that are played now.
    """

    latency: Latency | Missing | None
    reaction: Reaction | Missing | None
    travels: Travels | Missing | None
    times: AnswerTimes


def calibrate(
    measurements: Iterable[Measurement],
    *,
    guitar: str,
    port: str,
    now: dt.datetime,
    rules: TimingRules = USUAL_RULES,
    view: ViewKind = ViewKind.TERMINAL,
) -> Calibrated:
    """Work out the calibration that holds now from everything that was measured of one player.

    Of each part the newest sitting on this guitar and port that gives a figure counts; where there is none
    the newest on any guitar and port, and every figure that uses it says so. Of what was measured by cues
    that of the same view comes first, and another's is told likewise: a screen has a delay of its own.
    Travel belongs to the hands: any guitar's will do, freed of its own reaction.
    """
    known = sorted(measurements, key=lambda measurement: measurement.measured_utc, reverse=True)
    latencies = _sittings(known, CalibrationPart.CLICK, guitar, port)
    latency: Latency | Missing | None = None
    latency_from: Measurement | None = None
    for sitting in latencies:
        plucks = [Pluck(r.midi, r.time_s) for m in sitting for r in m.readings if r.right]
        fitted = fit_latency(plucks, rules.latency)
        if isinstance(fitted, Latency):
            latency, latency_from = fitted, sitting[0]
            break
        latency = latency or fitted
    known_latency = latency if isinstance(latency, Latency) else None
    reaction: Reaction | Missing | None = None
    reaction_from: Measurement | None = None
    for sitting in _sittings(known, CalibrationPart.REACTION, guitar, port, view):
        reactions = [Reacted(r.midi, r.time_s) for m in sitting for r in m.readings if r.right]
        reacted = fit_reaction(reactions, known_latency, rules.reaction)
        if isinstance(reacted, Reaction):
            reaction, reaction_from = reacted, sitting[0]
            break
        reaction = reaction or reacted
    known_reaction = reaction if isinstance(reaction, Reaction) else None
    used = [m for m in (latency_from, reaction_from) if m is not None]
    if not used:
        return Calibrated(latency, reaction, None, AnswerTimes())
    oldest = min(used, key=lambda m: m.measured_utc)
    calibration = Calibration(oldest.guitar, oldest.port, oldest.measured_utc, known_latency, known_reaction)
    seen_on = view if reaction_from is None else reaction_from.view
    travels, hands_from = _travels(known, guitar, port, seen_on, calibration, rules.least_travels)
    caveats: set[Caveat] = set()
    if any(m is not None and m.view is not view for m in (reaction_from, hands_from)):
        caveats.add(Caveat.OTHER_VIEW)
    for measurement in used:
        made = Calibration(measurement.guitar, measurement.port, measurement.measured_utc)
        caveats |= caveats_of(made, guitar=guitar, port=port, now=now, good_for=rules.good_for)
    return Calibrated(
        latency,
        reaction,
        travels,
        AnswerTimes(calibration, travels if isinstance(travels, Travels) else None, frozenset(caveats)),
    )


def _travels(
    known: Sequence[Measurement],
    guitar: str,
    port: str,
    view: ViewKind,
    calibration: Calibration,
    least: int,
) -> tuple[Travels | Missing | None, Measurement | None]:
    """The travel and where it is from. view: that of the reaction, whose screen is then taken off with it."""
    found: Travels | Missing | None = None
    if calibration.reaction is None:
        return None, None
    for sitting in _sittings(known, CalibrationPart.HANDS, guitar, port, view):
        fitted = fit_travels([r for m in reversed(sitting) for r in m.readings], calibration, least=least)
        if isinstance(fitted, Travels):
            return fitted, sitting[0]
        found = found or fitted
    return found, None


def _sittings(
    known: Sequence[Measurement],
    part: CalibrationPart,
    guitar: str,
    port: str,
    view: ViewKind | None = None,
) -> list[list[Measurement]]:
    """Measurements of a part that belong together, newest first; those of this guitar and port before all.

    view: among those of this guitar and port, and among the others, its own come first; None: all are alike.
    """
    sittings: list[list[Measurement]] = []
    for measurement in (m for m in known if m.part is part):
        for sitting in sittings:
            last = sitting[-1]
            if (
                _where(last) == _where(measurement)
                and last.measured_utc - measurement.measured_utc <= ONE_SITTING
            ):
                sitting.append(measurement)
                break
        else:
            sittings.append([measurement])
    sittings.sort(key=lambda s: view is not None and s[0].view is not view)
    sittings.sort(key=lambda s: (s[0].guitar, s[0].port) != (guitar, port))
    return sittings


def _where(measurement: Measurement) -> tuple[str, str, str, ViewKind]:
    return measurement.guitar, measurement.port, measurement.click, measurement.view

"""The thresholds of measured times, read from the shipped file and a person's own over it."""

import datetime as dt
import itertools
from dataclasses import replace
from typing import Annotated, Any

from pydantic import Field

from midifret.files import Document, FileModel, Home, check_model, read_document, shipped_folder
from midifret.terms import BadInput, Problem
from midifret.timing import TimingRules

Share = Annotated[float, Field(ge=0.01, le=1)]
Count = Annotated[int, Field(ge=1, le=1000)]
Seconds = Annotated[float, Field(ge=0.05, le=60)]


class StatesFile(FileModel):
    """When a place is found, slow, known, automatic."""

    newest_answers: Count | None = None
    confidence: Annotated[float, Field(ge=0.5, le=0.99)] | None = None
    found_right: Share | None = None
    slow_right: Share | None = None
    known_right: Share | None = None
    automatic_right: Share | None = None
    automatic_s: Seconds | None = None
    known_s: Seconds | None = None
    slow_s: Seconds | None = None


class CalibrationFile(FileModel):
    """How long measured delays can be trusted."""

    good_for_days: Annotated[int, Field(ge=1, le=3650)] | None = None
    least_plucks_of_a_place: Annotated[int, Field(ge=2, le=100)] | None = None


class ClickFile(FileModel):
    """Plucks on a click."""

    planned_plucks: Count | None = None
    least_plucks: Annotated[int, Field(ge=4, le=1000)] | None = None
    least_each_end: Annotated[int, Field(ge=2, le=500)] | None = None
    least_span_ms: Annotated[float, Field(ge=0.1, le=100)] | None = None
    furthest_ms: Annotated[float, Field(ge=20, le=2000)] | None = None
    most_left_out: Annotated[float, Field(ge=0, le=0.5)] | None = None
    most_spread_ms: Annotated[float, Field(ge=1, le=500)] | None = None
    least_periods: Annotated[float, Field(ge=-10, le=10)] | None = None
    most_periods: Annotated[float, Field(ge=-10, le=50)] | None = None
    sure_periods: Annotated[float, Field(ge=0.01, le=10)] | None = None


class ReactionFile(FileModel):
    """Reactions to a shown open string."""

    planned: Count | None = None
    least_used: Annotated[int, Field(ge=2, le=1000)] | None = None
    soonest_ms: Annotated[float, Field(ge=0, le=1000)] | None = None
    latest_ms: Annotated[float, Field(ge=100, le=10_000)] | None = None
    lapse_deviations: Annotated[float, Field(ge=1, le=100)] | None = None
    early_deviations: Annotated[float, Field(ge=1, le=100)] | None = None
    most_left_out: Annotated[float, Field(ge=0, le=0.5)] | None = None


class TrendFile(FileModel):
    """How recall time falls with practice."""

    least_days: Annotated[int, Field(ge=6, le=1000)] | None = None
    least_advantage: Annotated[float, Field(ge=0, le=100)] | None = None


class ThresholdsFile(FileModel):
    """A person's thresholds; what is left out stays as shipped."""

    states: StatesFile = StatesFile()
    calibration: CalibrationFile = CalibrationFile()
    click: ClickFile = ClickFile()
    reaction: ReactionFile = ReactionFile()
    trend: TrendFile = TrendFile()


# Keys whose values may not go down from one to the next.
_RISING = (
    ("states", ("found_right", "slow_right", "known_right", "automatic_right")),
    ("states", ("automatic_s", "known_s", "slow_s")),
    ("click", ("least_each_end", "least_plucks", "planned_plucks")),
    ("click", ("least_periods", "most_periods")),
    ("reaction", ("least_used", "planned")),
    ("reaction", ("soonest_ms", "latest_ms")),
)


def load_thresholds(home: Home) -> TimingRules:
    """Return the shipped thresholds with the person's own over them. Raises BadInput for a faulty file."""
    rules = TimingRules()
    for path in (shipped_folder("config") / "thresholds.yaml", home.thresholds):
        if not path.is_file():
            continue
        found, problems = check_thresholds(read_document(path), rules)
        if found is None:
            raise BadInput(f"the thresholds in {path} have faults", problems=problems)
        rules = found
    return rules


def check_thresholds(
    document: Document, under: TimingRules | None = None
) -> tuple[TimingRules | None, tuple[Problem, ...]]:
    """Check a thresholds file: what holds with it, or None and every problem.

    under: what holds where the file says nothing; None for what is shipped.
    """
    found, problems = check_model(document, ThresholdsFile)
    if found is None:
        return None, problems
    said = found.model_dump(exclude_none=True)
    held = _as_written(under or TimingRules())
    together = {group: held[group] | said[group] for group in held}
    problems = tuple(
        sorted(_out_of_order(document, said, together), key=lambda p: (p.line or 0, p.column or 0))
    )
    return (None, problems) if problems else (_rules(together, under or TimingRules()), ())


def _out_of_order(
    document: Document, said: dict[str, dict[str, Any]], together: dict[str, dict[str, Any]]
) -> list[Problem]:
    """Every value above the next one, told at the first of the two that the file has."""
    found = []
    for group, keys in _RISING:
        for key, following in itertools.pairwise(keys):
            value, bound = together[group][key], together[group][following]
            if value <= bound:
                continue
            if key in said[group]:
                message = f"{value:g} is above {following}, {bound:g}"
                found.append(document.problem((group, key), message, f"at most {bound:g}"))
            else:
                message = f"{bound:g} is below {key}, {value:g}"
                found.append(document.problem((group, following), message, f"at least {value:g}"))
    return found


def _as_written(rules: TimingRules) -> dict[str, dict[str, Any]]:
    """The rules in the groups, keys and units of the file."""
    states, click, reaction = rules.states, rules.latency, rules.reaction
    return {
        "states": {
            "newest_answers": states.newest,
            "confidence": states.confidence,
            "found_right": states.found_right,
            "slow_right": states.slow_right,
            "known_right": states.known_right,
            "automatic_right": states.automatic_right,
            "automatic_s": states.automatic_s,
            "known_s": states.known_s,
            "slow_s": states.slow_s,
        },
        "calibration": {
            "good_for_days": rules.good_for.days,
            "least_plucks_of_a_place": rules.least_travels,
        },
        "click": {
            "planned_plucks": click.planned_plucks,
            "least_plucks": click.least_plucks,
            "least_each_end": click.least_each_end,
            "least_span_ms": click.least_span_s * 1000,
            "furthest_ms": click.furthest_s * 1000,
            "most_left_out": click.most_left_out,
            "most_spread_ms": click.most_spread_s * 1000,
            "least_periods": click.periods[0],
            "most_periods": click.periods[1],
            "sure_periods": click.sure_periods,
        },
        "reaction": {
            "planned": reaction.planned,
            "least_used": reaction.least_used,
            "soonest_ms": reaction.soonest_s * 1000,
            "latest_ms": reaction.latest_s * 1000,
            "lapse_deviations": reaction.lapse_deviations,
            "early_deviations": reaction.early_deviations,
            "most_left_out": reaction.most_left_out,
        },
        "trend": {
            "least_days": rules.trend.least_points,
            "least_advantage": rules.trend.least_advantage,
        },
    }


def _rules(written: dict[str, dict[str, Any]], under: TimingRules) -> TimingRules:
    """The rules that a file of these groups and keys says."""
    states, click, reaction = dict(written["states"]), dict(written["click"]), written["reaction"]
    calibration, trend = written["calibration"], written["trend"]
    newest = states.pop("newest_answers")
    return TimingRules(
        latency=replace(
            under.latency,
            planned_plucks=click["planned_plucks"],
            least_plucks=click["least_plucks"],
            least_each_end=click["least_each_end"],
            least_span_s=click["least_span_ms"] / 1000,
            furthest_s=click["furthest_ms"] / 1000,
            most_left_out=click["most_left_out"],
            most_spread_s=click["most_spread_ms"] / 1000,
            periods=(float(click["least_periods"]), float(click["most_periods"])),
            sure_periods=click["sure_periods"],
        ),
        reaction=replace(
            under.reaction,
            planned=reaction["planned"],
            least_used=reaction["least_used"],
            soonest_s=reaction["soonest_ms"] / 1000,
            latest_s=reaction["latest_ms"] / 1000,
            lapse_deviations=reaction["lapse_deviations"],
            early_deviations=reaction["early_deviations"],
            most_left_out=reaction["most_left_out"],
        ),
        states=replace(under.states, newest=newest, **states),
        trend=replace(
            under.trend, least_points=trend["least_days"], least_advantage=trend["least_advantage"]
        ),
        good_for=dt.timedelta(days=calibration["good_for_days"]),
        least_travels=calibration["least_plucks_of_a_place"],
    )

"""How well the notes of a guitar can be dated, in words for people and as a document."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from midifret.clock import DatingFigures, Jump, JumpKind, Steps

_WORTH = {
    Steps.UNKNOWN: "too few messages to say",
    Steps.GOOD: "good, and notes are dated by them",
    Steps.CONTRADICTORY: "CONTRADICTORY, they often cannot be true",
    Steps.MISSING: "MISSING, each is 0; notes are dated by when they were read",
}


def timing_lines(figures: DatingFigures, jumps: Sequence[Jump]) -> list[str]:
    """All that is known, a line for each thing."""
    share = 100 * figures.untrusted_share
    lines = [
        f"Timing of {figures.messages} messages:",
        f"  driver's time steps  {_WORTH[figures.steps]}",
        f"  dated by reading     {figures.untrusted} ({share:.1f}%), where steps could not be true",
        f"  difference of clocks {drift_words(figures)}",
    ]
    if figures.disagreement_median_ms is not None:
        lines.append(
            f"  read after sent by   {figures.disagreement_median_ms:.1f} ms in the middle, at most "
            f"{figures.disagreement_99_ms:.1f} for 99 of 100, {figures.disagreement_most_ms:.1f} for all"
        )
    lines.append(f"  fineness of steps    {_fineness(figures)}")
    lines.append(f"  fresh starts         {figures.fresh_starts}, where dating had to begin anew")
    if figures.repaired:
        lines.append(
            f"  told twice           {figures.repaired} steps, mended: the driver tells them so for chords"
        )
    if figures.by_arrival and figures.steps is not Steps.MISSING:
        lines.append("  The steps are not believed just now: notes are dated by when they were read.")
    return lines + [f"  {jump_words(jump)}" for jump in jumps]


def timing_line(figures: DatingFigures) -> str:
    """The same in one line, for while one listens."""
    late = "-" if figures.disagreement_99_ms is None else f"{figures.disagreement_99_ms:.1f} ms"
    return (
        f"  timing: steps {figures.steps.value}, {100 * figures.untrusted_share:.1f}% dated by reading, "
        f"read within {late}, clocks: {drift_words(figures)}"
    )


def drift_words(figures: DatingFigures) -> str:
    """How the driver's clock runs against the computer's."""
    drift, low, high = figures.drift_ppm, figures.drift_low_ppm, figures.drift_high_ppm
    if drift is None or low is None or high is None:
        return "not known yet, it takes a minute of playing"
    if low <= 0.0 <= high:
        return f"none to be seen, at most {max(-low, high) * 0.06:.2f} ms a minute"
    runs = "fast" if drift > 0 else "slow"
    least, most = sorted((abs(low), abs(high)))
    words = f"the driver's runs {runs} by {abs(drift) * 0.06:.2f} ms a minute"
    words += f" ({least * 0.06:.2f} to {most * 0.06:.2f})"  # 1 part in a million is 0.06 ms a minute [calc]
    return words + (", corrected" if figures.drift_corrected else ", NOT corrected: not steady enough")


def jump_words(jump: Jump) -> str:
    """What a gap in time was."""
    match jump.kind:
        case JumpKind.SUSPENDED:
            return f"The computer slept for {jump.lost_s:.1f} s."
        case JumpKind.STALLED:
            return f"The computer did not let this program run for {jump.lost_s:.2f} s."
        case JumpKind.WALL_CLOCK_SET:
            way = "forward" if jump.lost_s > 0 else "back"
            return f"The time of day was set {way} by {abs(jump.lost_s):.1f} s; no harm to the timing."


def timing_document(figures: DatingFigures, jumps: Sequence[Jump], start_s: float) -> dict[str, Any]:
    """What `monitor --timing --json` prints as "timing": the fields of DatingFigures, and the gaps in time.

    Numbers with their unit in the key, null where too little came. jumps: time_s since listening began.
    """
    rounded = {
        key: round(value, 4) if isinstance(value, float) else value for key, value in asdict(figures).items()
    }
    return rounded | {
        "untrusted_share": round(figures.untrusted_share, 6),
        "jumps": [
            {
                "time_s": round(max(0.0, jump.until_s - start_s), 6),
                "kind": jump.kind.value,
                "lost_s": round(jump.lost_s, 6),
            }
            for jump in jumps
        ],
    }


def _fineness(figures: DatingFigures) -> str:
    if figures.resolution_ms is None:
        return "not known yet"
    if figures.resolution_ms <= 0.001:
        return "0.001 ms or finer"
    return f"{figures.resolution_ms:g} ms" + (", coarse" if figures.resolution_ms >= 1 else "")

"""What makes a click heard: one protocol for all of it, none at all, and several at once."""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from midifret.tempo import Click

# A click later than this is left out: one so late leads astray. Delays of 20 to 30 ms are just noticed
# (Maki-Patola & Hamalainen 2004 [mem]); twice that [ours].
LATEST_S = 0.05
# Lateness is kept of so many clicks, the last ones: 20 minutes of the fastest there are [calc].
_KEPT = 65_536


@dataclass(frozen=True, slots=True)
class ClickFigures:
    """How well the clicks were sent.

    sent: clicks (or clocks) that went out. skipped: left out because it was too late for them. late_*_ms:
    from due to sent, of the last 65,536; None before the first. output_latency_ms: from sent to heard, as the
    device reports it; None where nobody tells. underruns: how often the sound card ran dry.
    """

    sent: int = 0
    skipped: int = 0
    late_median_ms: float | None = None
    late_99_ms: float | None = None
    late_most_ms: float | None = None
    output_latency_ms: float | None = None
    underruns: int = 0


class ClickOutput(Protocol):
    """Makes clicks heard. Called from the thread that hears; no call waits or raises once it is open."""

    @property
    def name(self) -> str:
        """For people: by what, and where."""
        ...

    @property
    def trouble(self) -> str:
        """Why nothing is heard just now and what to do, in full sentences; empty while all is well."""
        ...

    @property
    def lead_s(self) -> float:
        """How far ahead a click has to be planned, so that it is in time."""
        ...

    def plan(self, clicks: Iterable[Click]) -> None:
        """Take clicks to come, in order of time and after those planned before; times on the run's clock."""
        ...

    def due(self, now_s: float) -> None:
        """Send what is due. To be called each turn of the loop, in pauses too: ports are watched here."""
        ...

    def stop(self) -> None:
        """Be silent at once and forget what was planned; more may be planned afterwards."""
        ...

    def figures(self) -> ClickFigures:
        """How well it went so far."""
        ...

    def close(self) -> None:
        """Stop, and let go of port or device."""
        ...


class SilentClick:
    """No click: the beat is only seen."""

    name = "no click"
    trouble = ""
    lead_s = 0.0

    def plan(self, clicks: Iterable[Click]) -> None:
        """Forget them."""

    def due(self, now_s: float) -> None:
        """Do nothing."""

    def stop(self) -> None:
        """Do nothing."""

    def figures(self) -> ClickFigures:
        """None were sent."""
        return ClickFigures()

    def close(self) -> None:
        """Do nothing."""


class AllOf:
    """Several outputs as one, a click and a MIDI clock, say. The figures are those of the first."""

    def __init__(self, outputs: Sequence[ClickOutput]) -> None:
        """Take them over: closing this closes them. At least one."""
        self.outputs = tuple(outputs)

    @property
    def name(self) -> str:
        """All their names."""
        return ", ".join(output.name for output in self.outputs)

    @property
    def trouble(self) -> str:
        """All that is wrong, the same thing once."""
        return " ".join(dict.fromkeys(output.trouble for output in self.outputs if output.trouble))

    @property
    def lead_s(self) -> float:
        """The longest."""
        return max(output.lead_s for output in self.outputs)

    def plan(self, clicks: Iterable[Click]) -> None:
        """Tell each."""
        clicks = tuple(clicks)
        for output in self.outputs:
            output.plan(clicks)

    def due(self, now_s: float) -> None:
        """Tell each."""
        for output in self.outputs:
            output.due(now_s)

    def stop(self) -> None:
        """Tell each."""
        for output in self.outputs:
            output.stop()

    def figures(self) -> ClickFigures:
        """Those of the first."""
        return self.outputs[0].figures()

    def close(self) -> None:
        """Stop all, then close each: they may share a port."""
        self.stop()
        for output in self.outputs:
            output.close()


class Tally:
    """Counts what was sent and how late."""

    def __init__(self) -> None:
        """Nothing yet."""
        self.sent = 0
        self.skipped = 0
        self._late_s: deque[float] = deque(maxlen=_KEPT)

    def add(self, late_s: float) -> None:
        """One more was sent, so late."""
        self.sent += 1
        self._late_s.append(late_s)

    def figures(self, *, output_latency_ms: float | None = None, underruns: int = 0) -> ClickFigures:
        """All of it; a quantile is the least value that so great a share does not exceed."""
        late_ms = sorted(late_s * 1000 for late_s in tuple(self._late_s))
        if not late_ms:
            return ClickFigures(
                self.sent, self.skipped, output_latency_ms=output_latency_ms, underruns=underruns
            )
        return ClickFigures(
            sent=self.sent,
            skipped=self.skipped,
            late_median_ms=_quantile(late_ms, 50),
            late_99_ms=_quantile(late_ms, 99),
            late_most_ms=late_ms[-1],
            output_latency_ms=output_latency_ms,
            underruns=underruns,
        )


def _quantile(ordered: Sequence[float], percent: int) -> float:
    return ordered[-(-len(ordered) * percent // 100) - 1]

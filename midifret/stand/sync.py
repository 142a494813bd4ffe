"""The clock of a page against the clock of the run: how far apart, how fast they part, and how sure that is.

Estimator. Each exchange has four stamps: sent and back on the run's clock, came and went on the page's.
Nothing arrives before it was sent, so that the page's clock showed at most `came` when the run's showed
`sent`, and at least `went` when it showed `back`. Let the page's clock be a line over the run's, with an
offset and a drift: every exchange then bounds both by two half-planes, and what all of them allow is a
convex polygon, kept exactly (the linear programme of Moon, Skelly and Towsley 1999, "Estimation and removal
of clock skew from network delay measurements" [mem]; for one exchange it is the bound of half a round trip
of RFC 5905, section 8). The least delays of each way decide by themselves, wherever they came from. The
clock at a moment is the middle of what the polygon allows there, its uncertainty half of the range. No line
is fitted by least squares or medians: delays only ever add, so that their edge says more than their middle,
and a single bad exchange moves nothing.

Assumptions. Delays are not negative; nothing else about them, nor that both ways are alike. The drift is at
most 600 parts in a million: crystals are within 100, and a clock that is being set right runs up to 500 fast
or slow (adjtimex(2) [mem]). Over two minutes it changes by no more than one part in a million [ours: a
degree or so of temperature]. The page's clock is coarse by its grain, found from its stamps.

Bounds. Under these assumptions the truth always lies within the uncertainty. The error of the middle is half
the difference between the least delay there and the least delay back. What cannot be on one line with what
was before is a jump (a tablet that slept, a clock that was set) or another drift: in the first case all that
was known is forgotten, in the second what is too old for it.
"""

from dataclasses import dataclass, field

# Exchanges of so many seconds are put together, and so many of these are kept: two minutes [ours].
SLOT_S = 5.0
SLOTS = 24
# Without an exchange for so long the page may have slept unseen: no time is told [ours].
STALE_S = 5.0
_MOST_DRIFT = 0.6  # ms a second
_WANDER = 0.001  # ms a second of age
# What browsers round their clock to, from the coarsest: with fingerprinting resisted (of old and now), by
# default, and isolated (MDN, "performance.now()", "Date.now()" and "DOMHighResTimeStamp").
_GRAINS_MS = (100.0, 20.0, 50 / 3, 2.0, 1.0, 0.1, 0.02, 0.005)
_ROUNDING_MS = 1e-4  # stamps come as sums and differences of doubles
_LITTLE_MS = 1e-9

_Polygon = tuple[tuple[float, float], ...]  # of (offset in ms, drift in ms a second)


@dataclass(frozen=True, slots=True)
class Exchange:
    """One question and its answer. sent_s, back_s: on the run's clock; came_ms, went_ms: on the page's."""

    sent_s: float
    came_ms: float
    went_ms: float
    back_s: float

    @property
    def round_trip_ms(self) -> float:
        """What both ways took together, in milliseconds."""
        return (self.back_s - self.sent_s) * 1000 - (self.went_ms - self.came_ms)


@dataclass(frozen=True, slots=True)
class RunTime:
    """A moment on the run's clock; the true one lies within error_s of it."""

    time_s: float
    error_s: float


@dataclass(frozen=True, slots=True)
class PageTime:
    """A moment on the page's clock; the true one lies within error_ms of it."""

    time_ms: float
    error_ms: float


@dataclass(frozen=True, slots=True)
class SyncFigures:
    """How well the clocks are known: exchanges taken since the last jump, the least round trip, the drift in
    parts in a million and within what it lies, the uncertainty now, the grain of the page's clock, jumps.
    """

    exchanges: int
    least_round_trip_ms: float | None
    drift_ppm: float | None
    drift_error_ppm: float | None
    error_ms: float | None
    grain_ms: float
    jumps: int


@dataclass(slots=True)
class _Slot:
    """The tightest bounds of some seconds: (run's clock in s, page's in ms)."""

    begin_s: float
    above: tuple[float, float]
    below: tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Fit:
    """What is known, in one piece, so that another thread may read it at any moment."""

    origin_s: float
    origin_ms: float
    polygon: _Polygon
    newest_s: float
    oldest_ms: float  # earlier times of the page are not told: the clock jumped; -inf if it did not
    grain_ms: float

    def bounds(self, time_s: float) -> tuple[float, float]:
        """Least and most that the page's clock may show, in ms after the nominal line."""
        x = time_s - self.origin_s
        values = [offset + drift * x for offset, drift in self.polygon]
        return min(values), max(values)


@dataclass(slots=True)
class ClockSync:
    """The clock of one page. `add` is for one thread; the rest may be asked from any."""

    _slots: list[_Slot] = field(default_factory=list)
    _fit: _Fit | None = None
    _grain: int = 0
    _exchanges: int = 0
    _least_ms: float | None = None
    _jumps: int = 0

    def add(self, exchange: Exchange) -> bool:
        """Take an exchange. Returns whether the page's clock jumped, so that all was begun anew with it.

        One that contradicts itself (back before it was sent, gone before it came) is left out.
        """
        self._see_grain(exchange)
        slack_ms = _GRAINS_MS[self._grain] + _LITTLE_MS
        if exchange.went_ms < exchange.came_ms or exchange.round_trip_ms < -2 * slack_ms:
            return False
        above = (exchange.sent_s, exchange.came_ms + slack_ms)
        below = (exchange.back_s, exchange.went_ms - slack_ms)
        jumped = self._fit is not None and not self._agrees(self._fit, above, below)
        if jumped:
            self._slots.clear()
            self._exchanges, self._least_ms = 0, None
            self._jumps += 1
        self._exchanges += 1
        trip_ms = max(0.0, exchange.round_trip_ms)
        self._least_ms = trip_ms if self._least_ms is None else min(self._least_ms, trip_ms)
        new_slot = self._keep(above, below)
        fit = self._fit
        polygon: _Polygon = ()
        if fit is not None and not jumped and not new_slot:
            polygon = _clipped(fit.polygon, fit.origin_s, fit.origin_ms, above, below)
        oldest_ms = exchange.came_ms if jumped else -float("inf") if fit is None else fit.oldest_ms
        if polygon and fit is not None:
            origin_s, origin_ms = fit.origin_s, fit.origin_ms
        else:
            origin_s, origin_ms = above
            polygon = self._built(origin_s, origin_ms)
        self._fit = _Fit(origin_s, origin_ms, polygon, exchange.back_s, oldest_ms, _GRAINS_MS[self._grain])
        return jumped

    def to_run(self, page_ms: float) -> RunTime | None:
        """Convert a time of the page. None: not known, as there was no exchange near it or a jump since."""
        fit = self._fit
        if fit is None or page_ms < fit.oldest_ms:
            return None
        nominal_s = fit.origin_s + (page_ms - fit.origin_ms) / 1000
        low, high = fit.bounds(nominal_s)
        time_s = nominal_s - (low + high) / 2000
        if time_s > fit.newest_s + STALE_S:
            return None
        low, high = fit.bounds(time_s)
        time_s = nominal_s - (low + high) / 2000
        return RunTime(time_s, ((high - low) / 2 + fit.grain_ms) / 1000)

    def to_page(self, time_s: float) -> PageTime | None:
        """Convert a time of the run. None: not known, as there was no exchange for too long."""
        fit = self._fit
        if fit is None or time_s > fit.newest_s + STALE_S:
            return None
        low, high = fit.bounds(time_s)
        nominal_ms = fit.origin_ms + (time_s - fit.origin_s) * 1000
        return PageTime(nominal_ms + (low + high) / 2, (high - low) / 2)

    def figures(self) -> SyncFigures:
        """How well it went so far."""
        fit = self._fit
        if fit is None:
            return SyncFigures(0, None, None, None, None, _GRAINS_MS[self._grain], self._jumps)
        slow = min(drift for _, drift in fit.polygon)
        fast = max(drift for _, drift in fit.polygon)
        low, high = fit.bounds(fit.newest_s)
        return SyncFigures(
            self._exchanges,
            self._least_ms,
            (slow + fast) * 500,
            (fast - slow) * 500,
            (high - low) / 2,
            fit.grain_ms,
            self._jumps,
        )

    def _see_grain(self, exchange: Exchange) -> None:
        """Take a finer grain when a stamp lies between the marks of the one supposed so far."""
        for stamp_ms in (exchange.came_ms, exchange.went_ms):
            while self._grain < len(_GRAINS_MS) - 1:
                grain_ms = _GRAINS_MS[self._grain]
                if abs(stamp_ms - round(stamp_ms / grain_ms) * grain_ms) <= _ROUNDING_MS:
                    break
                self._grain += 1

    def _agrees(self, fit: _Fit, above: tuple[float, float], below: tuple[float, float]) -> bool:
        """Whether this can lie on one line with the newest before it; after a gap, with all of it."""
        newest = self._slots[-1]
        if above[0] > fit.newest_s + STALE_S:
            return bool(_clipped(fit.polygon, fit.origin_s, fit.origin_ms, above, below))
        origin_s, origin_ms = newest.above
        polygon = _clipped(_box(newest, above, below), origin_s, origin_ms, newest.above, newest.below)
        return bool(_clipped(polygon, origin_s, origin_ms, above, below))

    def _keep(self, above: tuple[float, float], below: tuple[float, float]) -> bool:
        """Keep the tightest bounds of each slot; returns whether one was begun."""
        if not self._slots or above[0] >= self._slots[-1].begin_s + SLOT_S:
            self._slots.append(_Slot(above[0], above, below))
            del self._slots[:-SLOTS]
            return True
        slot, drift = self._slots[-1], self._drift()
        if above[1] - slot.above[1] <= (1000 + drift) * (above[0] - slot.above[0]):
            slot.above = above
        if below[1] - slot.below[1] >= (1000 + drift) * (below[0] - slot.below[0]):
            slot.below = below
        return False

    def _drift(self) -> float:
        if self._fit is None:
            return 0.0
        drifts = [drift for _, drift in self._fit.polygon]
        return (min(drifts) + max(drifts)) / 2

    def _built(self, origin_s: float, origin_ms: float) -> _Polygon:
        """Put the newest slots together, as many as can lie on one line; the others are forgotten."""
        newest = self._slots[-1]
        polygon = _box(newest, newest.above, newest.below, origin_s=origin_s, origin_ms=origin_ms)
        for number in range(len(self._slots) - 1, -1, -1):
            slot = self._slots[number]
            slack_ms = _WANDER * max(0.0, origin_s - slot.begin_s)
            above = (slot.above[0], slot.above[1] + slack_ms)
            below = (slot.below[0], slot.below[1] - slack_ms)
            narrower = _clipped(polygon, origin_s, origin_ms, above, below)
            if not narrower:
                del self._slots[: number + 1]
                break
            polygon = narrower
        return polygon


def _box(
    slot: _Slot,
    above: tuple[float, float],
    below: tuple[float, float],
    *,
    origin_s: float | None = None,
    origin_ms: float | None = None,
) -> _Polygon:
    """All that is allowed before anything is known but these bounds, roughly."""
    origin_s = slot.above[0] if origin_s is None else origin_s
    origin_ms = slot.above[1] if origin_ms is None else origin_ms
    rests = [ms - origin_ms - (s - origin_s) * 1000 for s, ms in (slot.above, slot.below, above, below)]
    reach_s = max(abs(s - origin_s) for s, _ in (slot.above, slot.below, above, below))
    low = min(rests) - _MOST_DRIFT * reach_s - 1
    high = max(rests) + _MOST_DRIFT * reach_s + 1
    return ((low, -_MOST_DRIFT), (high, -_MOST_DRIFT), (high, _MOST_DRIFT), (low, _MOST_DRIFT))


def _clipped(
    polygon: _Polygon,
    origin_s: float,
    origin_ms: float,
    above: tuple[float, float],
    below: tuple[float, float],
) -> _Polygon:
    """Return what is left under the one bound and over the other; nothing where they contradict."""
    for (time_s, page_ms), sign in ((above, 1.0), (below, -1.0)):
        x = time_s - origin_s
        rest = page_ms - origin_ms - x * 1000
        over = [sign * (offset + drift * x - rest) for offset, drift in polygon]
        if all(value <= 0 for value in over):
            continue
        left: list[tuple[float, float]] = []
        for number, here in enumerate(polygon):
            there, at_here = polygon[number - 1], over[number]
            at_there = over[number - 1]
            if (at_here <= 0) != (at_there <= 0):
                share = at_there / (at_there - at_here)
                left.append(
                    (there[0] + share * (here[0] - there[0]), there[1] + share * (here[1] - there[1]))
                )
            if at_here <= 0:
                left.append(here)
        polygon = tuple(left)
        if not polygon:
            break
    return polygon

"""How the neck changed since a day: place by place, and what of it is more than chance."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.estimates import NORMAL_95, rank_sum, share_change
from midifret.report_page.neck_picture import neck_picture, neck_table
from midifret.report_page.parts import Numbers, Part, Picture, Section, Text
from midifret.report_page.values import Progress
from midifret.show.words import counted, per_cent
from midifret.terms import Place
from midifret.terms.figures import PlaceFigure

# Fewer times on a side are not compared: ranks of so few follow no normal curve [ours].
LEAST_TIMES = 5
_WORSE, _UNSURE, _BETTER = 0, 1, 3  # shades of the necks
_CHANCE = "Dark is better, broken outlines worse, by more than chance; between, chance alone can explain it."
# 95% intervals: one place in twenty of those where nothing changed.
_MARKED = "Of twenty places where nothing changed, one is marked all the same."


@dataclass(frozen=True, slots=True)
class _Both:
    """A place that was asked both before and since."""

    old: PlaceFigure
    new: PlaceFigure
    before_s: Sequence[float]
    since_s: Sequence[float]

    @property
    def timed(self) -> bool:
        return min(len(self.before_s), len(self.since_s)) >= LEAST_TIMES

    @property
    def sooner_s(self) -> float:
        """By how much the middle time since is less, in seconds."""
        return statistics.median(self.before_s) - statistics.median(self.since_s)


def change_section(progress: Progress) -> Section | None:
    """Two necks with what changed at each place, and the figures; None where nothing is asked of a day."""
    if progress.since is None:
        return None
    title = f"What changed since {progress.since.isoformat()}"
    now = {figure.place: figure for figure in progress.report.places}
    both = [
        _Both(
            old,
            now[old.place],
            progress.times_before_s.get(old.place, ()),
            progress.times_since_s.get(old.place, ()),
        )
        for old in progress.earlier
        if old.place in now
    ]
    if not both:
        return Section(title, (Text("No place was asked both before and since: nothing can be compared."),))
    parts: list[Part] = [Text(_words(both)), _right(progress, both)]
    times = _times(progress, both)
    if times is not None:
        parts.append(times)
    return Section(title, (*parts, _figures(progress, both)))


def _words(both: Sequence[_Both]) -> str:
    """All places that were asked both before and since, together."""
    old_share = sum(each.old.right for each in both) / sum(each.old.answers for each in both)
    new_share = sum(each.new.right for each in both) / sum(each.new.answers for each in both)
    return (
        f"{counted(len(both), 'place was', 'places were')} asked both before and since: "
        f"{per_cent(old_share)} right before, {per_cent(new_share)} since."
    )


def _right(progress: Progress, both: Sequence[_Both]) -> Section:
    cells: dict[Place, tuple[str, int]] = {}
    for each in both:
        low, high = share_change((each.old.right, each.old.answers), (each.new.right, each.new.answers))
        points = round(100 * (each.new.accuracy - each.old.accuracy))
        cells[each.old.place] = (_signed(f"{points:+d}"), _shade(low > 0, high < 0))
    title = "Right at the first try: change in points of per cent"
    return _neck(progress, title, f"{_told(cells, 'surer', 'less sure')} {_CHANCE} {_MARKED}", cells)


def _times(progress: Progress, both: Sequence[_Both]) -> Section | None:
    cells: dict[Place, tuple[str, int]] = {}
    for each in both:
        if each.timed:
            z = rank_sum(each.before_s, each.since_s)
            cells[each.old.place] = (_signed(f"{-each.sooner_s:+.1f}"), _shade(z < -NORMAL_95, z > NORMAL_95))
    if not cells:
        return None
    title = "Time to the right answer: change in seconds"
    sooner = sum(each.timed and each.sooner_s > 0 for each in both)
    words = (
        f"Of {counted(len(cells), 'place')} with at least {LEAST_TIMES} times before and since, {sooner} "
        f"came sooner since. {_told(cells, 'faster', 'slower')} A minus is sooner."
    )
    return _neck(progress, title, words, cells)


def _neck(progress: Progress, title: str, about: str, cells: dict[Place, tuple[str, int]]) -> Section:
    drawn = neck_picture(cells, left_handed=progress.left_handed)
    return Section(title, (Text(about), Picture(drawn, title), neck_table(cells, title)))


def _told(cells: dict[Place, tuple[str, int]], better: str, worse: str) -> str:
    shades = [shade for _, shade in cells.values()]
    up, down = shades.count(_BETTER), shades.count(_WORSE)
    return (
        f"By more than chance {up or 'none'} {'is' if up <= 1 else 'are'} {better}, {down or 'none'} {worse}."
    )


def _shade(better: bool, worse: bool) -> int:
    return _BETTER if better else _WORSE if worse else _UNSURE


def _signed(number: str) -> str:
    """A change as it is printed: a true minus, and no sign where it rounds to nothing."""
    return number.lstrip("+-") if not float(number) else number.replace("-", "\N{MINUS SIGN}")


def _figures(progress: Progress, both: Sequence[_Both]) -> Numbers:
    timed = any(each.before_s and each.since_s for each in both)
    rows = []
    for each in both:
        cells = [
            progress.place_words(each.old.place),
            f"{per_cent(each.old.accuracy)} of {each.old.answers:,}",
            f"{per_cent(each.new.accuracy)} of {each.new.answers:,}",
        ]
        if timed:
            cells += [_middle(each.before_s), _middle(each.since_s)]
        rows.append(tuple(cells))
    heads = ("Place", "Right before", "Right since", *(("Time before", "Time since") if timed else ()))
    return Numbers(heads, tuple(rows), "Place by place, before and since", folded=True)


def _middle(times_s: Sequence[float]) -> str:
    return f"{statistics.median(times_s):.2f} s" if times_s else "–"

"""Engraving in a process of its own, which neither holds up a live run nor takes it down."""

import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from midifret.pages.engraver import engrave
from midifret.terms import BadInput, MidifretError, Unavailable

# 5,000 notes take some 10 s on a slow machine [measured, doubled and more].
MOST_S = 120.0
_CHILD = "import sys; from midifret.pages.drawing import child; sys.exit(child())"
_TOLD = 3  # exit code of a fault that is told in words


@dataclass(frozen=True, slots=True)
class Job:
    """One piece of music to engrave. width_mm: of each system. staff_mm: height of the five lines."""

    mei: str
    width_mm: float
    staff_mm: float


def engrave_apart(jobs: Sequence[Job], *, most_s: float = MOST_S) -> tuple[tuple[str, ...], ...]:
    """Engrave each job into its systems, in another process.

    Raises Unavailable where the library is missing or the other process fails or takes longer than `most_s`,
    BadInput where it does not take the music.
    """
    if not jobs:
        return ()
    order = json.dumps([asdict(job) for job in jobs])
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-c", _CHILD],  # -P: nothing is imported from the folder one is in
            input=order.encode(),
            capture_output=True,
            timeout=most_s,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise Unavailable(
            f"engraving took longer than {most_s:g} s", allowed="a shorter score: choose bars"
        ) from None
    if done.returncode == _TOLD:
        told = json.loads(done.stdout)
        kind = Unavailable if told["unavailable"] else BadInput
        raise kind(told["message"], allowed=told["allowed"])
    if done.returncode:
        last = done.stderr.decode(errors="replace").strip().splitlines()
        raise Unavailable(
            f"the engraver failed ({last[-1] if last else f'exit code {done.returncode}'})",
            allowed="a shorter or simpler score: choose bars",
        )
    return tuple(tuple(systems) for systems in json.loads(done.stdout))


def child() -> int:
    """Engrave the jobs that standard input holds; what the other process does. Return its exit code."""
    try:
        made = [engrave(job.mei, width_mm=job.width_mm, staff_mm=job.staff_mm) for job in _jobs()]
    except MidifretError as error:
        told = {
            "message": getattr(error, "message", str(error)),
            "allowed": getattr(error, "allowed", ""),
            "unavailable": isinstance(error, Unavailable),
        }
        sys.stdout.write(json.dumps(told))
        return _TOLD
    sys.stdout.write(json.dumps(made))
    return 0


def _jobs() -> list[Job]:
    return [Job(**job) for job in json.loads(sys.stdin.buffer.read())]

"""The one thread that writes answers, so that the thread that hears never waits for a disk."""

import datetime as dt
import queue
import threading
from collections import deque
from dataclasses import dataclass
from types import TracebackType

from midifret.book.book import Book
from midifret.terms import Answer, MidifretError, Unavailable
from midifret.terms.record import RunEnd, RunStart

CLOSE_WITHIN_S = 10.0
# Writing an answer keeps the interpreter busy for some 4 ms (measured), and the screen is drawn just when the
# answer is handed over, in 2 to 4 ms: so the answer is written when the verdict is on the screen.
AFTER_S = 0.010
_TOGETHER = 64  # orders that are written without waiting for more [ours]


@dataclass(frozen=True, slots=True)
class _Withdrawal:
    n: int


@dataclass(frozen=True, slots=True)
class _Ending:
    end: RunEnd
    ended_utc: dt.datetime


@dataclass(frozen=True, slots=True)
class _Flush:
    done: threading.Event


class _Closing:
    pass


_Task = RunStart | Answer | _Withdrawal | _Ending
_Order = _Task | _Flush | _Closing


class BookWriter:
    """Writes one run after the other into a book, on a thread of its own.

    The four calls that write hand over and return at once. Every answer is committed AFTER_S after it came;
    answers that follow within that time share a commit. What could not be written waits and is tried again
    with the next order, in the same order, so that a full disk or a lock that goes away loses nothing; the
    trouble itself is raised by the next `check`, `flush` or `close`.
    """

    def __init__(self, book: Book) -> None:
        """Start the thread. The book stays the caller's to close, after the writer."""
        self._book = book
        self._orders: queue.SimpleQueue[_Order] = queue.SimpleQueue()
        self._waiting: deque[_Task] = deque()
        self._trouble: Exception | None = None
        self._run_id: int | None = None
        self._lock = threading.Lock()  # for the trouble
        self._closed = False
        self._thread = threading.Thread(target=self._work, name="book writer", daemon=True)
        self._thread.start()

    def start_run(self, start: RunStart) -> None:
        """Begin a run; what follows belongs to it, until the next."""
        self._hand_over(start)

    def answer(self, answer: Answer) -> None:
        """Keep an answer, in place of an earlier one of the same number."""
        self._hand_over(answer)

    def withdraw_from(self, n: int) -> None:
        """Take back the answers `n` and above."""
        self._hand_over(_Withdrawal(n))

    def end_run(self, end: RunEnd, *, ended_utc: dt.datetime) -> None:
        """End the run."""
        self._hand_over(_Ending(end, ended_utc))

    @property
    def run_id(self) -> int | None:
        """Number of the run that was last begun in the book, None until the first has been."""
        return self._run_id

    def check(self) -> None:
        """Raise Unavailable, once, if something could not be written since the last call."""
        with self._lock:
            trouble, self._trouble = self._trouble, None
        if trouble is not None:
            raise _told(trouble) from trouble

    def flush(self, *, within_s: float = CLOSE_WITHIN_S) -> None:
        """Wait until all that was handed over is in the book. Raises Unavailable if it is not by then."""
        done = threading.Event()
        self._hand_over(_Flush(done))
        if not done.wait(within_s):
            raise Unavailable(f"the practice book {self._book.place} is not written after {within_s:g} s")
        self.check()

    def close(self, *, within_s: float = CLOSE_WITHIN_S) -> None:
        """Write what is left and end the thread; a second call does nothing.

        Raises Unavailable if something could not be written, or not within that time.
        """
        if self._closed:
            return
        self._closed = True
        self._orders.put(_Closing())
        self._thread.join(within_s)
        if self._thread.is_alive():
            raise Unavailable(
                f"the practice book {self._book.place} is not written after {within_s:g} s",
                allowed="the take of the run is kept; judge it again with: midifret judge DRILL TAKE",
            )
        self.check()

    def __enter__(self) -> "BookWriter":
        """Return the writer itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the writer."""
        self.close()

    def _hand_over(self, order: _Order) -> None:
        if self._closed:
            raise RuntimeError("this writer is closed")
        self._orders.put(order)

    def _work(self) -> None:
        while True:
            orders = [self._orders.get()]
            while not isinstance(orders[-1], _Flush | _Closing) and len(orders) < _TOGETHER:
                try:
                    orders.append(self._orders.get(timeout=AFTER_S))
                except queue.Empty:
                    break
            flushes = [order for order in orders if isinstance(order, _Flush)]
            closing = any(isinstance(order, _Closing) for order in orders)
            self._waiting.extend(order for order in orders if not isinstance(order, _Flush | _Closing))
            self._write_waiting()
            for flush in flushes:
                flush.done.set()
            if closing:
                return

    def _write_waiting(self) -> None:
        together = True
        while self._waiting:
            tasks = self._next_tasks() if together else (self._waiting[0],)
            try:
                self._write(tasks)
            except Unavailable as error:
                self._keep(error)
                return  # they wait for the next order
            except Exception as error:
                # One that can never be written must not take its neighbours with it.
                if len(tasks) > 1:
                    together = False
                    continue
                self._keep(error)
                if isinstance(tasks[0], RunStart):
                    self._run_id = None
            for _ in tasks:
                self._waiting.popleft()

    def _keep(self, trouble: Exception) -> None:
        """Keep the first trouble for the caller; later ones mostly follow from it."""
        with self._lock:
            if self._trouble is None:
                self._trouble = trouble

    def _next_tasks(self) -> tuple[_Task, ...]:
        """Return the first waiting task, or all the answers that wait in front."""
        answers: list[_Task] = []
        for task in self._waiting:
            if not isinstance(task, Answer):
                break
            answers.append(task)
        return tuple(answers) or (self._waiting[0],)

    def _write(self, tasks: tuple[_Task, ...]) -> None:
        first = tasks[0]
        if isinstance(first, RunStart):
            self._run_id = self._book.start_run(first)
            return
        if self._run_id is None:
            raise LookupError("no run has begun")
        if isinstance(first, _Withdrawal):
            self._book.withdraw_from(self._run_id, first.n)
        elif isinstance(first, _Ending):
            self._book.end_run(self._run_id, first.end, ended_utc=first.ended_utc)
        else:
            self._book.put_answers(self._run_id, tuple(task for task in tasks if isinstance(task, Answer)))


def _told(trouble: Exception) -> MidifretError:
    if isinstance(trouble, Unavailable):
        return trouble
    return Unavailable(f"the practice book could not be written: {trouble}")

"""Hand jobs out a few at a time, and gather what becomes of them."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Future, wait
from dataclasses import dataclass
from itertools import islice
from typing import Final

from .index import ASKED_AT_ONCE, BatchIndex
from .jobs import Outcome, SettledJob
from .worker import WorkOrder, carry_out

_CHUNK_SECONDS: Final = 0.5
"""Work handed over at once: far more than the handing over takes, which is milliseconds."""

_LARGEST_CHUNK: Final = 64

_AHEAD: Final = 4
"""Chunks for each worker that are handed over before their turn: none must wait for its next."""

_MOST_ENDED: Final = 1_000
"""Outcomes that wait to be taken, at most: what is unchanged ends as fast as it is asked for."""

_MOST_DEATHS: Final = 10
"""Processes that may die in a row before no more are started: then it is not the jobs."""


Chunk = Future[list[Outcome]]
Work = Callable[[Sequence[SettledJob], WorkOrder], list[Outcome]]
Submit = Callable[[Work, list[SettledJob], WorkOrder], Chunk]


@dataclass(frozen=True, slots=True)
class _Handed:
    """A job whose turn has come: its number in the batch, and its key in the index."""

    number: int
    item: SettledJob
    key: bytes


class Dispatch:
    """One batch under way: what is to be handed over, what is handed over, what has ended.

    *total*: how many jobs there are, if that is known.
    """

    def __init__(
        self,
        settled: Iterable[SettledJob],
        order: WorkOrder,
        submit: Submit,
        renew: Callable[[], None] | None,
        width: int,
        index: BatchIndex,
        total: int | None = None,
    ) -> None:
        self._waiting, self._order = enumerate(settled), order
        self._submit, self._renew = submit, renew
        self._width, self._index, self._total = width, index, total
        self._next = 0
        # What was asked for and is to be done.
        self._due: deque[_Handed] = deque()
        self._ended: deque[tuple[int, Outcome]] = deque()
        self._pending: dict[Chunk, Sequence[_Handed]] = {}
        # Jobs of chunks that came to grief as a whole: each is tried again with nothing else
        # under way, so that only the one at fault fails.
        self._suspects: deque[_Handed] = deque()
        self._alone = False
        self._deaths = 0
        self._pace = _CHUNK_SECONDS

    def outcomes(self) -> Iterator[tuple[int, Outcome]]:
        """Carry all jobs out; yield each job's number and what became of it, as they end."""
        try:
            self._hand_over()
            while self._pending or self._ended or self._suspects:
                while self._ended:
                    yield self._ended.popleft()
                if self._pending:
                    ended, _ = wait(self._pending, return_when=FIRST_COMPLETED)
                    self._gather(ended)
                self._hand_over()
        finally:
            for future in self._pending:
                future.cancel()

    def _hand_over(self) -> None:
        """Hand over as much as is due, never all at once: memory does not grow with the jobs."""
        if self._suspects:
            if not self._pending:
                self._alone = True
                self._start([self._suspects.popleft()])
            return
        self._alone = False
        while len(self._pending) < _AHEAD * self._width and len(self._ended) < _MOST_ENDED:
            chunk = self._chunk()
            if not chunk:
                return
            self._start(chunk)

    def _chunk(self) -> list[_Handed]:
        """The next jobs that are to be done; those that need not be done have ended by then."""
        chunk: list[_Handed] = []
        size = self._size()
        while len(chunk) < size:
            if self._due:
                chunk.append(self._due.popleft())
            elif len(self._ended) >= _MOST_ENDED or not self._ask():
                break
        return chunk

    def _ask(self) -> bool:
        """Find out what is known of the next few jobs, if there are any."""
        asked = list(islice(self._waiting, ASKED_AT_ONCE))
        answers = self._index.begin(asked, resume=self._order.resume)
        for (number, item), (key, known) in zip(asked, answers, strict=True):
            if known is None:
                self._due.append(_Handed(number, item, key))
            else:
                self._ended.append((number, known))
        self._next += len(asked)
        return bool(asked)

    def _size(self) -> int:
        """Jobs in the next chunk: fewer towards the end, so that all workers end together."""
        size = min(_LARGEST_CHUNK, int(_CHUNK_SECONDS / self._pace))
        if self._total is not None:
            left = self._total - self._next + len(self._due)
            size = min(size, left // (2 * self._width))
        return max(1, size)

    def _start(self, turns: Sequence[_Handed]) -> None:
        jobs = [turn.item for turn in turns]
        try:
            future = self._submit(carry_out, jobs, self._order)
        except BrokenExecutor as error:
            future = Future()
            future.set_exception(error)
        self._pending[future] = turns

    def _gather(self, ended: set[Chunk]) -> None:
        broken = any(_is_broken(future) for future in ended)
        if broken:
            # Nothing that is under way will come back: these end at once.
            ended = wait(self._pending).done
        # In the order in which they were handed over, as a set has none.
        for future in [own for own in self._pending if own in ended]:
            turns = self._pending.pop(future)
            try:
                outcomes = future.result()
            except (Exception, CancelledError) as error:
                self._failed(turns, error)
            else:
                self._deaths = 0
                self._pace = 0.5 * self._pace + 0.5 * _seconds(outcomes)
                for turn, outcome in zip(turns, outcomes, strict=True):
                    self._end(turn, outcome)
        if broken and self._renew is not None:
            self._deaths += 1
            if self._deaths < _MOST_DEATHS:
                self._renew()
            else:
                self._renew = None

    def _failed(self, turns: Sequence[_Handed], error: BaseException) -> None:
        """Tell a failure that no job told itself, or find out which job it belongs to."""
        died = isinstance(error, BrokenExecutor)
        if len(turns) > 1 or (died and not self._alone):
            self._suspects.extend(turns)
            return
        (turn,) = turns
        if died:
            problem = "its process ended abruptly: killed, out of memory, or crashed"
            remedy = "Run the batch again, with fewer workers if memory is short."
        else:
            problem = f"could not be handed to a worker or back: {type(error).__name__}: {error}"
            remedy = "Check the executor, and that the job is made of plain data."
        text = f"{problem}\n  What to do: {remedy}"
        self._end(turn, Outcome(turn.item.job.name, "failed", error=text))

    def _end(self, turn: _Handed, outcome: Outcome) -> None:
        self._index.keep(turn.item, turn.key, outcome)
        self._ended.append((turn.number, outcome))


def _is_broken(future: Chunk) -> bool:
    return not future.cancelled() and isinstance(future.exception(), BrokenExecutor)


def _seconds(outcomes: Sequence[Outcome]) -> float:
    """Mean time of a job, never 0."""
    return max(sum(outcome.seconds for outcome in outcomes) / len(outcomes), 1e-6)

"""Long work off the Tk thread: readers that may be outdated, and one writer that takes its turn.

A worker gets plain values and returns plain values; nothing of Tk crosses. What it returns is put in a queue
that the Tk thread polls with ``after``. Automatic garbage collection is off and the Tk thread collects,
because a worker that happened to free a closed window's variables would call Tk from the wrong thread and
abort the process; for the same reason the Tk thread holds the last reference to every piece of work.
"""

from __future__ import annotations

import gc
import logging
import queue
import threading
import tkinter as tk
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

from gui.job import Job, Stopped
from invdb.terms import Refused

READERS = 2
WAITING_WRITES_MAX = 32
REPLIES_PER_POLL = 50
POLL_MS = 15
COLLECT_MS = 1_000
COLLECTIONS_PER_FULL_ONE = 30
READER_GRACE_SECONDS = 1.0

log = logging.getLogger(__name__)


T = TypeVar("T")
Sink = Callable[[T], None]


@dataclass
class _Task:
    """One piece of work as the Tk thread keeps it. A worker uses ``work`` and ``job`` only."""

    number: int
    channel: str
    doing: str
    work: Callable[[Job], Any]
    on_done: Sink[Any]
    on_refused: Sink[Refused] | None
    on_progress: Callable[[str, float | None], None] | None
    on_over: Callable[[], None]
    writes: bool
    job: Job = field(default_factory=Job)
    progress_told: tuple[str, float | None] | None = None


@dataclass(frozen=True)
class _Reply:
    number: int
    value: Any = None
    refused: Refused | None = None
    failure: str = ""
    details: str = ""
    stopped: bool = False


# Work that would not stop when its window closed. Kept, so that its worker never frees what is the window's.
_abandoned: list[_Task] = []


class Background:
    """The workers of one window. Make it after the root window and :meth:`close` it before that is destroyed.

    ``on_failure`` gets one plain sentence when work ends by anything but an answer or a refusal;
    ``on_busy`` gets the list of what is being done, whenever that changes.
    """

    def __init__(self, root: tk.Misc) -> None:
        self.on_failure: Sink[str] = log.error
        self.on_busy: Sink[list[str]] = lambda _doing: None
        self._root = root
        self._numbers = 0
        self._tickets: dict[str, int] = {}
        self._live: dict[int, _Task] = {}
        self._reads: queue.SimpleQueue[_Task | None] = queue.SimpleQueue()
        self._writes: queue.SimpleQueue[_Task | None] = queue.SimpleQueue()
        self._replies: queue.SimpleQueue[_Reply] = queue.SimpleQueue()
        self._poll_timer = ""
        self._closed = False
        self._threads: list[threading.Thread] = []
        self._gc_was_on = gc.isenabled()
        gc.disable()
        self._collections = 0
        self._collect_timer = root.after(COLLECT_MS, self._collect)

    def ask(
        self,
        channel: str,
        work: Callable[[Job], T],
        on_done: Sink[T],
        *,
        on_refused: Sink[Refused] | None = None,
        on_progress: Callable[[str, float | None], None] | None = None,
        on_over: Callable[[], None] = lambda: None,
        doing: str = "",
    ) -> Job:
        """Read something. A newer question on the same channel stops this one and its answer is dropped.

        ``work`` runs on a worker: it may use no Tk and must return plain values. The others are called on
        the Tk thread. Without ``on_refused`` a refusal goes to the window's own line. ``on_over`` comes
        before whichever of them is called, and also when the work failed or was stopped.
        """
        outdated = self._live.get(self._tickets.get(channel, 0))
        if outdated is not None:
            outdated.job.ask_to_stop()
        task = self._begin(channel, doing, work, on_done, on_refused, on_progress, on_over, writes=False)
        self._tickets[channel] = task.number
        self._reads.put(task)
        return task.job

    def act(
        self,
        work: Callable[[Job], T],
        on_done: Sink[T],
        *,
        on_refused: Sink[Refused] | None = None,
        on_progress: Callable[[str, float | None], None] | None = None,
        on_over: Callable[[], None] = lambda: None,
        doing: str = "",
    ) -> Job:
        """Write something: one at a time, in the order asked, and its answer is never dropped.

        Otherwise as :meth:`ask`.
        """
        if sum(task.writes for task in self._live.values()) >= WAITING_WRITES_MAX:
            raise Refused(
                f"{WAITING_WRITES_MAX} acts are already waiting to be written.", "Wait until some are done."
            )
        task = self._begin("", doing, work, on_done, on_refused, on_progress, on_over, writes=True)
        self._writes.put(task)
        return task.job

    def forget(self, channel: str) -> None:
        """Drop whatever is still on its way on that channel."""
        outdated = self._live.get(self._tickets.pop(channel, 0))
        if outdated is not None:
            outdated.job.ask_to_stop()

    def busy(self) -> bool:
        """Whether any work, outdated or not, is still going on."""
        return bool(self._live)

    def writing(self) -> bool:
        """Whether an act is going on or waiting, so that the window had better stay."""
        return any(task.writes for task in self._live.values())

    def stop_all(self) -> None:
        """Ask all that has not begun to commit to stop."""
        for task in list(self._live.values()):
            task.job.ask_to_stop()

    def close(self) -> None:
        """Stop what can be stopped, wait for a commit that has begun, and give collecting back."""
        if self._closed:
            return
        self._closed = True
        self.stop_all()
        for _ in self._threads:
            self._reads.put(None)
        self._writes.put(None)
        for thread in self._threads[:READERS]:
            thread.join(READER_GRACE_SECONDS)
            if thread.is_alive():
                _abandoned.extend(self._live.values())
        for thread in self._threads[READERS:]:
            thread.join()
        for timer in (self._poll_timer, self._collect_timer):
            if timer:
                self._root.after_cancel(timer)
        self._live.clear()
        gc.collect()
        if self._gc_was_on:
            gc.enable()

    def _begin(
        self,
        channel: str,
        doing: str,
        work: Callable[[Job], Any],
        on_done: Sink[Any],
        on_refused: Sink[Refused] | None,
        on_progress: Callable[[str, float | None], None] | None,
        on_over: Callable[[], None],
        *,
        writes: bool,
    ) -> _Task:
        if self._closed:
            raise RuntimeError("the window's background work has been closed")
        self._start_threads()
        self._numbers += 1
        task = _Task(self._numbers, channel, doing, work, on_done, on_refused, on_progress, on_over, writes)
        self._live[task.number] = task
        self._tell_busy()
        if not self._poll_timer:
            self._poll_timer = self._root.after(POLL_MS, self._poll)
        return task

    def _start_threads(self) -> None:
        if self._threads:
            return
        for todo in (*[self._reads] * READERS, self._writes):
            thread = threading.Thread(target=_serve, args=(todo, self._replies), daemon=True)
            thread.start()
            self._threads.append(thread)

    def _poll(self) -> None:
        self._poll_timer = ""
        try:
            for _ in range(REPLIES_PER_POLL):
                if self._closed or self._replies.empty():
                    break
                self._deliver(self._replies.get_nowait())
            for task in list(self._live.values()):
                self._tell_progress(task)
        finally:
            # What a view does with an answer may go wrong; the other answers must still arrive.
            if self._live and not self._poll_timer and not self._closed:
                self._poll_timer = self._root.after(POLL_MS, self._poll)

    def _deliver(self, reply: _Reply) -> None:
        task = self._live.pop(reply.number)
        self._tell_busy()
        if self._outdated(task):
            return
        if reply.failure:
            log.error("%s\n%s", reply.failure, reply.details)
        task.on_over()
        if reply.stopped or self._closed:
            return
        if reply.failure:
            self.on_failure(reply.failure)
        elif reply.refused is None:
            task.on_done(reply.value)
        elif task.on_refused is not None:
            task.on_refused(reply.refused)
        else:
            self.on_failure(str(reply.refused))

    def _outdated(self, task: _Task) -> bool:
        return not task.writes and self._tickets.get(task.channel) != task.number

    def _tell_progress(self, task: _Task) -> None:
        latest = task.job.latest_progress()
        if latest is None or latest is task.progress_told or self._outdated(task):
            return
        task.progress_told = latest
        if task.on_progress is not None:
            task.on_progress(*latest)

    def _tell_busy(self) -> None:
        self.on_busy([task.doing for task in self._live.values() if task.doing])

    def _collect(self) -> None:
        self._collections += 1
        gc.collect(2 if self._collections % COLLECTIONS_PER_FULL_ONE == 0 else 1)
        self._collect_timer = self._root.after(COLLECT_MS, self._collect)


def _serve(todo: queue.SimpleQueue[_Task | None], replies: queue.SimpleQueue[_Reply]) -> None:
    while True:
        task = todo.get()
        if task is None:
            return
        reply = _carried_out(task)
        # Let go before replying, so that the Tk thread's reference is the last one.
        del task
        replies.put(reply)
        del reply


def _carried_out(task: _Task) -> _Reply:
    """Do the work and turn whatever comes of it into plain values.

    The one place where every exception is caught: a worker has no caller to tell but the window.
    """
    if task.job.stopped():
        return _Reply(task.number, stopped=True)
    try:
        return _Reply(task.number, value=task.work(task.job))
    except Stopped:
        return _Reply(task.number, stopped=True)
    except Refused as refused:
        if task.job.stopped():
            # A read that is broken off ends by its database's own error, in words or not.
            return _Reply(task.number, stopped=True)
        return _Reply(task.number, refused=_without_frames(refused))
    except Exception as broken:
        if task.job.stopped():
            return _Reply(task.number, stopped=True)
        what = task.doing or "that"
        failure = f"Could not finish {what}: {type(broken).__name__}: {broken}. The log has the details."
        return _Reply(task.number, failure=" ".join(failure.split()), details=traceback.format_exc())


def _without_frames(refused: Refused) -> Refused:
    """The refusal without the frames it came through, which would keep the worker's values alive."""
    refused.__cause__ = refused.__context__ = None
    return refused.with_traceback(None)

"""Long computations of a ring beside the pages: one at a time, results kept in memory by the text they come from.

Whoever asks gets the state at once and asks again. Nothing of this is written to the dossier: the same file gives the
same numbers (its seed stands in it), so a result that was lost is made again.
"""

from __future__ import annotations

import queue
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal

from evenpull.ring.stepping import SteppingError
from evenpull.store.services.errors import Refused

MOST_KEPT, MOST_WAITING = 64, 24
State = Literal["waiting", "computing", "done", "failed"]
Key = tuple[str, ...]


@dataclass
class Work:
    """`what` says in words what is computed; `value` when done, `error` when failed."""

    what: str
    task: Callable[[], Any] = field(repr=False)
    state: State = "waiting"
    value: Any = None
    error: Exception | None = None
    asked_at: float = field(default_factory=time.monotonic)
    began_at: float | None = None
    ended: threading.Event = field(default_factory=threading.Event, repr=False)

    @property
    def seconds(self) -> float:
        """Since it began, or since it was asked for while it waits."""
        return time.monotonic() - (self.began_at or self.asked_at)

    def result(self) -> Any:
        """The value; waits for it. Raises what the computation raised."""
        self.ended.wait()
        if self.error is not None:
            raise self.error
        return self.value


class Bench:
    """One worker thread with its queue. A thread of the program, not a person's: it ends with the program."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._works: OrderedDict[Key, Work] = OrderedDict()
        self._queue: queue.SimpleQueue[Work] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    def ask(self, key: Key, what: str, task: Callable[[], Any]) -> Work:
        """The work of this key, begun when it is new. Refused when too many wait. What failed is not tried again: the
        same text would fail again."""
        with self._lock:
            work = self._works.get(key)
            if work is not None:
                self._works.move_to_end(key)
                return work
            waiting = sum(one.state == "waiting" for one in self._works.values())
            if waiting >= MOST_WAITING:
                raise Refused(f"{waiting} computations wait already; look again when some are done.")
            work = Work(what, task)
            self._works[key] = work
            self._drop_old()
            self._queue.put(work)
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="ring work", daemon=True)
                self._thread.start()
            return work

    def known(self, key: Key) -> Work | None:
        """The work of this key, if anybody has asked for it."""
        with self._lock:
            return self._works.get(key)

    def _drop_old(self) -> None:
        for key in [key for key, work in self._works.items() if work.state in ("done", "failed")]:
            if len(self._works) <= MOST_KEPT:
                return
            del self._works[key]

    def _run(self) -> None:
        while True:
            work = self._queue.get()
            work.began_at, work.state = time.monotonic(), "computing"
            error: Exception = RuntimeError(f"{work.what}: a fault of the program; the server's own output shows it")
            try:
                work.value = work.task()
                work.state = "done"
            except (Refused, SteppingError, ValueError) as why:  # whoever asks raises it (`result`)
                error = why
            finally:  # anything else ends this thread with its trace; the next one who asks begins a new one
                if work.state != "done":
                    work.error, work.state = error, "failed"
                    if isinstance(error, RuntimeError) and not isinstance(error, SteppingError):
                        self._thread = None
                work.ended.set()


quick, slow = Bench(), Bench()  # what a page needs to be shown at all; what it shows when it is there

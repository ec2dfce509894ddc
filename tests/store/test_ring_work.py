"""Long computations beside the pages: asked for once, told how far they are, failures handed to whoever asks."""

from __future__ import annotations

import threading

import pytest

from evenpull.ring.stepping import SteppingError
from evenpull.store import services
from evenpull.store.services import ring_work
from evenpull.store.services.ring_work import Bench


def test_one_key_is_computed_once_and_kept() -> None:
    bench, made = Bench(), []
    first = bench.ask(("a",), "first", lambda: made.append(1) or len(made))
    assert first.result() == 1 and first.state == "done"
    assert bench.ask(("a",), "first", lambda: made.append(1) or len(made)) is first and made == [1]


def test_what_waits_says_so_and_comes_in_its_turn() -> None:
    bench, go = Bench(), threading.Event()
    one = bench.ask(("a",), "one", lambda: go.wait(30))
    two = bench.ask(("b",), "two", lambda: 2)
    assert two.state == "waiting" and not two.ended.is_set()
    go.set()
    assert one.result() is True and two.result() == 2


def test_a_ring_without_equilibrium_fails_for_who_asks_and_the_next_one_is_computed() -> None:
    def never() -> None:
        raise SteppingError("the gasket finds no equilibrium")

    bench = Bench()
    work = bench.ask(("a",), "one", never)
    with pytest.raises(SteppingError, match="no equilibrium"):
        work.result()
    assert work.state == "failed" and bench.ask(("b",), "two", lambda: 2).result() == 2


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_fault_of_the_program_is_told_and_does_not_stop_the_bench() -> None:
    bench = Bench()
    work = bench.ask(("a",), "one", lambda: {}["missing"])
    with pytest.raises(RuntimeError, match="a fault of the program"):
        work.result()
    assert bench.ask(("b",), "two", lambda: 2).result() == 2


def test_too_many_are_refused_and_old_results_make_room(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ring_work, "MOST_WAITING", 2)
    bench, go, begun = Bench(), threading.Event(), threading.Event()
    works = [bench.ask(("0",), "0", lambda: begun.set() or go.wait(30))]
    assert begun.wait(30)
    works += [bench.ask((str(n),), str(n), lambda: None) for n in (1, 2)]
    with pytest.raises(services.Refused, match="2 computations wait already"):
        bench.ask(("3",), "3", lambda: None)
    go.set()
    for work in works:
        work.result()
    monkeypatch.setattr(ring_work, "MOST_KEPT", 2)
    assert bench.ask(("4",), "4", lambda: 4).result() == 4
    assert bench.known(("0",)) is None and bench.known(("4",)) is not None

"""Work off the Tk thread: what arrives, what is dropped, what can be stopped, and who frees what."""

from __future__ import annotations

import gc
import threading
import weakref
from collections.abc import Callable

import pytest

from gui.background import WAITING_WRITES_MAX, Background
from gui.job import Job
from invdb.terms import Refused
from tests.gui.desk import Desk


def test_the_work_runs_elsewhere_and_its_answer_comes_home(desk: Desk) -> None:
    threads: list[threading.Thread] = []

    def answered(thread: threading.Thread) -> None:
        threads.extend([thread, threading.current_thread()])

    desk.background.ask("find", lambda _job: threading.current_thread(), answered)
    desk.settle()
    assert threads[0] is not threading.main_thread()
    assert threads[1] is threading.main_thread()


def test_an_outdated_answer_is_dropped(desk: Desk) -> None:
    answers: list[str] = []
    let_go = threading.Event()

    def slow(_job: Job) -> str:
        let_go.wait()
        return "ex"

    desk.background.ask("find", slow, answers.append)
    desk.background.ask("find", lambda _job: "exhaust", answers.append)
    desk.until(lambda: answers)
    let_go.set()
    desk.settle()
    assert answers == ["exhaust"]


def test_two_channels_do_not_outdate_each_other(desk: Desk) -> None:
    answers: list[str] = []
    desk.background.ask("find", lambda _job: "found", answers.append)
    desk.background.ask("list", lambda _job: "listed", answers.append)
    desk.settle()
    assert sorted(answers) == ["found", "listed"]


def test_a_forgotten_question_is_never_answered(desk: Desk) -> None:
    answers: list[str] = []
    desk.background.ask("find", lambda _job: "found", answers.append)
    desk.background.forget("find")
    desk.settle()
    assert answers == []


def test_acts_are_written_one_at_a_time_in_their_order(desk: Desk) -> None:
    written: list[int] = []
    at_work: list[int] = []

    def act(number: int) -> Callable[[Job], int]:
        def work(_job: Job) -> int:
            at_work.append(number)
            assert at_work == [number]
            at_work.remove(number)
            return number

        return work

    for number in range(20):
        desk.background.act(act(number), written.append)
    desk.settle()
    assert written == list(range(20))
    assert desk.failures == []


def test_too_many_waiting_acts_are_refused(desk: Desk) -> None:
    let_go = threading.Event()
    for _ in range(WAITING_WRITES_MAX):
        desk.background.act(lambda _job: let_go.wait(), lambda _done: None)
    with pytest.raises(Refused, match=str(WAITING_WRITES_MAX)):
        desk.background.act(lambda _job: None, lambda _done: None)
    let_go.set()
    desk.settle()


def refuse(_job: Job) -> None:
    raise Refused("LN0412-K is not a house number.", "Check the last character.")


def test_a_refusal_goes_to_who_asked(desk: Desk) -> None:
    refusals: list[Refused] = []
    desk.background.act(refuse, lambda _done: None, on_refused=refusals.append)
    desk.settle()
    assert [refused.remedy for refused in refusals] == ["Check the last character."]
    assert refusals[0].__traceback__ is None
    assert desk.failures == []


def test_a_refusal_nobody_waits_for_is_said_in_the_window(desk: Desk) -> None:
    desk.background.act(refuse, lambda _done: None)
    desk.settle()
    assert desk.failures == ["LN0412-K is not a house number. Check the last character."]


def test_what_breaks_is_one_plain_sentence_and_the_log_has_the_rest(
    desk: Desk, caplog: pytest.LogCaptureFixture
) -> None:
    over: list[bool] = []

    def broken(_job: Job) -> None:
        raise ZeroDivisionError("division by zero")

    desk.background.act(broken, lambda _done: None, on_over=lambda: over.append(True), doing="the booking in")
    desk.settle()
    (sentence,) = desk.failures
    assert sentence.startswith("Could not finish the booking in: ")
    assert "\n" not in sentence
    assert "Traceback" in caplog.text
    assert over == [True]


def test_an_answer_that_goes_wrong_in_the_window_does_not_hold_up_the_next(desk: Desk) -> None:
    answers: list[str] = []

    def fall_over(_answer: str) -> None:
        raise LookupError("no such row")

    desk.background.ask("list", lambda _job: "one", fall_over)
    desk.background.ask("find", lambda _job: "two", answers.append)
    desk.settle()
    assert answers == ["two"]
    assert [type(broken) for broken in desk.broken] == [LookupError]
    desk.broken.clear()


def test_progress_is_told_on_the_way(desk: Desk) -> None:
    told: list[tuple[str, float | None]] = []
    seen = threading.Event()

    def long_work(job: Job) -> None:
        job.progress("Working out cylinder 3 of 7", 3 / 7)
        seen.wait()

    desk.background.ask(
        "kits", long_work, lambda _done: None, on_progress=lambda text, share: told.append((text, share))
    )
    desk.until(lambda: told)
    seen.set()
    desk.settle()
    assert told == [("Working out cylinder 3 of 7", 3 / 7)]


def test_a_long_read_is_interrupted(desk: Desk) -> None:
    broken_off = threading.Event()
    started = threading.Event()
    answers: list[object] = []

    def read(job: Job) -> None:
        job.interrupt_with(broken_off.set)
        started.set()
        broken_off.wait()
        raise OSError("interrupted")

    job = desk.background.ask("list", read, answers.append)
    desk.until(started.is_set)
    assert job.ask_to_stop()
    desk.settle()
    assert answers == [] and desk.failures == []


def test_a_stop_before_the_commit_writes_nothing(desk: Desk) -> None:
    committed: list[bool] = []
    started, let_go = threading.Event(), threading.Event()

    def act(job: Job) -> None:
        started.set()
        let_go.wait()
        job.commit_begins()
        committed.append(True)

    job = desk.background.act(act, lambda _done: None)
    desk.until(started.is_set)
    assert job.ask_to_stop()
    let_go.set()
    desk.settle()
    assert committed == []


def test_a_stop_after_the_commit_began_does_nothing(desk: Desk) -> None:
    answers: list[str] = []
    began, let_go = threading.Event(), threading.Event()

    def act(job: Job) -> str:
        job.commit_begins()
        began.set()
        let_go.wait()
        return "committed"

    job = desk.background.act(act, answers.append)
    desk.until(began.is_set)
    assert not job.ask_to_stop()
    let_go.set()
    desk.settle()
    assert answers == ["committed"]


def test_closing_waits_for_a_commit_and_stops_what_only_waits(desk: Desk) -> None:
    done: list[str] = []
    began, let_go = threading.Event(), threading.Event()

    def act(job: Job) -> None:
        job.commit_begins()
        began.set()
        let_go.wait()
        done.append("first")

    desk.background.act(act, lambda _done: None)
    desk.background.act(lambda _job: done.append("second"), lambda _done: None)
    desk.until(began.is_set)
    threading.Timer(0.05, let_go.set).start()
    desk.background.close()
    assert done == ["first"]


def test_only_the_tk_thread_collects_and_it_gives_that_back(display: str) -> None:
    assert gc.isenabled()
    desk = Desk()
    assert not gc.isenabled()
    desk.close()
    assert gc.isenabled()


def test_what_the_work_holds_is_freed_on_the_tk_thread(desk: Desk) -> None:
    """A view's variables hang on its work; freed by a worker they would call Tk from the wrong thread."""

    class Held:
        pass

    freed_on: list[threading.Thread] = []
    held = Held()
    weakref.finalize(held, lambda: freed_on.append(threading.current_thread()))

    def work(_job: Job, held: object = held) -> None:
        del held

    for channel in ("answered", "dropped", "dropped"):
        desk.background.ask(channel, work, lambda _done: None)
    del held, work
    desk.settle()
    gc.collect()
    assert freed_on == [threading.main_thread()]


def test_no_work_is_taken_after_closing(display: str) -> None:
    desk = Desk()
    background: Background = desk.background
    desk.close()
    with pytest.raises(RuntimeError, match="closed"):
        background.ask("find", lambda _job: None, lambda _done: None)

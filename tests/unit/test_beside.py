"""Work done beside the main thread: each piece once, by whoever is free, and no fault lost."""

import sys
import threading

import pytest

from trace2pop.commands.beside import Beside


def test_what_nobody_has_begun_the_main_thread_does_itself_and_once() -> None:
    go, runs = threading.Event(), []
    main = threading.current_thread()
    with Beside() as beside:
        busy = [beside.begin(go.wait) for _ in range(3)]  # as many as there can be threads
        wanted = beside.begin(lambda: runs.append(threading.current_thread()))
        wanted()
        wanted()
        assert runs == [main]
        go.set()
        assert all(wait() for wait in busy)


def test_what_is_begun_beside_is_waited_for_and_its_error_comes_through() -> None:
    with Beside() as beside:
        begun, done = threading.Event(), threading.Event()

        def fails() -> None:
            begun.set()
            done.wait()
            raise ValueError("as it was")

        wanted = beside.begin(fails)
        assert begun.wait(10)
        done.set()
        with pytest.raises(ValueError, match="as it was"):
            wanted()


def test_leaving_early_drops_what_is_not_begun() -> None:
    go, runs = threading.Event(), []
    before = sys.getswitchinterval()
    with pytest.raises(KeyboardInterrupt), Beside() as beside:
        for _ in range(3):
            beside.begin(go.wait)
        beside.begin(lambda: runs.append(1))
        threading.Timer(1.0, go.set).start()
        raise KeyboardInterrupt
    assert runs == []
    assert sys.getswitchinterval() == before

"""Work done beside the main thread, which takes up itself what nobody has begun by then."""

import os
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import Self, TypeVar

T = TypeVar("T")

_SWITCH_S = 0.0005
"""A thread that comes back from drawing waits no longer than this for one that computes."""


class Beside:
    """Threads for all cores but the one that the main thread takes; a context.

    On leaving it what is begun is waited for, what isn't is dropped.
    """

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max(1, min(3, (os.cpu_count() or 1) - 1)))
        self._interval = sys.getswitchinterval()

    def __enter__(self) -> Self:
        sys.setswitchinterval(_SWITCH_S)
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.shutdown(cancel_futures=True)
        sys.setswitchinterval(self._interval)

    def begin(self, make: Callable[[], T]) -> Callable[[], T]:
        """Have ``make`` called in its turn; what is returned gives its result, or its error."""
        turn = self._pool.submit(make)
        return cache(lambda: make() if turn.cancel() else turn.result())

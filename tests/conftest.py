"""Hypothesis tries the same examples each run: a test fails for a change, not for luck.

``pytest --hypothesis-profile=nightly`` tries many others.

Tests that interrupt a run work in the background, too: a shell starts what it puts there deaf to
interrupts, and what that starts inherits it.
"""

import signal

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.register_profile("nightly", max_examples=2000, deadline=None)
settings.load_profile("repeatable")

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

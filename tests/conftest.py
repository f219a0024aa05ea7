"""Hypothesis tries the same examples each run: a test fails for a change, not for luck.

``pytest --hypothesis-profile=nightly`` tries many others.
"""

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.register_profile("nightly", max_examples=2000, deadline=None)
settings.load_profile("repeatable")

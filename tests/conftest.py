"""Hypothesis tries the same examples each run: a test fails for a change, not for luck."""

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")

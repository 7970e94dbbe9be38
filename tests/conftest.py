"""Shared by all tests: one settings profile for hypothesis, the same examples in every run."""

from hypothesis import settings

settings.register_profile("same", derandomize=True, deadline=None)
settings.load_profile("same")

"""What all tests share: Hypothesis without a deadline, because a busy machine is no fault of the code under test."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("house", deadline=None)
settings.load_profile("house")

"""The first conversion of a process loads the unit registry; a deadline per example would judge that, not the code."""

from hypothesis import settings

settings.register_profile("mechanics", deadline=None)
settings.load_profile("mechanics")

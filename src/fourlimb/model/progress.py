"""How long work tells where it is, without knowing who listens."""

from collections.abc import Callable

Progress = Callable[[str, float], None]
"""Called with the name of the stage in a teacher's words and the share done, 0 to 1."""


def silent(stage: str, share: float) -> None:
    """The progress nobody watches."""

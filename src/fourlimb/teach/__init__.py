"""Charts -> what to say and in which order. In: a chart and its grid. Out: `Plan`, cue sheet."""

from .plan import plan

__all__ = ["plan"]

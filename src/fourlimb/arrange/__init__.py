"""Placed hits -> charts one drummer can play. In: `Listening`, `Kit`. Out: charts and reasons."""

from .arranger import Arrangement, arrange
from .checker import check
from .difficulty import Difficulty, difficulty, hardest, sections, whole
from .memory import Memory
from .mixing import lift
from .perform import perform
from .stickings import Sticking, stickings
from .targets import aim
from .why import why

__all__ = [
    "Arrangement",
    "Difficulty",
    "Memory",
    "Sticking",
    "aim",
    "arrange",
    "check",
    "difficulty",
    "hardest",
    "lift",
    "perform",
    "sections",
    "stickings",
    "whole",
    "why",
]

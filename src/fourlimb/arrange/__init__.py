"""Placed hits -> charts one drummer can play. In: `Listening`, `Kit`. Out: charts and reasons."""

from .arranger import Arrangement, arrange
from .checker import check
from .difficulty import Difficulty, difficulty
from .mixing import lift
from .perform import perform

__all__ = ["Arrangement", "Difficulty", "arrange", "check", "difficulty", "lift", "perform"]

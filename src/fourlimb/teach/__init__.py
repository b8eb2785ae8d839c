"""Charts -> what to say and in which order.

In: a chart on its grid, sections, a kit. Out: the `Plan` (figures, differences in words, running order, count lines),
phrases, ladder, landmarks, the cue sheet, and the cautions that go with practice.
"""

from .cautions import cautions
from .cues import Cue, cue_sheet
from .handout import cues_csv, cues_markdown, phrase_lines
from .ladder import LADDER, Rung, count_in_words, ladder
from .landmarks import find_landmarks, landmark_words
from .phrases import Phrase, phrases
from .plan import plan

__all__ = [
    "LADDER", "Cue", "Phrase", "Rung",
    "cautions", "count_in_words", "cue_sheet", "cues_csv", "cues_markdown", "find_landmarks", "ladder",
    "landmark_words", "phrase_lines", "phrases", "plan",
]  # fmt: skip

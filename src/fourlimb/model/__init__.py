"""What a song, grid, hit, stroke, chart, kit and lesson ARE.

In: nothing. Out: pure data and arithmetic that every other room speaks in; imports nothing of ours.
"""

from .audio import Audio, Recording, Samples
from .chart import (
    LEVEL_SAYS,
    LEVELS,
    Breach,
    Chart,
    ChartBar,
    Grace,
    Level,
    Reason,
    Stroke,
    Struck,
)
from .errors import CorrectionError, FourlimbError, InputError, LessonError, MissingPartError
from .grid import Bar, Beat, FeelName, FeelSpan, Grid
from .heard import Doubt, Hit, Landmark, Layer, Listening, Possible, Section, Song
from .kit import FEET, HANDS, LIMBS, Kit, Letter, Limb, StaffPlace
from .lesson import Correction, Lesson
from .marking import MarkedBar, MarkedStroke, Marking, MarkSummary, PractiseNext, TakeFacts, Verdict
from .printing import Printing
from .progress import Progress, silent
from .sheet import Sheet
from .sounds import SOUNDS, Sound
from .teaching import Change, Difference, Figure, Introduction, Plan

__all__ = [
    "FEET", "HANDS", "LEVELS", "LEVEL_SAYS", "LIMBS", "SOUNDS",
    "Audio", "Bar", "Beat", "Breach", "Change", "Chart", "ChartBar", "Correction", "CorrectionError", "Difference",
    "Doubt", "FeelName", "FeelSpan", "Figure", "FourlimbError", "Grace", "Grid", "Hit", "InputError", "Introduction",
    "Kit", "Landmark", "Layer", "Lesson", "LessonError", "Letter", "Level", "Limb", "Listening", "MarkSummary",
    "MarkedBar", "MarkedStroke", "Marking", "MissingPartError", "Plan", "Possible", "PractiseNext", "Printing",
    "Progress", "Reason", "Recording", "Samples", "Section", "Sheet", "Song", "Sound", "StaffPlace", "Stroke",
    "Struck", "TakeFacts", "Verdict", "silent",
]  # fmt: skip

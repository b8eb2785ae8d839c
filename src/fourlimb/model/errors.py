"""What can go wrong, in one small family.

Every message is one line that says what is wrong, where, and what to do about it.
A caller that wants to treat all of them alike catches `FourlimbError`.
"""


class FourlimbError(Exception):
    """Root of every error that fourlimb raises on purpose."""


class InputError(FourlimbError):
    """The song, take or file given cannot be used (exit code 1)."""


class LessonError(FourlimbError):
    """The lesson folder cannot be read, written or replaced (exit code 1)."""


class CorrectionError(FourlimbError):
    """The text of a correction is not understood (exit code 1)."""


class MissingPartError(FourlimbError):
    """An optional library is needed for this and is not installed (exit code 1)."""

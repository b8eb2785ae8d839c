"""Corrections that were said at the desk and are not done: kept in the lesson's folder until they are.

So neither a desk that is closed, killed or loses its power, nor a disk that is full, loses a decision: the next desk
shows the words again. The file is there only while something is not done.
"""

import json
from pathlib import Path
from typing import Final

from fourlimb.lesson.workshop import write_file
from fourlimb.model import FourlimbError

NAME: Final = "desk.json"
CLOSED: Final = "the desk was closed before this was done: say it again if it is still right"

Said = tuple[str, str]
"""Words, and why they are not done ("": they wait)."""


def keep(folder: Path, said: list[Said]) -> None:
    """Write down what is not done. A folder that cannot be written is told by the change itself, not here."""
    path = folder / NAME
    try:
        if said:
            listed = [{"words": words, "why": why} for words, why in said]
            text = json.dumps({"schema": "fourlimb/desk/1", "not_done": listed}, ensure_ascii=False, indent=1)
            write_file(path, text.encode())
        else:
            path.unlink(missing_ok=True)
    except (FourlimbError, OSError):
        return


def kept(folder: Path) -> list[Said]:
    """What an earlier desk has left; nothing where the file is missing or damaged."""
    try:
        listed = json.loads((folder / NAME).read_bytes())["not_done"]
        return [(str(item["words"]), str(item["why"]) or CLOSED) for item in listed if item["words"]]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return []

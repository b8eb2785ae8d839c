"""The teacher's choices for print: checked, changed, and handed to the engraver as a layout."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from fourlimb.model import InputError, Kit, Lesson, Printing
from fourlimb.model.keys import KEYS, read_key

if TYPE_CHECKING:
    from fourlimb.engrave import Layout


def layout_of(printing: Printing) -> "Layout":
    """The layout of printed pages. Raises InputError for a size or a number of bars that cannot be printed."""
    from fourlimb.engrave import Layout

    return Layout(
        paper=printing.paper,
        landscape=printing.landscape,
        scale=printing.size / 100,
        bars_per_line=printing.bars,
        voices=printing.voices,
        show_count=printing.count,
        show_sticking=printing.hands,
        show_cues=printing.cues,
        show_legend=printing.legend,
        doubts=printing.doubts,
        difficulty=printing.difficulty,
        simile="auto" if printing.repeat_signs else "never",
        repeats=printing.passages,
    )


def chosen(before: Printing, **choices: Any) -> Printing:
    """The choices before with those that were given (None: as before). Raises InputError, one line."""
    given = {name: value for name, value in choices.items() if value is not None}
    printing = msgspec.structs.replace(before, **given)
    layout_of(printing)
    if printing.week < 1:
        raise InputError(f"there is no week {printing.week}: weeks are counted from 1")
    return printing


def with_key(kit: Kit, name: str | None) -> Kit:
    """The kit with a school's key, or with a teacher's own from a .toml file (None: the key it has).

    Raises InputError when the name is not known or the file holds no key.
    """
    if name is None:
        return kit
    if name.lower().endswith(".toml"):
        own = read_key(_text(Path(name)), name=name)
        return msgspec.structs.replace(kit, key=own.key, second_key=own.second)
    if name not in KEYS:
        raise InputError(f'there is no key "{name}": use one of {", ".join(KEYS)}, or the name of a .toml file')
    return msgspec.structs.replace(kit, key=dict(KEYS[name]))


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        raise InputError(f"{path} cannot be read: name a key file that is there, in UTF-8") from None


def printed_as(lesson: Lesson, *, key: str | None = None, **choices: Any) -> Lesson:
    """The lesson with other choices for print."""
    printing = chosen(lesson.printing, **choices)
    return msgspec.structs.replace(lesson, kit=with_key(lesson.kit, key), printing=printing)

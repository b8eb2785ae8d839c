"""What the teacher has spoken about, and the rest of the song judged again by it.

Ordinary corrections change what they name and nothing else. Only "learn" lets other bars follow, and says which.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import msgspec

from fourlimb.model import SOUNDS, CorrectionError, Hit, Listening, Sound
from fourlimb.model.sounds import ORDER, SAY

if TYPE_CHECKING:
    from fourlimb.listen import Spoken

LISTED_BARS: Final = 12
EARLY_S: Final = 0.03
"""A stroke this much before a bar line belongs to the bar that begins there (as in `listen`)."""


@dataclass(frozen=True)
class OnlyAt:
    """Between two seconds a piece is struck at these seconds and nowhere else: the teacher said so."""

    piece: Sound
    start_s: float
    end_s: float
    times_s: tuple[float, ...]


def spoken(only: Iterable[OnlyAt], right_s: Iterable[tuple[float, float]]) -> tuple["Spoken", ...]:
    """Stretches of the song of which the teacher has said what is struck: single pieces, and everything."""
    from fourlimb.listen import Spoken

    pieces = [Spoken(o.start_s - EARLY_S, o.end_s - EARLY_S, frozenset({o.piece})) for o in only]
    whole = [Spoken(start - EARLY_S, end - EARLY_S, frozenset(SOUNDS)) for start, end in right_s]
    return (*pieces, *whole)


def right(hits: Sequence[Hit], bars: tuple[int, ...]) -> list[Hit]:
    """The hits, those of some bars being the teacher's."""
    return [
        msgspec.structs.replace(hit, by="teacher", confidence=1.0) if hit.bar in bars and hit.by == "ears" else hit
        for hit in hits
    ]


def learn_from(heard: Listening, first: Sequence[Hit], said: Sequence["Spoken"]) -> Listening:
    """Everything of which the teacher has not spoken, judged again; a note says what changed.

    Raises CorrectionError when there is nothing to learn from.
    """
    from fourlimb import listen

    if not said and not any(hit.by == "teacher" for hit in heard.hits):
        raise CorrectionError('put a bar right first and say so, like "learn from bar 12"')
    if not heard.possible:
        raise CorrectionError(
            "what else may have been struck is known only of recordings heard by this version: listen again"
        )
    learnt = listen.learn(heard.grid, first, heard.hits, heard.possible, said)
    note = f"learnt from the bars that are right: {_changes(learnt.added, learnt.gone)}"
    return msgspec.structs.replace(heard, hits=learnt.hits, notes=(*heard.notes, note))


def _changes(added: Sequence[Hit], gone: Sequence[Hit]) -> str:
    parts = [
        f"{_strokes(len(hits))} {what} ({_by_piece(hits)})"
        for hits, what in ((added, "added"), (gone, "taken out"))
        if hits
    ]
    if not parts:
        return "no other stroke changes"
    return f"{', '.join(parts)}{in_bars((*added, *gone))}; look at them"


def _strokes(count: int) -> str:
    return f"{count} stroke{'' if count == 1 else 's'}"


def _by_piece(hits: Sequence[Hit]) -> str:
    counts = Counter(hit.sound for hit in hits)
    return ", ".join(f"{SAY[s]} {n}" for s, n in sorted(counts.items(), key=lambda sn: (-sn[1], ORDER[sn[0]])))


def in_bars(hits: Iterable[Hit]) -> str:
    """Where they are, in words: " in bars 3, 7"; nothing where none has a bar."""
    bars = sorted({hit.bar for hit in hits if hit.bar is not None})
    listed = ", ".join(map(str, bars[:LISTED_BARS])) + (" and others" if len(bars) > LISTED_BARS else "")
    return f" in bar{'' if len(bars) == 1 else 's'} {listed}" if bars else ""

"""What a marking says of each bar, in sentences: everything that is sure, and what is not, apart."""

from collections import Counter
from collections.abc import Sequence

from fourlimb.model import Grid, MarkedBar, MarkedStroke, Sheet
from fourlimb.model.count import speak_in
from fourlimb.model.sounds import ORDER, SAY


def said(strokes: Sequence[MarkedStroke], grid: Grid, sure: float, told_ms: float) -> list[str]:
    """One line for each stroke of a bar that there is something to say of, in order."""
    from fourlimb.mark import struck

    lines = []
    for stroke in strokes:
        at, name = speak_in(grid, stroke.bar, stroke.position), SAY[stroke.piece]
        if stroke.verdict != "played" and stroke.confidence < sure:
            continue
        if stroke.verdict == "missed":
            lines.append(f"{at}: the {name} is missing")
        elif stroke.verdict == "extra":
            lines.append(f"{at}: {'an' if name[0] in 'aeiou' else 'a'} {name} is added")
        elif stroke.verdict == "other_piece" and stroke.played is not None:
            lines.append(f"{at}: {struck(stroke)} instead of the {name}")
        if stroke.late_ms is not None and abs(stroke.late_ms) > told_ms:
            lines.append(
                f"{at}: the {name} is {abs(stroke.late_ms):.0f} ms {'early' if stroke.late_ms < 0 else 'late'}"
            )
    return lines


def unsure(strokes: Sequence[MarkedStroke], sure: float) -> list[MarkedStroke]:
    """Written strokes that were not heard, and may have been played all the same."""
    return [s for s in strokes if s.verdict == "missed" and s.confidence < sure]


def unsure_said(strokes: Sequence[MarkedStroke]) -> str:
    """How many of which piece: "crash 3, snare 2"."""
    counts = Counter(stroke.piece for stroke in strokes)
    return ", ".join(
        f"{SAY[piece]} {n}" for piece, n in sorted(counts.items(), key=lambda pn: (-pn[1], ORDER[pn[0]]))
    )


SIGNS = {
    "clean": ("✓", "clean"),
    "none": ("—", "nothing was played"),
    "missing": ("○", "something is missing"),
    "added": ("+", "something is added"),
    "other": ("□", "struck on another piece"),
    "early": ("◂", "early"),
    "late": ("▸", "late"),
    "tacet": ("·", "no drums here"),
}
"""What a bar's sign is called: the sign, and its meaning."""


def sign_of(bar: MarkedBar, strokes: Sequence[MarkedStroke], sure: float) -> str:
    """The one sign of a bar, a key of `SIGNS`: what its sentence speaks of."""
    told = [stroke for stroke in strokes if stroke.confidence >= sure]
    written = [stroke for stroke in strokes if stroke.verdict != "extra"]
    if not bar.say:
        return "clean" if written else "tacet"
    if written and all(stroke.verdict == "missed" for stroke in written):
        return "none"
    for verdict, sign in (("missed", "missing"), ("other_piece", "other"), ("extra", "added")):
        if any(stroke.verdict == verdict for stroke in told):
            return sign
    off = max((s.late_ms for s in strokes if s.late_ms is not None), key=abs, default=0.0)
    return "early" if off < 0 else "late"


def road(sheet: Sheet, first: int, last: int) -> list[tuple[str, list[int]]]:
    """The bars from `first` to `last` by section: (name, bar numbers), bars outside all sections under ""."""
    rows: list[tuple[str, list[int]]] = []
    for number in (n for n in sheet.grid.numbers if first <= n <= last):
        name = next((s.name for s in sheet.sections if s.from_bar <= number <= s.to_bar), "")
        if rows and rows[-1][0] == name:
            rows[-1][1].append(number)
        else:
            rows.append((name, [number]))
    return rows

"""Lists of bars in words."""

from collections.abc import Iterable


def say_bars(bars: Iterable[int]) -> str:
    """[1, 2, 3, 8] -> "1–3, 8"."""
    bars = sorted(set(bars))
    spans = spans_of(bars)
    if spans and spans[0][0] == 0:
        rest = say_bars(b for b in bars if b) if any(bars) else ""
        return f"pickup, {rest}" if rest else "pickup"
    return ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in spans)


def spans_of(bars: Iterable[int]) -> list[tuple[int, int]]:
    """[1, 2, 3, 8] -> [(1, 3), (8, 8)]."""
    spans: list[tuple[int, int]] = []
    for bar in bars:
        if spans and bar == spans[-1][1] + 1:
            spans[-1] = spans[-1][0], bar
        else:
            spans.append((bar, bar))
    return spans

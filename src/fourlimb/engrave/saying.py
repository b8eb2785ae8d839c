"""Lists of bars in words."""

from collections.abc import Iterable


def say_bars(bars: Iterable[int]) -> str:
    """[1, 2, 3, 8] -> "1–3, 8"."""
    spans: list[list[int]] = []
    for bar in sorted(set(bars)):
        if spans and bar == spans[-1][1] + 1:
            spans[-1][1] = bar
        else:
            spans.append([bar, bar])
    return ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in spans)

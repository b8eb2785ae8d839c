"""Where the moving mark stands at every moment of a scene: on the stroke when the stroke sounds.

Every place of every played bar has its time (`Take.at`) and its x on a line; between two places the mark moves
evenly. At a line's end it goes on to the next line at once. Times come from the tempo map each time anew; nothing is
added up.
"""

from bisect import bisect_right
from collections.abc import Sequence

from .notation import Line
from .sounding import PlayedBar, Take


class Walk:
    """The way of the mark. `visits`: the lines in the order in which they are read."""

    def __init__(self, take: Take, lines: Sequence[Line]) -> None:
        self.visits: list[int] = []
        self._times: list[float] = []
        self._points: list[tuple[int, float]] = []
        home = {bar: number for number, line in enumerate(lines) for bar in line.places}
        before: PlayedBar | None = None
        for played in take.bars:
            line = home.get(played.bar)
            if line is None:
                continue
            turned = not self.visits or self.visits[-1] != line
            if before is not None and (turned or played.bar != before.bar + 1):
                self._end(before, lines[self.visits[-1]])
            if turned:
                self.visits.append(line)
            for position, x in lines[line].places[played.bar]:
                self._add(take.at(played, position), x)
            before = played
        if before is not None:
            self._end(before, lines[self.visits[-1]])
        self.end_s = before.end_s if before is not None else 0.0

    def _add(self, time_s: float, x: float) -> None:
        self._times.append(time_s)
        self._points.append((len(self.visits) - 1, x))

    def _end(self, played: PlayedBar, line: Line) -> None:
        self._add(played.end_s, line.right[played.bar])

    def at(self, time_s: float) -> tuple[int, float]:
        """Which visit, and x on its line in pixels. Before the first place it waits there, after the last too."""
        index = bisect_right(self._times, time_s) - 1
        if index < 0:
            return self._points[0]
        visit, x = self._points[index]
        if index + 1 == len(self._points):
            return visit, x
        after, to_x = self._points[index + 1]
        if after != visit or to_x < x:
            return visit, x
        start, end = self._times[index], self._times[index + 1]
        return visit, x + (to_x - x) * (time_s - start) / max(end - start, 1e-9)

"""Phrases: groups of bars told from earlier groups.

"Bars 9-12 are bars 1-4, but in bar 12 the kick on 4& moves to 4a." Songs are built in twos, fours and eights
(common in every drum method that teaches form); so each section is read from its start, and at each point the
longest group (8, 4, 2 bars) is taken that says in few words how it differs from one heard before. What is like
nothing yet is told by what repeats inside it ("bar 1, three times, then bar 4 ...").

Everything is data first: each bar of a phrase names the earlier bar it is told from and the changes, and applying
them gives the bar exactly. Groups are compared only where phrases begin, and two or four bars into one; a group
that is not an exact repeat is looked for only at whole fours (twos) from the start of its section.
"""

from collections.abc import Mapping, Sequence
from heapq import nsmallest
from typing import Final, NamedTuple

from fourlimb.model import Change, Chart, Grid, Section, Sound
from fourlimb.model.count import listing, say_span
from fourlimb.model.recent import Recent
from fourlimb.model.sounds import SAY

from .changes import compare
from .content import Content, contents
from .figures import find_figures, is_silent
from .lives import Lives
from .order import Bits, bits_of, distance
from .say import runs, times
from .tell import CLAUSES_MOST, clauses_of, describe, tail_of

SIZES: Final = (8, 4, 2)
"""Lengths of groups that are compared, in bars, longest first."""

NEWS_MOST: Final = {8: 4, 4: 3, 2: 1}
"""How many things may differ, by length in bars, for a group still to be told from another (ours)."""

NEW_BAR: Final = 2
"""A bar told by its ending or as new counts as this many things."""

_START_REACH: Final = 12
"""Enough of the latest starts to hold every group that a new phrase may have completed."""

TRIED: Final = 4
"""How many of the nearest earlier groups are tried in words."""


class BarTold(NamedTuple):
    """One bar, the earlier bar it is told from (None: from nothing), and what changes (all of it, from nothing)."""

    bar: int
    like: int | None
    changes: tuple[Change, ...]


class Phrase(NamedTuple):
    """A group of bars, the group it is told from (`like_from`: its first bar; None: new), and the sentence."""

    from_bar: int
    to_bar: int
    like_from: int | None
    say: str
    bars: tuple[BarTold, ...]


def phrases(
    chart: Chart, grid: Grid, sections: Sequence[Section] = (), *, names: Mapping[Sound, str] = SAY
) -> tuple[Phrase, ...]:
    """The whole song in phrases, in song order; every bar of the grid is in exactly one."""
    return _told.ask(lambda: _phrases(chart, grid, sections, names), chart, grid, tuple(sections), dict(names))


_told: Final[Recent[tuple[Phrase, ...]]] = Recent(2)


def _phrases(chart: Chart, grid: Grid, sections: Sequence[Section], names: Mapping[Sound, str]) -> tuple[Phrase, ...]:
    song = _Song(contents(chart, grid), names)
    found: list[Phrase] = []
    for span in _spans(grid.numbers, sections):
        mine: list[Phrase] = []
        at = 0
        cut = 0
        while at < len(span):
            phrase = song.take(span[at:], at - cut)
            mine.append(phrase)
            at += len(phrase.bars)
            if phrase.like_from is None and not song.content[phrase.to_bar].notes:
                cut = at
        found += song.merge(mine)
    return tuple(found)


class _Song:
    """What has been heard so far, and how bars differ."""

    def __init__(self, bars: Mapping[int, Content], names: Mapping[Sound, str]) -> None:
        figures = find_figures(bars)
        self.content = bars
        self.names = names
        self.figure = {bar: figure.name for figure in figures for bar in figure.bars}
        self.first = {figure.name: figure.first for figure in figures}
        self.bits: dict[str, Bits] = bits_of(figures, {figure.name: bars[figure.first] for figure in figures})
        self.life = Lives(bars).bars_with
        self.silent = {name for name in self.first if is_silent(name)}
        self.starts: list[int] = []
        self.heard: dict[int, dict[tuple[str, ...], int]] = {size: {} for size in SIZES}
        self.far: dict[tuple[str, str], int | None] = {}
        self.news: dict[tuple[str, str], tuple[tuple[str, ...], int]] = {}

    def take(self, ahead: Sequence[int], offset: int) -> Phrase:
        """The next phrase of the bars ahead, `offset` bars after the start of the section or the last silence."""
        silent = self._lead(ahead)
        if silent:
            return self._silence(ahead[:silent])
        ahead = ahead[: self._sounding(ahead)]
        for size in SIZES:
            group = ahead[:size]
            if len(group) == size:
                aligned = offset % min(size, 4) == 0
                phrase = self._uniform(group) or self._like(group, exact=not aligned)
                if phrase:
                    return self._known(phrase)
        group = ahead[: 4 - offset % 4]
        return self._known(self._uniform(group) or self._new(group))

    def merge(self, phrases: list[Phrase]) -> list[Phrase]:
        """Neighbours that repeat the same bars exactly become one: "bars 5-12 are bars 1-4, twice"."""
        merged: list[Phrase] = []
        for phrase in phrases:
            if merged and self._joins(merged[-1], phrase):
                last = merged.pop()
                merged.append(self._join(last, phrase))
            else:
                merged.append(phrase)
        return merged

    def _joins(self, a: Phrase, b: Phrase) -> bool:
        if a.like_from is None or a.like_from != b.like_from or any(told.changes for told in a.bars + b.bars):
            return False
        unit = len({told.like for told in a.bars})
        return unit == len({told.like for told in b.bars}) and len(b.bars) % unit == 0

    def _join(self, a: Phrase, b: Phrase) -> Phrase:
        bars = a.bars + b.bars
        start = a.like_from or 0
        unit = len({told.like for told in bars})
        source = say_span(start, start + unit - 1)
        count = len(bars) // unit
        return Phrase(
            a.from_bar, b.to_bar, start, f"{say_span(a.from_bar, b.to_bar)} are {source}, {times(count)}", bars
        )

    def _lead(self, ahead: Sequence[int]) -> int:
        """Length of a silence at the start: two bars or more, or all there is."""
        size = next((n for n, bar in enumerate(ahead) if self.content[bar].notes), len(ahead))
        return size if size >= 2 or size == len(ahead) else 0

    def _sounding(self, ahead: Sequence[int]) -> int:
        """Bars until a silence of two or more."""
        for n in range(1, len(ahead) - 1):
            if not self.content[ahead[n]].notes and not self.content[ahead[n + 1]].notes:
                return n
        return len(ahead)

    def _known(self, phrase: Phrase) -> Phrase:
        bars = range(phrase.from_bar, phrase.to_bar + 1)
        for offset in (0, 2, 4):
            if offset < len(bars):
                self.starts.append(phrase.from_bar + offset)
        for size, groups in self.heard.items():
            for start in self.starts[-_START_REACH:]:
                span = range(start, start + size)
                if span[-1] <= phrase.to_bar and all(bar in self.figure for bar in span):
                    groups.setdefault(tuple(self.figure[bar] for bar in span), start)
        return phrase

    def _silence(self, group: Sequence[int]) -> Phrase:
        verb = "is" if len(group) == 1 else "are"
        told = tuple(BarTold(bar, None, ()) for bar in group)
        return Phrase(group[0], group[-1], None, f"{say_span(group[0], group[-1])} {verb} silent", told)

    def _uniform(self, group: Sequence[int]) -> Phrase | None:
        """All bars are one figure met before: "bars 5-8 are bar 1, four times"."""
        names = {self.figure[bar] for bar in group}
        first = self.first[self.figure[group[0]]]
        if len(names) > 1 or first >= group[0] or not self.content[first].notes:
            return None
        told = tuple(BarTold(bar, first, ()) for bar in group)
        if len(group) == 1:
            say = f"{say_span(group[0], group[0])} is {say_span(first, first)} again"
        else:
            say = f"{say_span(group[0], group[-1])} are {say_span(first, first)}, {times(len(group))}"
        return Phrase(group[0], group[-1], first, say, told)

    def _like(self, group: Sequence[int], *, exact: bool) -> Phrase | None:
        """The earlier group that this one differs least from, if it can be told in few words."""
        size = len(group)
        mine = tuple(self.figure[bar] for bar in group)
        again = self.heard[size].get(mine)
        if again is not None or exact:
            return None if again is None else self._tell_like(again, group)
        ranked = []
        for theirs, start in self.heard[size].items():
            far = self._distance(theirs, mine)
            if far is not None:
                ranked.append((far, start))
        best: tuple[int, int] | None = None
        for _, start in nsmallest(TRIED, ranked):
            most = best[0] - 1 if best else NEWS_MOST[size]
            cost = self._cost(start, group, most)
            if cost <= most:
                best = cost, start
        return self._tell_like(best[1], group) if best else None

    def _distance(self, theirs: Sequence[str], mine: Sequence[str]) -> int | None:
        """Bars compared one by one; None where a silence or another meter stands against a bar."""
        total = 0
        for pair in zip(theirs, mine, strict=True):
            if pair[0] == pair[1]:
                continue
            if pair not in self.far:
                self.far[pair] = self._far(*pair)
            far = self.far[pair]
            if far is None:
                return None
            total += far
        return total

    def _far(self, there: str, here: str) -> int | None:
        a, b = self.bits[there], self.bits[here]
        return None if a.counted != b.counted or {there, here} & self.silent else distance(a, b)

    def _cost(self, start: int, group: Sequence[int], most: int) -> int:
        """Different things to say of the group, the same thing of many bars once; counting stops beyond `most`."""
        said: set[str] = set()
        endings: set[str] = set()
        for offset, bar in enumerate(group):
            texts, kind = self._news(start + offset, bar)
            (endings if kind else said).update(texts)
            if len(said) + NEW_BAR * len(endings) > most:
                break
        return len(said) + NEW_BAR * len(endings)

    def _news(self, old: int, new: int) -> tuple[tuple[str, ...], int]:
        """What is new in a bar: clauses (kind 0), or one text for its ending or the whole of it (kind 1)."""
        key = self.figure[old], self.figure[new]
        if key not in self.news:
            self.news[key] = self._find_news(self.content[old], self.content[new])
        return self.news[key]

    def _find_news(self, before: Content, after: Content) -> tuple[tuple[str, ...], int]:
        changes = compare(before, after)
        clauses = clauses_of(before, after, changes, life=self.life, names=self.names)
        if len(clauses) <= 2:
            return tuple(clause.text for clause in clauses), 0
        tail = tail_of(before, after, changes, names=self.names)
        if tail and len(tail[1]) <= CLAUSES_MOST:
            return (f"from beat {tail[0]}: {'; '.join(tail[1])}",), 1
        return (f" is new: {'; '.join(describe(after, names=self.names))}",), 1

    def _tell_like(self, start: int, group: Sequence[int]) -> Phrase:
        told: list[BarTold] = []
        where: dict[str, list[int]] = {}
        for offset, bar in enumerate(group):
            texts, ending = self._news(start + offset, bar)
            source = start + offset
            if ending:
                better = self._better(bar, texts[0])
                source, texts = better if better else (source, texts)
            told.append(BarTold(bar, source, self._changes(source, bar)))
            for text in texts:
                where.setdefault(text, []).append(bar)
        parts = [f"{self._which(bars, group, text)}{_number_of(bars, group, text)}" for text, bars in where.items()]
        here, there = say_span(group[0], group[-1]), say_span(start, start + len(group) - 1)
        say = f"{here} are {there}, but {'; '.join(parts)}" if parts else f"{here} are {there} again"
        return Phrase(group[0], group[-1], start, say, tuple(told))

    def _better(self, bar: int, said: str) -> tuple[int, tuple[str, ...]] | None:
        """A bar that ends unlike its counterpart may be nearly some other bar: that one, and how to say it."""
        ending: tuple[int, tuple[str, ...]] | None = None
        for source in self._nearest(bar, self.first[self.figure[bar]]):
            texts, kind = self._news(source, bar)
            told = f" is as {say_span(source, source)}"
            if not kind:
                return source, (f"{told}{', only ' if texts else ''}{'; '.join(texts)}",)
            if ending is None and said.startswith(" is new") and not texts[0].startswith(" is new"):
                ending = source, (f"{told}, {texts[0]}",)
        return ending

    def _which(self, bars: Sequence[int], group: Sequence[int], text: str) -> str:
        if len(bars) == len(group):
            which = "every bar" if len(group) > 2 else "both bars"
        elif len(bars) == 1:
            which = f"bar {bars[0]}"
        else:
            which = f"bars {listing([_dash(*run) for run in runs(bars)])}"
        return which if text.startswith(" is ") else f"in {which} "

    def _new(self, group: Sequence[int]) -> Phrase:
        """Like nothing before: what repeats inside it, each new bar told from the nearest bar already said."""
        told: list[BarTold] = []
        parts: list[str] = []
        for first, last in _stretches(group, self.figure):
            source, text = self._tell_bar(first, group[0])
            changes = self._changes(source, first)
            told += [
                BarTold(bar, source if bar == first else first, changes if bar == first else ())
                for bar in range(first, last + 1)
            ]
            count = last - first + 1
            parts.append(text if count == 1 else f"{text}, {times(count)}")
        here = say_span(group[0], group[-1])
        said = ", then ".join(parts)
        if len(group) == 1 and said.startswith(f"{here} ("):  # "bar 25: hat on 1", not "bar 25: bar 25 (hat on 1)"
            said = said.removeprefix(f"{here} (").removesuffix(")")
        return Phrase(group[0], group[-1], None, f"{here}: {said}", tuple(told))

    def _changes(self, source: int | None, bar: int) -> tuple[Change, ...]:
        content = self.content[bar]
        return compare(self.content[source] if source is not None else content.empty, content)

    def _tell_bar(self, bar: int, start: int) -> tuple[int | None, str]:
        """How a bar inside a new phrase is said, and the earlier bar it is told from."""
        content = self.content[bar]
        first = self.first[self.figure[bar]]
        if not content.notes:
            return None, f"{say_span(bar, bar)} silent"
        if first < bar:
            return first, say_span(first, first) if first < start else f"{say_span(first, first)} again"
        for source in self._nearest(bar, bar)[:1]:
            texts, kind = self._news(source, bar)
            if not (kind and texts[0].startswith(" is new")):
                joint = ", " if kind else ", but "
                return source, f"{say_span(bar, bar)} (as {say_span(source, source)}{joint}{'; '.join(texts)})"
        return None, f"{say_span(bar, bar)} ({'; '.join(describe(content, names=self.names))})"

    def _nearest(self, bar: int, before: int) -> list[int]:
        """The bars nearest to this one among the first bars of figures met up to bar `before`, nearest first."""
        here = self.bits[self.figure[bar]]
        known = [
            (distance(self.bits[name], here), first)
            for name, first in self.first.items()
            if first <= before and first < bar and not is_silent(name) and self.bits[name].counted == here.counted
        ]
        return [first for _, first in nsmallest(TRIED, known)]


def _dash(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first}-{last}"


def _stretches(group: Sequence[int], figure: Mapping[int, str]) -> list[tuple[int, int]]:
    """Runs of the same figure inside a group: (first bar, last bar)."""
    found: list[tuple[int, int]] = []
    for bar in group:
        if found and figure[found[-1][0]] == figure[bar]:
            found[-1] = found[-1][0], bar
        else:
            found.append((bar, bar))
    return found


def _spans(bars: Sequence[int], sections: Sequence[Section]) -> list[tuple[int, ...]]:
    """The bars cut at section starts; the pickup stands alone."""
    cuts = {section.from_bar for section in sections} | {section.to_bar + 1 for section in sections} | {1}
    spans: list[list[int]] = []
    for bar in bars:
        if not spans or bar in cuts:
            spans.append([])
        spans[-1].append(bar)
    return [tuple(span) for span in spans]


def _number_of(bars: Sequence[int], group: Sequence[int], text: str) -> str:
    """What is said of bars, "is" or "are": bar 4 is, both bars are, every bar is, bars 5-8 are."""
    every = len(bars) == len(group) > 2
    return text if len(bars) == 1 or every or not text.startswith(" is ") else f" are{text.removeprefix(' is')}"

"""A song's bars -> the bars that must be written, with the repeat bar lines, endings and jumps that play the rest.

Pure: bars are keys (anything that can be compared), and the one promise is that reading the marks as a player does
gives the keys back: `[keys[form.written[n]] for n in played(form.marks)] == keys`. Every form is held against that
promise before it is returned; one that fails it is not used.

Method: at most one jump (D.S. or D.C., al Coda or al Fine) from one section's start back to another's; then repeats
by dynamic programming over what is still written, fewest written bars first. A passage that is repeated begins where
a section or a phrase of four bars begins, so that the eye finds it; it may end in first and second endings. What
saves little is written out: a page without turns to and fro is easier to teach from. Meaning of the marks as in
MusicXML 4.0: repeats are not played again after a jump unless `Mark.again` says so.

Cannot do: repeats inside repeats, more than one jump, codas that are played both times.
"""

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Final, Literal

LEAST_SAVED: Final = 4
"""Bars that a repeat must save (ours)."""

LEAST_JUMP: Final = 8
"""Bars that a jump must save (ours: two turns of the eye for less than a phrase are no help)."""

PHRASE: Final = 4
"""Bars of a phrase: where a repeat may begin, counted from its section's first bar, and its least length."""

LONGEST: Final = 64
"""Longest passage that is repeated."""

MOST_ENDING: Final = 4
"""Longest ending."""

Jump = Literal["", "D.S.", "D.C."]


@dataclass(frozen=True)
class Mark:
    """What stands at one written bar; "start" signs before it, the others after it.

    `end`: times that the passage up to here is played in all (0: no repeat sign). `ending`: the passes on which this
    bar is played (none: all). `al_coda`: the jump leads to the coda, not to the
    fine; `again`: repeats are played again after it.
    """

    start: bool = False
    end: int = 0
    ending: tuple[int, ...] = ()
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    jump: Jump = ""
    al_coda: bool = False
    again: bool = False

    @property
    def begins(self) -> bool:
        """True when something stands before the bar that the eye must find."""
        return self.start or self.segno or self.coda

    @property
    def ends(self) -> bool:
        """True when something stands after the bar."""
        return bool(self.end or self.to_coda or self.fine or self.jump)


PLAIN: Final = Mark()


@dataclass(frozen=True)
class Form:
    """`written`: which bar of the song (from 0) each written bar is, increasing; `marks`: what stands at each."""

    written: tuple[int, ...]
    marks: tuple[Mark, ...]

    @cached_property
    def passes(self) -> tuple[tuple[int, ...], ...]:
        """For each written bar, the bars of the song that it is played as."""
        found: list[list[int]] = [[] for _ in self.written]
        for bar, place in enumerate(played(self.marks)):
            found[place].append(bar)
        return tuple(tuple(bars) for bars in found)


def fold(
    keys: Sequence[Hashable], starts: Sequence[int], allowed: Callable[[Form], bool] = lambda form: True
) -> Form:
    """The shortest form of a song that is `allowed`.

    `starts`: bars where sections begin; nothing before the first of them returns.
    """
    whole = Form(tuple(range(len(keys))), (PLAIN,) * len(keys))
    edges = [*sorted({s for s in starts if 0 <= s < len(keys)}), len(keys)]
    if len(edges) < 2:
        return whole
    number = {key: n for n, key in enumerate(dict.fromkeys(keys))}
    best = whole
    for form in _forms(_Song([number[key] for key in keys], edges)):
        if len(form.written) < len(best.written) and _true(form, keys) and allowed(form):
            best = form
    return best


def _true(form: Form, keys: Sequence[Hashable]) -> bool:
    """True when the marks, read as a player reads them, give the song."""
    return [keys[form.written[place]] for place in played(form.marks)] == list(keys)


def played(marks: Sequence[Mark]) -> tuple[int, ...]:
    """The written bars in the order in which they are played."""
    order: list[int] = []
    last = _last_passes(marks)
    at, start, turn, jumped, again = 0, 0, 1, False, True
    while at < len(marks) and len(order) < 64 * len(marks):
        mark = marks[at]
        if mark.start and start != at:
            start, turn = at, 1
        if mark.ending and (turn if again else last[at]) not in mark.ending:
            at += 1
            continue
        order.append(at)
        if again and turn < mark.end:
            at, turn = start, turn + 1
        elif jumped and mark.to_coda:
            at, turn, again = _first(marks, "coda"), 1, True
            start = at
        elif jumped and mark.fine:
            break
        elif mark.jump and not jumped:
            jumped, again, turn = True, mark.again, 1
            at = start = _first(marks, "segno") if mark.jump == "D.S." else 0
        else:
            at += 1
    return tuple(order)


def _last_passes(marks: Sequence[Mark]) -> list[int]:
    """For each bar with an ending, the last pass of its passage: the ending that is played without repeats."""
    found = [0] * len(marks)
    group: list[int] = []
    for place, mark in enumerate([*marks, PLAIN]):
        if mark.ending:
            group.append(place)
            continue
        for member in group:
            found[member] = max(max(marks[n].ending) for n in group)
        group = []
    return found


def _first(marks: Sequence[Mark], sign: str) -> int:
    return next((n for n, mark in enumerate(marks) if getattr(mark, sign)), len(marks))


class _Song:
    """Bars by number (equal bars have equal ones), with what is asked of them again and again.

    `edges`: where sections begin, and the end. `equal[p][n]`: how many bars from n on equal the bars p after them.
    `steady[n]`: how many bars from n on are one and the same. `next_edge[n]`: the first edge at n or after it.
    """

    def __init__(self, keys: Sequence[int], edges: Sequence[int]) -> None:
        self.keys, self.edges = keys, edges
        count = len(keys)
        self.equal = {p: _run(keys, p) for p in range(PHRASE, min(LONGEST, count // 2) + 1)}
        self.steady = [run + 1 for run in _run(keys, 1)]
        self.next_edge = [count] * (count + 1)
        marked = set(edges)
        for n in range(count - 1, -1, -1):
            self.next_edge[n] = n if n in marked else self.next_edge[n + 1]
        self.phrases = {n for a, b in pairwise(edges) for n in range(a, b, PHRASE)}


def _run(keys: Sequence[int], p: int) -> list[int]:
    run = [0] * (len(keys) + 1)
    for n in range(len(keys) - p - 1, -1, -1):
        run[n] = run[n + 1] + 1 if keys[n] == keys[n + p] else 0
    return run


def _forms(song: _Song) -> Iterator[Form]:
    """Forms to choose from: without a jump, then with each jump that may help, the longest first."""
    yield _repeated(song, ())
    edges = song.edges[:-1]
    jumps = [(s, e, length) for e in edges for s in edges if s < e for length in _returns(song, s, e)]
    for s, e, length in sorted(jumps, key=lambda jump: (-jump[2], jump[:2]))[:MOST_JUMPS]:
        short = _repeated(song, (e, e + length))
        for again in (False, True):
            jumped = _with_jump(short, s, e, length, len(song.keys), again)
            if jumped is not None:
                yield jumped


MOST_JUMPS: Final = 12
"""Jumps that are tried, those that save most first."""


def _returns(song: _Song, s: int, e: int) -> Iterator[int]:
    """Lengths of what is played from `e` as it was from `s`, up to a section's end, with something left between."""
    keys = song.keys
    for end in song.edges:
        length = end - e
        if length >= LEAST_JUMP and s + length < e and keys[s : s + length] == keys[e:end]:
            yield length


def _with_jump(form: Form, s: int, e: int, length: int, total: int, again: bool) -> Form | None:
    """A form without bars `e` to `e + length`, with the signs that bring them; None where they have no place."""
    at = dict(zip([*range(e), *range(e + length, total)], played(form.marks), strict=True))
    marks = list(form.marks)
    sign, last, leave = at[s], at[s + length - 1], at[e - 1]
    inside = _inside(marks)
    if {sign, last + 1, leave + 1} & inside:
        return None
    from_start = s == 0
    if not from_start:
        marks[sign] = replace(marks[sign], segno=True)
    marks[leave] = replace(
        marks[leave], jump="D.C." if from_start else "D.S.", al_coda=e + length < total, again=again
    )
    if e + length < total:
        marks[last] = replace(marks[last], to_coda=True)
        marks[at[e + length]] = replace(marks[at[e + length]], coda=True)
    else:
        marks[last] = replace(marks[last], fine=True)
    return Form(form.written, tuple(marks))


def _inside(marks: Sequence[Mark]) -> set[int]:
    """Places in a repeated passage but not at its head: no sign may send the eye there."""
    found: set[int] = set()
    opened = False
    for place, mark in enumerate(marks):
        if mark.ending or (opened and not mark.start):
            found.add(place)
        opened = (opened or mark.start) and not mark.end and not mark.ending
    return found


@dataclass(frozen=True)
class _Block:
    """A repeated passage: `common` bars, then `first` (its endings but the last) and `last` (the last one)."""

    times: int
    common: int
    first: int = 0
    last: int = 0

    @property
    def covers(self) -> int:
        """Bars of the song."""
        return self.times * self.common + (self.times - 1) * self.first + self.last

    @property
    def takes(self) -> int:
        """Bars on paper."""
        return self.common + self.first + self.last


def _repeated(song: _Song, left_out: tuple[int, ...]) -> Form:
    """The song without `left_out` (from, to), repeats folded: fewest written bars, then fewest repeats."""
    begin, close = song.edges[0], song.edges[-1]
    stretches = [(begin, left_out[0]), (left_out[1], close)] if left_out else [(begin, close)]
    written, marks = list(range(begin)), [PLAIN] * begin
    for start, end in stretches:
        at = start
        for block in _shortest(song, start, end):
            written += [at] if block is None else _written(block, at)
            marks += [PLAIN] if block is None else _marks(block)
            at += 1 if block is None else block.covers
    return Form(tuple(written), tuple(marks))


def _shortest(song: _Song, start: int, end: int) -> list[_Block | None]:
    """The stretch as bars (None) and blocks, by dynamic programming from its end."""
    best: dict[int, tuple[int, int, _Block | None]] = {end: (0, 0, None)}
    for at in range(end - 1, start - 1, -1):
        choice: tuple[int, int, _Block | None] = best[at + 1][0] + 1, best[at + 1][1], None
        for block in _blocks(song, at, end) if at in song.phrases else ():
            after = best[at + block.covers]
            found = after[0] + block.takes, after[1] + 1, block
            if found[:2] < choice[:2]:
                choice = found
        best[at] = choice
    out: list[_Block | None] = []
    at = start
    while at < end:
        chosen = best[at][2]
        out.append(chosen)
        at += 1 if chosen is None else chosen.covers
    return out


def _blocks(song: _Song, at: int, end: int) -> Iterator[_Block]:
    """Repeats that may begin at a bar: plain ones, and those with two endings or more."""
    for p, run in song.equal.items():
        if at + 2 * p > end:
            break
        alike = min(run[at], end - at - p)
        if at + p not in song.phrases or alike < PHRASE - 1:
            continue
        if song.steady[at] >= p and song.next_edge[at + 1] > at + p:  # a run of one bar has its own sign
            continue
        for times in range(2, alike // p + 2):
            here = at + times * p
            if (here in song.phrases or here == end) and (times - 1) * p >= LEAST_SAVED:
                yield _Block(times, p)
        block = _with_endings(song, at, end, p, alike)
        if block is not None:
            yield block


def _with_endings(song: _Song, at: int, end: int, p: int, alike: int) -> _Block | None:
    """The passage of `p` bars that ends otherwise the last time, in the shortest endings, inside one section."""
    whole = alike // p  # passes that return whole before the one that ends otherwise
    close = at + (whole + 2) * p
    if close > end or not (close in song.phrases or close == end):
        return None
    for ending in range(1, MOST_ENDING + 1):
        common = p - ending
        if not whole * p <= alike - common < (whole + 1) * p or common < max(PHRASE - 1, ending):
            continue
        block = _Block(whole + 2, common, ending, ending)
        free = song.next_edge[at + common] >= at + p and song.next_edge[close - ending] >= close
        if free and block.covers - block.takes >= PHRASE - 1:
            return block
    return None


def _written(block: _Block, at: int) -> list[int]:
    """Bars of the song that are written: the first pass, then the last ending."""
    first = list(range(at, at + block.common + block.first))
    return [*first, *range(at + block.covers - block.last, at + block.covers)]


def _marks(block: _Block) -> list[Mark]:
    marks = [PLAIN] * block.common
    before_last = tuple(range(1, block.times))
    marks += [Mark(ending=before_last)] * block.first + [Mark(ending=(block.times,))] * block.last
    marks[0] = replace(marks[0], start=True)
    close = block.common + block.first - 1
    marks[close] = replace(marks[close], end=block.times)
    return marks

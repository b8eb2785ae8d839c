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
    best = whole
    for form in _forms(keys, edges):
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


def _forms(keys: Sequence[Hashable], edges: Sequence[int]) -> Iterator[Form]:
    """Forms to choose from: without a jump, then with each jump that may help, the longest first."""
    equal = _runs(keys)
    yield _repeated(keys, edges, equal, ())
    jumps = [
        (s, e, length) for e in edges[:-1] for s in edges[:-1] if s < e for length in _returns(keys, edges, s, e)
    ]
    for s, e, length in sorted(jumps, key=lambda jump: (-jump[2], jump[:2]))[:MOST_JUMPS]:
        short = _repeated(keys, edges, equal, (e, e + length))
        for again in (False, True):
            jumped = _with_jump(short, s, e, length, len(keys), again)
            if jumped is not None:
                yield jumped


MOST_JUMPS: Final = 12
"""Jumps that are tried, those that save most first."""


def _returns(keys: Sequence[Hashable], edges: Sequence[int], s: int, e: int) -> Iterator[int]:
    """Lengths of what is played from `e` as it was from `s`, up to a section's end, with something left between."""
    for end in edges:
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


def _runs(keys: Sequence[Hashable]) -> dict[int, list[int]]:
    """For each distance p, how many bars from each on equal the bars p after them."""
    number = {key: n for n, key in enumerate(dict.fromkeys(keys))}
    named = [number[key] for key in keys]
    found: dict[int, list[int]] = {}
    for p in range(PHRASE, min(LONGEST, len(named) // 2) + 1):
        run = [0] * (len(named) + 1)
        for n in range(len(named) - p - 1, -1, -1):
            run[n] = run[n + 1] + 1 if named[n] == named[n + p] else 0
        found[p] = run
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


def _repeated(
    keys: Sequence[Hashable], edges: Sequence[int], equal: dict[int, list[int]], left_out: tuple[int, ...]
) -> Form:
    """The song without `left_out` (from, to), repeats folded: fewest written bars, then fewest repeats."""
    stretches = [(edges[0], edges[-1])]
    if left_out:
        stretches = [(edges[0], left_out[0]), (left_out[1], edges[-1])]
    written, marks = list(range(edges[0])), [PLAIN] * edges[0]
    for start, end in stretches:
        at = start
        for block in _shortest(keys, edges, equal, start, end):
            written += [at] if block is None else _written(block, at)
            marks += [PLAIN] if block is None else _marks(block)
            at += 1 if block is None else block.covers
    return Form(tuple(written), tuple(marks))


def _shortest(
    keys: Sequence[Hashable], edges: Sequence[int], equal: dict[int, list[int]], start: int, end: int
) -> list[_Block | None]:
    """The stretch as bars (None) and blocks, by dynamic programming from its end."""
    phrases = {n for a, b in pairwise(edges) for n in range(a, b, PHRASE)} | {end}
    best: dict[int, tuple[int, int, _Block | None]] = {end: (0, 0, None)}
    for at in range(end - 1, start - 1, -1):
        found = best[at + 1][0] + 1, best[at + 1][1], None
        choices: list[tuple[int, int, _Block | None]] = [found]
        if at in phrases:
            for block in _blocks(keys, equal, at, end, phrases, set(edges)):
                after = best[at + block.covers]
                choices.append((after[0] + block.takes, after[1] + 1, block))
        best[at] = min(choices, key=lambda choice: choice[:2])
    out: list[_Block | None] = []
    at = start
    while at < end:
        chosen = best[at][2]
        out.append(chosen)
        at += 1 if chosen is None else chosen.covers
    return out


def _blocks(
    keys: Sequence[Hashable], equal: dict[int, list[int]], at: int, end: int, phrases: set[int], edges: set[int]
) -> Iterator[_Block]:
    """Repeats that may begin at a bar: plain ones, and those with two endings or more."""
    for p, run in equal.items():
        if at + 2 * p > end:
            break
        alike = min(run[at], end - at - p)
        dull = len(set(keys[at : at + p])) == 1 and not edges & set(range(at + 1, at + p + 1))
        if at + p not in phrases or dull:  # a run of one bar has its own sign
            continue
        for times in range(2, alike // p + 2):
            if at + times * p in phrases and (times - 1) * p >= LEAST_SAVED:
                yield _Block(times, p)
        whole = alike // p  # passes that return whole before one that ends otherwise
        for ending in range(1, MOST_ENDING + 1):
            common = p - ending
            fits = whole * p <= alike - common < (whole + 1) * p and at + (whole + 2) * p <= end
            block = _Block(whole + 2, common, ending, ending)
            worth = common >= max(PHRASE - 1, ending) and block.covers - block.takes >= PHRASE - 1
            ends = {*range(at + common, at + p), *range(at + block.covers - ending, at + block.covers)}
            if fits and worth and not edges & ends and at + block.covers in phrases:
                yield block
                break


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

"""Figures as families: a groove, and the bars that are told from it with little new.

A teacher teaches a groove and then names what is different here and there. So a figure that comes more than once and
is new, or much changed, heads a family; every other one is a line under the figure it is told from. Fills, and bars
that are like nothing else, stand apart. The family that fills most of the song comes first, but none before the one
it is told from (ours, after the order of a first lesson: most common bar first, then the bar that differs least).
"""

from collections.abc import Mapping
from typing import Final, NamedTuple

from fourlimb.model import Difference, Figure, Sheet

from .cues import LITTLE_MOST, is_fill
from .figures import is_silent


class Family(NamedTuple):
    """A groove and its variants, most frequent first, but none before the bar it is told from."""

    head: Figure
    variants: tuple[Figure, ...]

    @property
    def bars(self) -> int:
        """Bars of the song that the family fills."""
        return sum(len(figure.bars) for figure in (self.head, *self.variants))


class Families(NamedTuple):
    """All figures that sound: grooves with their variants, fills, and single bars like no other."""

    grooves: tuple[Family, ...]
    fills: tuple[Figure, ...]
    alone: tuple[Figure, ...]


def families(sheet: Sheet) -> Families:
    """Every sounding figure of a plan in exactly one place."""
    by_name = {figure.name: figure for figure in sheet.plan.figures}
    told = {difference.to: difference for difference in sheet.plan.differences}
    order = [by_name[step.figure] for step in sheet.plan.running_order if not is_silent(step.figure)]
    parents = {told[figure.name].from_ for figure in order}
    fills = [f for f in order if is_fill(sheet, f.first) and f.name not in parents]
    alone = [f for f in order if f not in fills and _alone(f, told[f.name], parents)]
    rest = [f for f in order if f not in fills and f not in alone]
    heads = {f.name: f for f in rest if _heads(f, told[f.name])}
    members: dict[str, list[Figure]] = {name: [] for name in heads}
    for figure in rest:
        if figure.name not in heads:
            members[_root(figure.name, told, heads)].append(figure)
    made = [Family(head, _known_first(head, members[name], told)) for name, head in heads.items()]
    return Families(tuple(_important_first(made, told, heads)), tuple(fills), tuple(sorted(alone, key=_frequent)))


SINGLE: Final = 1
"""Bars of a figure that comes once."""


def _alone(figure: Figure, difference: Difference, parents: set[str]) -> bool:
    return not difference.from_ and len(figure.bars) == SINGLE and figure.name not in parents


def _heads(figure: Figure, difference: Difference) -> bool:
    return not difference.from_ or (len(figure.bars) > SINGLE and len(difference.changes) > LITTLE_MOST)


def _root(name: str, told: Mapping[str, Difference], heads: Mapping[str, Figure]) -> str:
    while name not in heads:
        name = told[name].from_
    return name


def _frequent(figure: Figure) -> tuple[int, int]:
    return -len(figure.bars), figure.first


def _known_first(head: Figure, members: list[Figure], told: Mapping[str, Difference]) -> tuple[Figure, ...]:
    """Most frequent next, among those told from the groove or from a line above."""
    out: list[Figure] = []
    known, waiting = {head.name}, sorted(members, key=_frequent)
    while waiting:
        taken = next(figure for figure in waiting if told[figure.name].from_ in known)
        out.append(taken)
        known.add(taken.name)
        waiting.remove(taken)
    return tuple(out)


def _important_first(made: list[Family], told: Mapping[str, Difference], heads: Mapping[str, Figure]) -> list[Family]:
    """Largest family next, among those whose parent has been taught (ties: running order)."""
    out: list[Family] = []
    known: set[str] = set()
    waiting = list(made)
    while waiting:
        ready = [f for f in waiting if not (up := told[f.head.name].from_) or _root(up, told, heads) in known]
        taken = max(ready, key=lambda family: family.bars)
        out.append(taken)
        known.add(taken.head.name)
        waiting.remove(taken)
    return out

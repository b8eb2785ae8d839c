"""Everything said of one chart: figures, differences, running order, count lines.

Conventions: figures are named in song order, whatever order they are taught in. Every figure but a silent one has
exactly one difference, told from the known figure that takes the fewest clauses; told from nothing ("new: ...") when
none is near, its `from` is "" and its changes add every stroke to an empty bar.

What it cannot do: see a figure longer than a bar (see `phrases`), or know what a student already plays.
"""

from collections.abc import Mapping, Sequence
from typing import Final

from fourlimb.model import LEVELS, Change, Chart, Difference, Figure, Grid, Introduction, Kit, Plan, Sound
from fourlimb.model.count import say_span
from fourlimb.model.recent import Recent

from .changes import compare
from .content import Content, contents
from .count import count_lines
from .figures import find_figures, is_silent
from .lives import Lives
from .order import Order, Step, order_figures
from .say import piece_names, runs
from .tell import Telling, tell, tell_new


def plan(
    chart: Chart,
    grid: Grid,
    kit: Kit,
    *,
    tradition: str = "num-en",
    order: Order = "least new first",
) -> Plan:
    """Figures, differences, running order and counts of a chart.

    `tradition` is an id of `count.TRADITIONS`; `order` "song" or "least new first"; `kit` brings the teacher's own
    names for pieces. Raises InputError for a tradition that is not in the table.
    """
    return _plans.ask(lambda: _plan(chart, grid, kit, tradition, order), chart.strokes, grid, kit, tradition, order)


_plans: Final[Recent[Plan]] = Recent(len(LEVELS))


def _plan(chart: Chart, grid: Grid, kit: Kit, tradition: str, order: Order) -> Plan:
    bars = contents(chart, grid)
    figures = find_figures(bars)
    by_name = {figure.name: bars[figure.first] for figure in figures}
    lives = Lives(bars)
    names = piece_names(kit)
    differences: list[Difference] = []
    running: list[Introduction] = []
    for step in order_figures(figures, by_name, order):
        if is_silent(step.figure.name):
            running.append(Introduction(figure=step.figure.name))
            continue
        difference = _difference(step, by_name, lives, names)
        differences.append(difference)
        running.append(Introduction(figure=step.figure.name, by=difference.from_ or None))
    return Plan(
        figures=figures,
        differences=tuple(differences),
        running_order=tuple(running),
        counts=count_lines(bars, tradition),
    )


def known_as(figure: Figure) -> str:
    """What a figure is called when another is told from it: its first stretch of bars, "bars 1-4"."""
    return say_span(*runs(figure.bars)[0])


def _difference(step: Step, content: Mapping[str, Content], lives: Lives, names: Mapping[Sound, str]) -> Difference:
    """The shortest telling among the nearest known figures."""
    after = content[step.figure.name]
    best: tuple[Telling, Figure, tuple[Change, ...]] | None = None
    for known in step.near:
        changes = compare(content[known.name], after)
        telling = tell(content[known.name], after, changes, known_as(known), life=lives.bars_with, names=names)
        if not telling.new and (best is None or _cost(telling, changes) < _cost(best[0], best[2])):
            best = telling, known, changes
    new = tell_new(after, names=names)
    if best is None or _worth_new(best[0], new):
        return _from_nothing(step.figure, after, new)
    telling, known, changes = best
    return Difference(from_=known.name, to=step.figure.name, say=telling.say, changes=changes)


def _cost(telling: Telling, changes: Sequence[Change]) -> tuple[int, int]:
    return telling.clauses, len(changes)


def _worth_new(telling: Telling, new: Telling) -> bool:
    """A bar that its own description tells in fewer clauses, or in as many far shorter ones, is told as new."""
    far_shorter = new.clauses == telling.clauses and FAR_LONGER * len(new.say) < len(telling.say)
    return new.clauses < telling.clauses or far_shorter


FAR_LONGER: Final = 2.5
"""How much longer a bar may be told from a known one than by itself, in as many clauses (ours)."""


def _from_nothing(figure: Figure, after: Content, new: Telling) -> Difference:
    changes = compare(after.empty, after)
    return Difference(from_="", to=figure.name, say=new.say, changes=changes)

"""The cue sheet: what to say and what to play, in running order, with bars and seconds of the song.

Order of a lesson as teachers give it: hear the whole song with the form in hand; then bar by bar in running order,
said before it is played, slowly until it is clean, then at the song's own tempo; joined to its neighbours as soon
as a phrase has nothing new left in it; every fill with the bar before and the landing; at the end along with the
recording, slowed, then at tempo. What is said of a bar is its difference; what is counted is its count line.

A cue sheet is an offer: a teacher skips lines. It knows nothing of the student.
"""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import pairwise
from typing import Final, Literal, NamedTuple

from fourlimb.model import Difference, Figure, Sheet, Sound, Stroke
from fourlimb.model.count import listing, say_span
from fourlimb.model.sounds import CYMBALS, FOOT, TOMS
from fourlimb.model.tempo import tempo_said

from .cautions import caution
from .figures import is_silent
from .ladder import LADDER, count_in_words, ladder
from .landmarks import landmark_words
from .phrases import Phrase, phrases
from .say import number, piece_names, runs, say_bars, say_places

What = Literal["listen", "say", "play", "land", "join", "along"]

LITTLE_MOST: Final = 2
"""A bar played once with no more changes than this is said, and practised in its phrase only (ours)."""

FILL_LEAST: Final = 4
"""Strokes on snare and toms in the second half of a bar from which it is called a fill (ours)."""

FILL_RETURNS: Final = 4
"""Bars after which a fill may come again; what returns sooner is a groove (ours)."""


class Cue(NamedTuple):
    """One line of the cue sheet.

    Seconds are of the song; `tempo_bpm` is where playing starts, in felt beats a minute.
    """

    n: int
    what: What
    from_bar: int
    to_bar: int
    from_s: float
    to_s: float
    tempo_bpm: int
    say: str
    play: str


class _Line(NamedTuple):
    what: What
    span: tuple[int, int]
    say: str
    play: str
    slow: bool = False


def cue_sheet(sheet: Sheet) -> tuple[Cue, ...]:
    """Every cue for one chart, in running order; none for a song without bars."""
    if not sheet.grid.bars:
        return ()
    lines = [*_opening(sheet), *_figures(sheet), *_closing(sheet)]
    return tuple(_cue(sheet, n, line) for n, line in enumerate(lines, start=1))


def goal_bpm(sheet: Sheet, bar: int) -> int:
    """The song's own tempo in a bar as the chart says it, felt beats a minute."""
    return max(round(tempo_said(sheet.grid, bar)), 1)


def is_fill(sheet: Sheet, bar: int) -> bool:
    """A bar played now and then, with toms or a run of hand strokes towards its end that do not go on after it."""
    name = sheet.chart.figure_of.get(bar) or _figure_names(sheet).get(bar, "")
    figure = next((one for one in sheet.plan.figures if one.name == name), None)
    if figure is None or not sheet.grid.has(bar + 1):
        return False
    if any(after - before < FILL_RETURNS for before, after in pairwise(figure.bars)):
        return False
    half = sheet.grid.length(bar) / 2
    strokes = sheet.chart.by_bar.get(bar, ())
    going_on = {(s.position, s.piece) for s in sheet.chart.by_bar.get(bar + 1, ())}
    late = [s for s in strokes if s.position >= half and (s.piece in TOMS or s.piece == "snare") and not s.ghost]
    if 2 * sum((s.position, s.piece) in going_on for s in late) > len(late):
        return False
    rolled = any(s.rolls and s.lasts >= sheet.grid.length(bar) / 4 for s in strokes)
    return rolled or len(late) >= FILL_LEAST or sum(s.piece in TOMS for s in late) >= 2


def landing_words(sheet: Sheet, bar: int) -> str:
    """Where a fill lands: "crash and kick on 1 of bar 9"; "silence on 1 of bar 9" when nothing is struck there."""
    strokes = [s for s in sheet.chart.by_bar.get(bar + 1, ()) if s.position == Fraction(0)]
    names = piece_names(sheet.kit)
    struck = listing([_landed(stroke, names) for stroke in sorted(strokes, key=_landing_order)]) or "silence"
    return f"{struck} on 1 of bar {bar + 1}"


def _landed(stroke: Stroke, names: Mapping[Sound, str]) -> str:
    word = f"second {names[stroke.piece]}" if stroke.second else names[stroke.piece]
    if stroke.rolls:
        return f"{word} roll"
    return {"choke": f"choked {word}", "let_ring": f"ringing {word}"}.get(stroke.struck or "", word)


def _landing_order(stroke: Stroke) -> tuple[bool, Fraction, int]:
    return stroke.piece not in CYMBALS, stroke.position, stroke.sort_key[2]


def _opening(sheet: Sheet) -> Iterator[_Line]:
    whole = sheet.grid.numbers[0], sheet.grid.numbers[-1]
    form = "; ".join(
        f"{section.name} {say_span(section.from_bar, section.to_bar)}{', no drums' if section.tacet else ''}"
        for section in sheet.sections
    )
    say = f"Hear the whole song once, the form in hand. {form}" if form else "Hear the whole song once."
    yield _Line("listen", whole, f"{say.rstrip('.')}.", "Count the bars aloud; mark where the drums change.")
    if sheet.chart.strokes:
        yield _Line("say", whole, caution("hearing"), caution("warm up"))


def _figures(sheet: Sheet) -> Iterator[_Line]:
    """Each figure as it is introduced, and each phrase as soon as it is complete."""
    names = piece_names(sheet.kit)
    waiting = [p for p in phrases(sheet.chart, sheet.grid, sheet.sections, names=names) if _worth_joining(sheet, p)]
    figure_of = _figure_names(sheet)
    by_name = {figure.name: figure for figure in sheet.plan.figures}
    differences = {difference.to: difference for difference in sheet.plan.differences}
    known: set[str] = {name for name in by_name if is_silent(name)}
    for introduction in sheet.plan.running_order:
        figure = by_name[introduction.figure]
        if is_silent(figure.name):
            continue
        yield from _introduce(sheet, figure, differences[figure.name])
        known.add(figure.name)
        ready = [p for p in waiting if {figure_of[told.bar] for told in p.bars} <= known]
        waiting = [p for p in waiting if p not in ready]
        for phrase in ready:
            yield _join(sheet, phrase)


def _introduce(sheet: Sheet, figure: Figure, difference: Difference) -> Iterator[_Line]:
    bar = figure.first
    where = say_bars(figure.bars)
    say = difference.say.removeprefix("new: ")
    head = f"{_capital(where)}: " if say == difference.say else f"New in {where}: "
    yield _Line("say", runs(figure.bars)[0], f"{head}{say}.", _say_first(sheet, bar))
    rungs = three_rungs(goal_bpm(sheet, bar))
    tempi = f"at {rungs[0]}" if len(rungs) == 1 else f"at {rungs[0]}, then {listing([str(r) for r in rungs[1:]])}"
    if is_fill(sheet, bar):
        landing = landing_words(sheet, bar)
        first = bar - 1 if sheet.grid.has(bar - 1) else bar
        yield _Line(
            "land",
            (first, bar + 1),
            f"Breathe. Land: {landing}.",
            f"{_capital(say_span(first, bar + 1))}, the fill with the bar before and the landing, {tempi}.",
            slow=True,
        )
        return
    if len(figure.bars) == 1 and _little(difference):
        return
    into = 1 if bar == 0 and sheet.grid.has(1) else 0
    how = "The pickup into bar 1" if into else f"{_capital(say_span(bar, bar))} round and round"
    yield _Line("play", (bar, bar + into), _watch(difference), f"{how}, {tempi}.", slow=True)


def _little(difference: Difference) -> bool:
    """A change so small that saying it is enough: the bar is played when its phrase is joined up."""
    return difference.from_ != "" and len(difference.changes) <= LITTLE_MOST


def _say_first(sheet: Sheet, bar: int) -> str:
    """Count, and say the kick over it ("if you can't sing it you can't play it", as teachers put it)."""
    kicks = [stroke.position for stroke in sheet.chart.by_bar.get(bar, ()) if stroke.piece == "kick"]
    count = f"Before you play, count aloud {sheet.plan.counts.get(bar, '')}"
    if not kicks:
        return f"{count}."
    kick = piece_names(sheet.kit)["kick"]
    return f"{count}; then say only the {kick}: {say_places(sheet.grid.meter(bar), kicks, sheet.grid.skipped(bar))}."


def _watch(difference: Difference) -> str:
    """Which limbs have something new."""
    pieces = {change.piece for change in difference.changes} | {c.to_piece for c in difference.changes if c.to_piece}
    clean = f"{_capital(number(LADDER.clean))} clean in a row, then faster."
    if difference.from_ and pieces <= FOOT:
        return f"Same hands; only the feet change. {clean}"
    if difference.from_ and not pieces & FOOT:
        return f"Same feet; only the hands change. {clean}"
    return f"Slowly first. {clean}"


def _worth_joining(sheet: Sheet, phrase: Phrase) -> bool:
    """Two bars or more with something to remember: not a silence, not a plain repeat of an earlier phrase."""
    plain = phrase.like_from is not None and not any(told.changes for told in phrase.bars)
    return len(phrase.bars) > 1 and not plain and any(told.bar in sheet.chart.by_bar for told in phrase.bars)


def _join(sheet: Sheet, phrase: Phrase) -> _Line:
    span = phrase.from_bar, phrase.to_bar
    count_in = ", ".join(count_in_words(sheet.grid.meter(span[0]), goal_bpm(sheet, span[0])))
    say = phrase.say if phrase.like_from is not None else f"{say_span(*span)} joined up"
    return _Line(
        "join", span, f"{_capital(say)}.", f"{_capital(say_span(*span))} without a stop; count in {count_in}."
    )


def _closing(sheet: Sheet) -> Iterator[_Line]:
    if not sheet.chart.strokes:
        return
    whole = sheet.grid.numbers[0], sheet.grid.numbers[-1]
    source = "recording" if sheet.song.kind == "audio" else "sound of the chart"
    marks = landmark_words(sheet.landmarks[:4], sheet.sections)
    lost = f" If you are lost: {'; '.join(marks)}." if marks else ""
    yield _Line(
        "along",
        whole,
        f"If you slip, keep counting and come in on the next 1.{lost}",
        f"The whole song along with the {source}, slowed.",
        slow=True,
    )
    yield _Line(
        "along", whole, caution("rest"), "The whole song at its own tempo; then with the drums left out of the mix."
    )


def _cue(sheet: Sheet, n: int, line: _Line) -> Cue:
    first, last = line.span
    tempo = goal_bpm(sheet, first)
    return Cue(
        n=n,
        what=line.what,
        from_bar=first,
        to_bar=last,
        from_s=round(sheet.grid.at(first).start_s, 4),
        to_s=round(sheet.grid.end(last), 4),
        tempo_bpm=ladder(tempo)[0].bpm if line.slow else tempo,
        say=line.say,
        play=line.play,
    )


def three_rungs(goal: int) -> list[int]:
    """The first rung, one halfway, and the song's own tempo."""
    rungs = [rung.bpm for rung in ladder(goal) if rung.bpm <= goal]
    return list(dict.fromkeys([rungs[0], rungs[len(rungs) // 2], rungs[-1]]))


def _figure_names(sheet: Sheet) -> Mapping[int, str]:
    return {bar: figure.name for figure in sheet.plan.figures for bar in figure.bars}


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

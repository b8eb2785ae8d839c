"""The marking of a take as one HTML file: for the student to read, for the teacher to talk about, for both to print.

It holds no script, asks for nothing and plays nothing. After teachers' habit it asks the student first where it was
off, says one thing right before what to change, and leaves out what nobody hears. The same marking gives the same
bytes.

Cannot do: play the take (a recording of a student stays where the teacher keeps it).
"""

import re
from collections.abc import Sequence
from typing import Final

from fourlimb.model import InputError, MarkedStroke, Marking, PractiseNext, Sheet
from fourlimb.model.count import say_span

from .front import style, template
from .marked_bars import pictures
from .marked_words import SIGNS, road, said, sign_of, unsure, unsure_said
from .safe import text
from .timing import timing

PICTURES_MOST: Final = 32
"""Bars shown as pictures, the weakest; of the rest only the words (ours: four printed pages)."""

CLEAN_PASSES: Final = 3
"""Boxes to tick at each place to practise (three clean in a row: common practice)."""

CARE: Final = ("warm up", "enough", "pain", "hearing", "children")
"""Ids of the sentences on practising that stand below, after those on takes."""


def marked(sheet: Sheet, marking: Marking, *, take: str = "", heard: bool = True, notes: Sequence[str] = ()) -> str:
    """One HTML document of a marking and the chart that it marks.

    `take`: the file's name; `heard`: ears heard it (else it was read from MIDI); `notes`: what was odd about it.
    Raises InputError when the marking is of bars that the chart's song does not have.
    """
    facts = marking.take
    if not sheet.grid.has(facts.from_bar) or not sheet.grid.has(facts.to_bar):
        raise InputError(f"bars {facts.from_bar}-{facts.to_bar} are not in this song: mark the take again")
    places = {
        "style": style("marked"),
        "title": text(sheet.song.title or "Untitled"),
        "take": text(take),
        "facts": text(_facts(sheet, marking)),
        "score": f"{100 * marking.summary.score:.0f}",
        "say": _say(marking),
        "next": _next(marking),
        "road": _road(sheet, marking),
        "signs": _legend(),
        "timing": timing(sheet.grid, marking),
        "unsure": text(_unsure(marking)),
        "bars": _bars(sheet, marking),
        "how": text(_how(heard)),
        "notes": "".join(f"<li>{text(note)}</li>" for note in notes),
        "care": "".join(f"<li>{text(sentence)}</li>" for sentence in _care()),
    }
    return re.sub(r"\{\{(\w+)\}\}", lambda found: places[found[1]], template("marked"))


def _facts(sheet: Sheet, marking: Marking) -> str:
    facts = marking.take
    count = sum(1 for number in sheet.grid.numbers if facts.from_bar <= number <= facts.to_bar)
    tempi = sorted(
        bar.tempo_bpm for bar in sheet.grid.bars if facts.from_bar <= bar.bar <= facts.to_bar and bar.tempo_bpm > 0
    )
    parts = [f"{facts.level} chart", _span(facts.from_bar, facts.to_bar)]
    parts[1] += f" ({count} bars)" if count > 1 else ""
    if facts.tempo_bpm > 0:
        parts.append(f"played at {facts.tempo_bpm:.0f} beats a minute")
        parts[-1] += f" (the song: {tempi[len(tempi) // 2]:.0f})" if tempi else ""
    return ", ".join(parts)


def _span(first: int, last: int) -> str:
    return say_span(first, last).replace("-", "–")


def _heading(bar: int) -> str:
    return f"Bar {bar}" if bar else "Pickup"


def _say(marking: Marking) -> str:
    return "".join(f"<li>{text(sentence)}</li>" for sentence in marking.summary.say)


def _next(marking: Marking) -> str:
    if not marking.summary.practise_next:
        return '<p class="hint">Nothing to name.</p>'
    first = "Begin with the first place; only then the next. " if len(marking.summary.practise_next) > 1 else ""
    places = "".join(_place(one) for one in marking.summary.practise_next)
    return f'<p class="hint">{first}Tick a box for each clean pass, three in a row.</p><ol class="next">{places}</ol>'


def _place(one: PractiseNext) -> str:
    boxes = '<span class="box"></span>' * CLEAN_PASSES
    span = _span(one.from_bar, one.to_bar)
    return (
        f'<li><b>{text(span[:1].upper() + span[1:])}</b> <span class="rung">at {one.rung_bpm}</span>'
        f'<span class="boxes" title="a box for each clean pass">{boxes}</span><p>{text(one.why)}</p></li>'
    )


def _road(sheet: Sheet, marking: Marking) -> str:
    inside = _by_bar(marking)
    bars = {bar.bar: bar for bar in marking.bars}
    shown = _shown(marking)
    rows = []
    for name, numbers in road(sheet, marking.take.from_bar, marking.take.to_bar):
        boxes = []
        for number in numbers:
            kind = sign_of(bars[number], inside.get(number, []), _sure())
            sign, means = SIGNS[kind]
            body = f'<b>{number or "pickup"}</b> <i aria-hidden="true">{sign}</i><span class="aside">{means}</span>'
            linked = f'<a href="#bar-{number}">{body}</a>' if number in shown else f"<span>{body}</span>"
            wide = "" if number else " pickup"
            boxes.append(f'<li class="{kind}{wide}" title="{text(bars[number].say or means)}">{linked}</li>')
        rows.append(f'<li><span class="name">{text(name)}</span><ol>{"".join(boxes)}</ol></li>')
    return "".join(rows)


def _legend() -> str:
    return ", ".join(f"<span>{sign} {means}</span>" for sign, means in SIGNS.values())


def _unsure(marking: Marking) -> str:
    doubtful = unsure(marking.strokes, _sure())
    if not doubtful:
        return ""
    count = "1 stroke was" if len(doubtful) == 1 else f"{len(doubtful)} strokes were"
    return (
        f"{count} not heard for sure ({unsure_said(doubtful)}) and may have been played "
        "(a broken ring where the bar is shown). "
        "Listen to the take there; they cost only as much of the score as it is likely that they are missing."
    )


def _bars(sheet: Sheet, marking: Marking) -> str:
    """The bars to look at, each with its picture and everything there is to say of it."""
    shown = _shown(marking)
    inside = _by_bar(marking)
    empty = {bar.bar for bar in marking.bars if sign_of(bar, inside.get(bar.bar, []), _sure()) == "none"}
    drawable = {b: [] if b in empty else inside.get(b, []) for b in shown if b in sheet.chart.by_bar}
    drawn = pictures(sheet, drawable, _sure(), _told_ms())
    cards = []
    for bar in (one for one in marking.bars if one.say):
        lines = said(inside.get(bar.bar, []), sheet.grid, _sure(), _told_ms())
        if bar.bar in empty or not lines:
            lines = [bar.say]
        words = "".join(f"<li>{text(line)}</li>" for line in lines)
        picture = drawn.get(str(bar.bar), "")
        head = f'<li id="bar-{bar.bar}" class="card"><h3>{_heading(bar.bar)}</h3>'
        cards.append(f'{head}{picture}<ul class="lines">{words}</ul></li>')
    if not cards:
        return '<p class="hint">No bar has anything to change.</p>'
    return f'{drawn["glyphs"]}<ol class="cards">{"".join(cards)}</ol>'


def _shown(marking: Marking) -> set[int]:
    """Bars that have a picture."""
    weak = sorted((bar for bar in marking.bars if bar.say), key=lambda bar: (bar.score, bar.bar))
    return {bar.bar for bar in weak[:PICTURES_MOST]}


def _by_bar(marking: Marking) -> dict[int, list[MarkedStroke]]:
    inside: dict[int, list[MarkedStroke]] = {}
    for stroke in marking.strokes:
        inside.setdefault(stroke.bar, []).append(stroke)
    return inside


def _how(heard: bool) -> str:
    ears = (
        "The take was heard by a machine, which makes mistakes: ghost notes, crashes and foot hats above all. "
        if heard
        else ""
    )
    return (
        f"{ears}Early and late are meant against the take's own steady time, whatever its tempo; what is off by less "
        "than 20 ms costs nothing, for nobody hears it. Which hand played is not seen. A score is no grade: compare "
        "it with your own last take."
    )


def _care() -> tuple[str, ...]:
    from fourlimb.teach.cautions import caution, cautions

    return (*cautions("take"), *(caution(name) for name in CARE))


def _sure() -> float:
    from fourlimb.mark import TOLD

    return TOLD


def _told_ms() -> float:
    from fourlimb.mark.advice import TOLD_MS

    return TOLD_MS

"""Corrections replayed, in order, over a fresh analysis.

Each order turns one `Listening` into the next; a correction that no longer fits stays in the list as "unfit", with
the reason. What concerns a single level's chart is handed on and applied after arranging.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from statistics import median
from typing import Final

import msgspec

from fourlimb.model import (
    Correction,
    CorrectionError,
    FeelSpan,
    Grid,
    Hit,
    InputError,
    Listening,
    Section,
    Sound,
)
from fourlimb.model.count import Way
from fourlimb.model.heard import Stress
from fourlimb.model.sounds import SAY

from . import corrections as c
from . import orders as o
from . import rhythm_orders as r
from .learning import OnlyAt, in_bars, learn_from, right, spoken

ORDINARY_LOUDNESS_DB = -12.0
"""Level given to a stroke that the teacher writes where none of its kind was heard (ours)."""

SAME_PLACE_S = 0.030
"""Two times closer than this are one place (ours: half a 32nd at 240 beats a minute)."""


@dataclass
class Replayed:
    """A listening with the teacher's word in it. `first`: the hits before it.

    `right_s`: from second to second every stroke is right.
    """

    heard: Listening
    first: tuple[Hit, ...] = ()
    corrections: list[Correction] = field(default_factory=list)
    only: list[OnlyAt] = field(default_factory=list)
    right_s: list[tuple[float, float]] = field(default_factory=list)
    level_orders: list[tuple[int, o.Order]] = field(default_factory=list)
    sections_named: list[o.SectionIs] = field(default_factory=list)
    changed: bool = False


def replay(heard: Listening, corrections: tuple[Correction, ...]) -> Replayed:
    """Apply every correction that is not undone, in order."""
    done = Replayed(heard, heard.hits)
    for correction in corrections:
        if correction.state == "undone":
            done.corrections.append(correction)
            continue
        try:
            _apply(done, correction.n, c.read(correction.what, done.heard.grid))
            state, why = "applied", ""
        except (CorrectionError, InputError) as error:
            state, why = "unfit", str(error)
        done.corrections.append(msgspec.structs.replace(correction, state=state, why=why))
    if done.changed:
        done.heard = _form_again(done)
    return done


def _apply(done: Replayed, number: int, order: o.Order) -> None:
    rhythm = isinstance(order, r.Rolled | r.NotRolled | r.Words)
    if rhythm or getattr(order, "level", None) is not None:
        done.level_orders.append((number, order))
        return
    done.heard = _changed(done, order)


def _changed(done: Replayed, order: o.Order) -> Listening:
    match order:
        case o.Exactly():
            return _exactly(done, order)
        case o.AsBar():
            return _as_bar(done, order)
        case o.Silent():
            return _silent(done, order)
        case o.IsSound():
            return _is_sound(done, order)
        case o.Alike():
            return _alike(done, order)
        case o.Right():
            return _right(done, order.bars)
        case o.Learn():
            return _learn(done, order.bars)
        case o.TempoTimes() | o.BarLineAt() | o.TheOne() | o.MeterIs():
            return _regrid(done, order)
        case o.FeelIs():
            return _feel_is(done, order)
        case o.SectionIs():
            return _section_is(done, order)
        case o.TitleIs():
            return _title_is(done, order)
        case (
            o.AsLevel() | o.AimedAt() | r.Rolled() | r.NotRolled() | r.Words()
        ):  # concerns charts, not what was heard
            return done.heard


def _with_hits(heard: Listening, hits: list[Hit]) -> Listening:
    ordered = sorted(hits, key=lambda hit: (hit.time_s, hit.id))
    return msgspec.structs.replace(heard, hits=tuple(ordered))


def _written(heard: Listening, number: int, bar: int, position: Fraction, sound: Sound) -> Hit:
    """A hit that the teacher wrote."""
    return Hit(
        id=number,
        time_s=round(heard.grid.time_at(bar, position, swung=True), 4),
        sound=sound,
        loudness_db=_usual_loudness(heard, sound),
        confidence=1.0,
        bar=bar,
        position=position,
        by="teacher",
    )


def _usual_loudness(heard: Listening, sound: Sound) -> float:
    levels = [hit.loudness_db for hit in heard.hits if hit.sound == sound]
    return round(median(levels), 1) if levels else ORDINARY_LOUDNESS_DB


def _next_id(hits: list[Hit]) -> int:
    return max((hit.id for hit in hits), default=0) + 1


def _exactly(done: Replayed, order: o.Exactly) -> Listening:
    heard, hits = done.heard, list(done.heard.hits)
    for bar in order.bars:
        for sound, positions, way in order.told:
            if any(way):
                hits = _struck(heard, hits, bar, sound, positions, way)
                continue
            mine = {h.position: h for h in hits if h.bar == bar and h.sound == sound and h.position in positions}
            hits = [h for h in hits if not (h.bar == bar and h.sound == sound)]
            for position in positions:
                kept = mine.get(position)
                if kept is not None:
                    hits.append(msgspec.structs.replace(kept, confidence=1.0, by="teacher", layer=None))
                else:
                    hits.append(_written(heard, _next_id([*hits, *mine.values()]), bar, position, sound))
            times = tuple(heard.grid.time_at(bar, p, swung=True) for p in positions)
            done.only.append(OnlyAt(sound, heard.grid.at(bar).start_s, heard.grid.end(bar), times))
    done.changed = True
    return _with_hits(heard, hits)


HATS_BY_STICK = ("hat_closed", "hat_open")


def _struck(
    heard: Listening,
    hits: list[Hit],
    bar: int,
    sound: Sound,
    positions: tuple[Fraction, ...],
    way: Way,
) -> list[Hit]:
    """These places of a piece struck in this way; written where they are not there."""
    alike = HATS_BY_STICK if sound in HATS_BY_STICK else (sound,)
    for position in positions:
        here = [h for h in hits if h.bar == bar and h.position == position and h.sound in alike]
        first = here[0] if here else _written(heard, _next_id(hits), bar, position, sound)
        told = msgspec.structs.replace(
            first, sound=sound, struck=way.struck or first.struck, second=way.second or first.second,
            grace=way.grace or first.grace, confidence=1.0, by="teacher", layer=None,
        )  # fmt: skip
        hits = [h for h in hits if h not in here] + [_stressed(heard, told, way)]
    return hits


STRESSED_DB: Final[dict[Stress, float]] = {"ghost": -16.0, "accent": 8.0, "plain": 0.0}
"""How loud a stroke of the teacher's is played beside the usual one of its sound (ours: clearly past what the
arranger takes for a ghost, 12 dB under, and for an accent, 6 over)."""


def _stressed(heard: Listening, hit: Hit, way: Way) -> Hit:
    """The stroke as hard as the teacher says; plain also takes away what stands before it."""
    if way.stress is None:
        return hit
    from fourlimb.arrange.loudness import usual_loudness

    usual = usual_loudness(heard.hits).get(hit.sound, ORDINARY_LOUDNESS_DB)
    grace = way.grace if way.stress == "plain" else hit.grace
    loud = min(usual + STRESSED_DB[way.stress], 0.0)
    return msgspec.structs.replace(hit, stress=way.stress, loudness_db=loud, grace=grace)


def _as_bar(done: Replayed, order: o.AsBar) -> Listening:
    heard = done.heard
    length = heard.grid.length(order.source)
    for bar in order.bars:
        if heard.grid.length(bar) != length:
            raise CorrectionError(f"bar {bar} is not as long as bar {order.source}: they cannot be the same")
    model = [h for h in heard.hits if h.bar == order.source and h.position is not None]
    hits = [h for h in heard.hits if h.bar not in order.bars or h.bar == order.source]
    number = _next_id(list(heard.hits))
    for bar in order.bars:
        if bar == order.source:
            continue
        for hit in model:
            time_s = round(heard.grid.time_at(bar, hit.position or Fraction(0), swung=True), 4)
            copied = msgspec.structs.replace(hit, id=number, bar=bar, time_s=time_s, by="teacher", confidence=1.0)
            hits.append(copied)
            number += 1
    _whole(done, order.bars)
    return _with_hits(heard, hits)


def _silent(done: Replayed, order: o.Silent) -> Listening:
    _whole(done, order.bars)
    return _with_hits(done.heard, [h for h in done.heard.hits if h.bar not in order.bars])


def _whole(done: Replayed, bars: tuple[int, ...]) -> None:
    """The teacher has spoken of everything in these bars."""
    grid = done.heard.grid
    done.right_s += [(grid.at(bar).start_s, grid.end(bar)) for bar in bars]
    done.changed = True


def _is_sound(done: Replayed, order: o.IsSound) -> Listening:
    if not any(h.bar in order.bars and h.sound == order.heard for h in done.heard.hits):
        raise CorrectionError(f"no {order.heard.replace('_', ' ')} was heard in these bars: look with fourlimb show")

    def renamed(hit: Hit) -> Hit:
        if hit.bar not in order.bars or hit.sound != order.heard:
            return hit
        return msgspec.structs.replace(hit, sound=order.is_, confidence=1.0, by="teacher")

    done.changed = True
    return _with_hits(done.heard, [renamed(h) for h in done.heard.hits])


def _alike(done: Replayed, order: o.Alike) -> Listening:
    """Rename what sounds like the strokes that the teacher renamed in the same way; say which bars that touches."""
    from fourlimb import listen

    heard, said = done.heard, f"the {SAY[order.heard]} is the {SAY[order.is_]}"
    put_right = [h.time_s for h in heard.hits if h.by == "teacher" and h.sound == order.is_]
    named = [
        h.id
        for h in done.first
        if h.sound == order.heard and any(abs(h.time_s - t) < SAME_PLACE_S for t in put_right)
    ]
    if not named:
        raise CorrectionError(f'put two or three right first, like "bar 12: {said}"; then "alike: {said}"')
    if not heard.colours:
        raise CorrectionError("how strokes sound is known only of recordings heard by this version: listen again")
    like = set(listen.sounding_like(heard.hits, dict(heard.colours), named, order.heard, order.is_))
    where = in_bars(h for h in heard.hits if h.id in like)
    note = f"alike, {said}: {len(like)} strokes changed" + (f"{where}; look at them" if where else "")
    done.changed = True
    hits = [msgspec.structs.replace(h, sound=order.is_) if h.id in like else h for h in heard.hits]
    return msgspec.structs.replace(_with_hits(heard, hits), notes=(*heard.notes, note))


def _right(done: Replayed, bars: tuple[int, ...]) -> Listening:
    _whole(done, bars)
    return _with_hits(done.heard, right(done.heard.hits, bars))


def _learn(done: Replayed, bars: tuple[int, ...]) -> Listening:
    """The bars are right, and all that the teacher has not spoken of is judged again."""
    before = done.heard, list(done.right_s)
    done.heard = _right(done, bars)
    try:
        return learn_from(done.heard, done.first, spoken(done.only, done.right_s))
    except CorrectionError:
        done.heard, done.right_s = before
        raise


def _regrid(done: Replayed, order: o.TempoTimes | o.BarLineAt | o.TheOne | o.MeterIs) -> Listening:
    from fourlimb import listen

    done.changed = True
    grid = done.heard.grid
    if isinstance(order, o.TempoTimes):
        hints = listen.Hints(tempo_factor=order.factor)
    elif isinstance(order, o.BarLineAt):
        hints = listen.Hints(bar_lines_s=(order.time_s,))
    elif isinstance(order, o.TheOne):
        beat = next(b for b in grid.beats if b.bar == order.bar and b.beat == order.beat)
        hints = listen.Hints(ones_s=(beat.time_s,))
    else:
        span = None if order.bars is None else (order.bars[0], order.bars[-1])
        hints = listen.Hints(meters=((span, order.meter),))
    return listen.regrid(done.heard, hints)


def _feel_is(done: Replayed, order: o.FeelIs) -> Listening:
    from fourlimb import listen

    grid = done.heard.grid
    spans = feel_with(grid, order)
    new_grid = msgspec.structs.replace(grid, feel=spans)
    hits = done.heard.hits
    if order.swing is not None and done.heard.song.kind == "audio":
        hits = listen.place_hits(new_grid, hits)
    done.changed = True
    return msgspec.structs.replace(done.heard, grid=new_grid, hits=hits)


def feel_with(grid: Grid, order: o.FeelIs) -> tuple[FeelSpan, ...]:
    """The grid's feel with some bars felt otherwise; runs of bars alike are one span."""
    each: list[FeelSpan] = []
    for bar in grid.numbers:
        span = grid.feel_of(bar)
        feel, swing = span.feel, span.swing
        if bar in order.bars:
            feel, swing = order.feel or feel, order.swing if order.swing is not None else swing
        each.append(msgspec.structs.replace(span, from_bar=bar, to_bar=bar, feel=feel, swing=swing))
    joined: list[FeelSpan] = []
    for span in each:
        last = joined[-1] if joined else None
        if last and (last.feel, last.swing, last.swing_unit) == (span.feel, span.swing, span.swing_unit):
            joined[-1] = msgspec.structs.replace(last, to_bar=span.to_bar)
        else:
            joined.append(span)
    return tuple(joined)


def _section_is(done: Replayed, order: o.SectionIs) -> Listening:
    done.sections_named.append(order)
    sections = sections_with(done.heard.sections, order)
    return msgspec.structs.replace(done.heard, sections=sections)


def sections_with(sections: tuple[Section, ...], order: o.SectionIs) -> tuple[Section, ...]:
    """The sections with one stretch named anew; what it covers is cut, never lost."""
    first, last = order.bars[0], order.bars[-1]
    inside = [s for s in sections if s.from_bar <= first <= s.to_bar]
    made = Section(name=order.name, from_bar=first, to_bar=last, tacet=bool(inside) and inside[0].tacet)
    kept: list[Section] = [made]
    for section in sections:
        if section.from_bar < first:
            kept.append(msgspec.structs.replace(section, to_bar=min(section.to_bar, first - 1)))
        if section.to_bar > last:
            kept.append(msgspec.structs.replace(section, from_bar=max(section.from_bar, last + 1)))
    return tuple(sorted(kept, key=lambda s: s.from_bar))


def _title_is(done: Replayed, order: o.TitleIs) -> Listening:
    song = msgspec.structs.replace(done.heard.song, title=order.title)
    return msgspec.structs.replace(done.heard, song=song)


def _form_again(done: Replayed) -> Listening:
    """Form, landmarks and doubts after the teacher's changes; names that the teacher gave stay."""
    from fourlimb import listen

    heard = done.heard
    possible = listen.still_possible(heard.possible, spoken(done.only, done.right_s))
    sections, landmarks, doubts = listen.form(heard.grid, heard.hits, possible)
    if heard.song.kind == "musicxml" and heard.sections:
        sections = heard.sections
    for order in done.sections_named:
        sections = sections_with(sections, order)
    return msgspec.structs.replace(heard, sections=sections, landmarks=landmarks, doubts=doubts)

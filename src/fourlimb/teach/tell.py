"""Differences as sentences in a teacher's words.

"as bars 1-4, but the kick on 4& moves to 4a; the crash on 1 is left out": told from a known bar, in count words,
one change to a clause, the change that lasts longest in the song first. A bar that leaves the known one at some
beat is told from there ("as bar 1 up to beat 3; from there snare on every 16th"); one too different to be told so
is described ("new: hat on every 8th; snare on 2 and 4; kick on 1 and 3").
"""

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Final, NamedTuple

from fourlimb.model import Change, Sound
from fourlimb.model.count import counted, listing, speak_place
from fourlimb.model.places import bar_length, beat_lengths, beat_of, beat_starts
from fourlimb.model.sounds import ORDER, SAY

from .changes import mark_of
from .content import Content, Mark
from .say import a, many, number, say_places

CLAUSES_MOST: Final = 4
"""More clauses than this and a bar is easier described than told from another (ours)."""

TAIL_FROM: Final = 3
"""Number of clauses from which a bar that leaves the known one at a beat is told from that beat (ours)."""

TELLING_ORDER: Final[tuple[Sound, ...]] = (
    "hat_closed", "hat_open", "ride", "ride_bell", "shaker", "tambourine", "cowbell", "crash", "china", "splash",
    "snare", "rim", "clap", "tom_high", "tom_mid", "tom_floor", "kick", "hat_pedal",
)  # fmt: skip
"""A groove is told cymbal hand, snare, then kick: the order teachers copy a recording in (published transcription and
drum-method lessons)."""

Life = Callable[[Sequence[Change]], int]
"""In how many bars of the song what a clause says is so."""


class Clause(NamedTuple):
    """Some changes of one kind, as words."""

    changes: tuple[Change, ...]
    text: str


class Telling(NamedTuple):
    """A sentence, how many clauses it took, and whether it says "new"."""

    say: str
    clauses: int
    new: bool


def tell(
    before: Content,
    after: Content,
    changes: Sequence[Change],
    known: str,
    *,
    life: Life = lambda changes: 0,
    names: Mapping[Sound, str] = SAY,
) -> Telling:
    """How to tell `after` from `before`, which the student knows as `known` ("bars 1-4")."""
    if not changes:
        return Telling(f"as {known}", 0, False)
    clauses = clauses_of(before, after, changes, life=life, names=names)
    tail = _tail(before, after, changes, known, names) if len(clauses) >= TAIL_FROM else None
    if tail and tail.clauses <= min(len(clauses), CLAUSES_MOST):
        return tail
    if len(clauses) > CLAUSES_MOST:
        return tell_new(after, names=names)
    return Telling(f"as {known}, but {'; '.join(clause.text for clause in clauses)}", len(clauses), False)


def tell_new(content: Content, *, names: Mapping[Sound, str] = SAY) -> Telling:
    """A bar told from nothing: what each piece plays."""
    parts = describe(content, names=names)
    return Telling(f"new: {'; '.join(parts) or 'silence'}", len(parts), True)


def describe(content: Content, *, names: Mapping[Sound, str] = SAY, start: Fraction = Fraction(0)) -> tuple[str, ...]:
    """What each piece plays from `start` on, cymbal hand first, one part a piece: "ghosted snare on 1a and 2a"."""
    rows: dict[tuple[Sound, Mark], list[Fraction]] = {}
    for position, piece, mark in content.notes:
        if position >= start:
            rows.setdefault((piece, mark), []).append(position)
    ordered = sorted(rows, key=lambda row: (TELLING_ORDER.index(row[0]), str(row[1]) if any(row[1]) else ""))
    return tuple(
        f"{marked(names[piece], mark)} on {say_places(content.meter, rows[piece, mark], content.skipped)}"
        f"{for_long(content.meter, mark)}"
        for piece, mark in ordered
    )


def clauses_of(
    before: Content,
    after: Content,
    changes: Sequence[Change],
    *,
    life: Life = lambda changes: 0,
    names: Mapping[Sound, str] = SAY,
) -> tuple[Clause, ...]:
    """The changes in clauses, the longest-lived first, then in the order of the bar."""
    groups: dict[tuple[object, ...], list[Change]] = {}
    for change in changes:
        groups.setdefault(_group_key(before, change), []).append(change)
    ranked = sorted(groups.values(), key=lambda group: (-life(group), _at(group[0]), ORDER[group[0].piece]))
    return tuple(Clause(tuple(group), _clause(before, after, group, names)) for group in ranked)


def marked(word: str, mark: Mark) -> str:
    """The piece with how it is struck: "ghosted snare", "choked second crash", "snare roll in 16ths"."""
    marks = (("accented", mark.accent), ("ghosted", mark.ghost), ("tied", mark.tied))
    before = [name for name, on in marks if on]
    shown = _STRUCK_ADJECTIVE.get(mark.struck or "", "")
    after: list[str] = [_spaced(mark.grace)] if mark.grace else []
    if mark.rolls:
        after.append(_roll(mark))
    if mark.struck == "rimshot":
        after.append("rimshot")
    return " ".join([*before, *([shown] if shown else []), *(["second"] if mark.second else []), word, *after])


def for_long(meter: str, mark: Mark) -> str:
    """How long a roll is kept up, to stand after its place: " for two beats", " for five 16ths"; else nothing."""
    if not mark.rolls or not mark.lasts:
        return ""
    if mark.lasts == bar_length(meter):
        return " for the whole bar"
    lengths = set(beat_lengths(meter))
    beats = mark.lasts / lengths.pop() if len(lengths) == 1 else Fraction(1, 3)
    if beats == Fraction(1, 2):
        return " for half a beat"
    if beats.denominator <= 2:
        whole = f"{number(beats.numerator // beats.denominator)}{' and a half' if beats.denominator == 2 else ''}"
        return f" for {whole} beat{'' if beats == 1 else 's'}"
    value = _VALUES.get(mark.lasts.denominator, f"1/{mark.lasts.denominator}")
    return f" for {number(mark.lasts.numerator)} {value}{'' if mark.lasts.numerator == 1 else 's'}"


_VALUES = {1: "whole note", 2: "half note", 4: "4th", 8: "8th", 16: "16th", 32: "32nd", 64: "64th"}


def _roll(mark: Mark) -> str:
    return f"roll in {_VALUES.get(mark.roll, f'1/{mark.roll}')}s" if mark.roll and mark.roll < 32 else "roll"


_STRUCK_ADJECTIVE = {
    "buzz": "buzzed",
    "choke": "choked",
    "half_open": "half-open",
    "foot_splash": "splashed",
    "let_ring": "ringing",
}

_STRUCK_IS = {
    "rimshot": "a rimshot",
    "buzz": "buzzed",
    "choke": "choked",
    "half_open": "half open",
    "foot_splash": "splashed with the foot",
    "let_ring": "left to ring",
}


def _spaced(grace: str) -> str:
    """As it is said: "long_ruff" is a long ruff."""
    return grace.replace("_", " ")


def _group_key(before: Content, change: Change) -> tuple[object, ...]:
    mark = mark_of(change)
    if change.what == "strike" and change.from_ is not None:
        return change.what, change.piece, mark, before.places.get((change.from_, change.piece))
    return change.what, change.piece, change.to_piece, mark


def _at(change: Change) -> Fraction:
    return change.from_ if change.from_ is not None else change.to or Fraction(0)


def _clause(before: Content, after: Content, group: list[Change], names: Mapping[Sound, str]) -> str:
    teller = {"move": _say_move, "drop": _say_drop, "add": _say_add, "swap": _say_swap, "strike": _say_strike}
    return teller[group[0].what](before, after, group, names)


def _subject(word: str, bar: Content, positions: Sequence[Fraction]) -> tuple[str, bool]:
    """Gives "the kick on 4&" and False, or "the kicks on 1 and 3" and True (plural)."""
    plural = len(positions) > 1
    return f"the {many(word) if plural else word} on {say_places(bar.meter, positions, bar.skipped)}", plural


def _named(before: Content, group: list[Change], names: Mapping[Sound, str]) -> str:
    """The piece, and "second" where all that is meant are on the second of its kind."""
    piece, places = group[0].piece, before.places
    seconds = [places[c.from_, piece].second for c in group if c.from_ is not None and (c.from_, piece) in places]
    return f"second {names[piece]}" if seconds and all(seconds) else names[piece]


def _say_move(before: Content, after: Content, group: list[Change], names: Mapping[Sound, str]) -> str:
    from_ = [change.from_ for change in group if change.from_ is not None]
    to = [change.to for change in group if change.to is not None]
    subject, plural = _subject(_named(before, group, names), before, sorted(from_))
    return f"{subject} {'move' if plural else 'moves'} to {say_places(before.meter, sorted(to), before.skipped)}"


def _say_drop(before: Content, after: Content, group: list[Change], names: Mapping[Sound, str]) -> str:
    piece, word = group[0].piece, _named(before, group, names)
    gone = {change.from_ for change in group if change.from_ is not None}
    had = [position for position, other, _ in before.notes if other == piece]
    if len(had) > 1 and set(had) == gone:
        return f"the {word} is left out"
    later = [position for position in had if position >= min(gone)]
    if len(gone) > 2 and set(later) == gone:
        return f"the {word} stops at {speak_place(before.meter, min(gone), before.skipped)}"
    subject, plural = _subject(word, before, sorted(gone))
    return f"{subject} {'are' if plural else 'is'} left out"


def _say_add(before: Content, after: Content, group: list[Change], names: Mapping[Sound, str]) -> str:
    word = marked(names[group[0].piece], mark_of(group[0]))
    places = sorted(change.to for change in group if change.to is not None)
    where = f"{say_places(before.meter, places, before.skipped)}{for_long(before.meter, mark_of(group[0]))}"
    if mark_of(group[0]).second:
        return f"the {word} is added on {where}"
    if len(places) == 1:
        return f"{a(word)} is added on {where}"
    return f"{many(word)} are added on {where}"


def _say_swap(before: Content, after: Content, group: list[Change], names: Mapping[Sound, str]) -> str:
    old, new = group[0].piece, group[0].to_piece or group[0].piece
    places = sorted(change.from_ for change in group if change.from_ is not None)
    had = [position for position, piece, _ in before.notes if piece == old]
    if len(places) == len(had) > 2:
        return f"the {names[old]} part goes to the {names[new]}"
    subject, plural = _subject(_named(before, group, names), before, places)
    verb = "are" if plural else "is"
    if (old, new) == ("hat_closed", "hat_open"):
        return f"{subject} {verb} open"
    if (old, new) == ("hat_open", "hat_closed"):
        return f"{subject} {verb} closed"
    return f"{subject} {'become' if plural else 'becomes'} {many(names[new]) if plural else a(names[new])}"


def _say_strike(before: Content, after: Content, group: list[Change], names: Mapping[Sound, str]) -> str:
    change = group[0]
    places = sorted(one.from_ for one in group if one.from_ is not None)
    subject, plural = _subject(names[change.piece], before, places)
    was = before.places.get((places[0], change.piece), Mark())
    now = mark_of(change)
    parts = _strike_parts(was, now, "are" if plural else "is", "get" if plural else "gets", plural)
    if (now.roll, now.lasts, now.tied) != (was.roll, was.lasts, was.tied):
        parts = [*parts, *_roll_parts(before.meter, was, now, plural)]
    return f"{subject} {listing(parts or ['are the same' if plural else 'is the same'])}"


def _roll_parts(meter: str, was: Mark, now: Mark, plural: bool) -> list[str]:
    if not now.rolls:
        return [f"{'are' if plural else 'is'} no longer {many(_roll(was)) if plural else a(_roll(was))}"]
    if not was.rolls or _roll(was) != _roll(now):
        what = many(_roll(now)) if plural and now.roll in (0, 32) else _roll(now) if plural else a(_roll(now))
        return [f"{'become' if plural else 'becomes'} {what}{for_long(meter, now)}"]
    if was.lasts != now.lasts:
        return [f"{'roll' if plural else 'rolls'}{for_long(meter, now) or ' as written'}"]
    if now.tied:
        return [f"{'are' if plural else 'is'} tied to the bar before"]
    return [f"{'are' if plural else 'is'} struck anew"]


def _strike_parts(was: Mark, now: Mark, verb: str, gets: str, plural: bool) -> list[str]:
    parts = []
    lose = "lose" if plural else "loses"
    if was.ghost != now.ghost:
        parts.append(f"{verb} ghosted" if now.ghost else f"{verb} played full")
    if was.accent != now.accent:
        parts.append(f"{verb} accented" if now.accent else f"{lose} the accent")
    if was.grace != now.grace:
        parts.append(f"{gets} {a(_spaced(now.grace))}" if now.grace else f"{lose} the {_spaced(was.grace or '')}")
    if was.struck != now.struck:
        parts.append(
            f"{verb} {_STRUCK_IS[now.struck]}"
            if now.struck
            else f"{verb} no longer {_STRUCK_IS[was.struck or 'buzz']}"
        )
    if was.second != now.second:
        parts.append(f"{'go' if plural else 'goes'} to the {'second' if now.second else 'first'} one")
    return parts


def tail_of(
    before: Content, after: Content, changes: Sequence[Change], *, names: Mapping[Sound, str] = SAY
) -> tuple[int, tuple[str, ...]] | None:
    """The beat (from 1) where two bars part, and what is played from there; None when they part in the first beat."""
    first = min(min(at for at in (change.from_, change.to) if at is not None) for change in changes)
    beat = beat_of(before.meter, max(first, Fraction(0)))[0]
    if beat == 0:
        return None
    start = beat_starts(before.meter)[beat]
    meter, at, skipped = counted(before.meter, start, before.skipped)
    return skipped + beat_of(meter, at)[0] + 1, describe(after, names=names, start=start) or ("silence",)


def _tail(
    before: Content, after: Content, changes: Sequence[Change], known: str, names: Mapping[Sound, str]
) -> Telling | None:
    found = tail_of(before, after, changes, names=names)
    if found is None:
        return None
    beat, parts = found
    return Telling(f"as {known} up to beat {beat}; from there {'; '.join(parts)}", len(parts), False)

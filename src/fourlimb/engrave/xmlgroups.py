"""Which notes of a voice hang together in MusicXML: beams, level by level, and the brackets of tuplets."""

from collections.abc import Mapping, Sequence

from .notate import Event


def tuplet_edges(events: Sequence[Event], index: int) -> tuple[str, ...]:
    """Starts and stops of brackets: of the first and the last event shown of a tuplet."""
    tuplet = events[index].slot.tuplet
    if tuplet is None:
        return ()
    shown = [i for i, e in enumerate(events) if e.slot.tuplet == tuplet and not e.hidden]
    edges = ("start",) if index == shown[0] else ()
    return (*edges, "stop") if index == shown[-1] and len(shown) > 1 else edges if len(shown) > 1 else ()


def beams_of(events: Sequence[Event]) -> Mapping[int, tuple[str, ...]]:
    """States of each beam level of each beamed note: begin, continue, end, forward hook, backward hook."""
    groups: dict[int, list[int]] = {}
    for index, event in enumerate(events):
        if event.slot.beam is not None and event.heads:
            groups.setdefault(event.slot.beam, []).append(index)
    found: dict[int, tuple[str, ...]] = {}
    for members in groups.values():
        levels = [events[i].slot.value.bit_length() - 3 for i in members]
        for at, index in enumerate(members):
            found[index] = tuple(_beam_state(levels, at, level) for level in range(1, levels[at] + 1))
    return found


def _beam_state(levels: Sequence[int], at: int, level: int) -> str:
    before = at > 0 and levels[at - 1] >= level
    after = at + 1 < len(levels) and levels[at + 1] >= level
    if before and after:
        return "continue"
    if before:
        return "end"
    if after:
        return "begin"
    return "backward hook" if at else "forward hook"

"""From what was heard to what could be written: one note per place and piece.

Nothing here knows about limbs. Hits without a place get a reason; hits of one sound at one place become one note;
another player's or a machine's sounds are merged, moved or left out by role (`substitutions`); pieces that the
kit lacks go to the nearest. Ghosts and accents come from loudness relative to the same sound's usual loudness in
the song.
"""

from collections import defaultdict
from fractions import Fraction
from typing import Final

from fourlimb.model import LEVELS, Grid, Hit, Kit, Layer, Listening, Sound, Struck
from fourlimb.model.places import SIXTEENTH, beat_of
from fourlimb.model.sounds import CYMBALS, FOOT, ORDER, PERCUSSION, SAY, SOUNDS, TIMEKEEPERS, TOMS

from . import fidelity
from .continuity import settle
from .layout import has_second
from .loudness import (
    ACCENT_DB,
    DB_PER_VELOCITY_DECADE,
    GHOST_DB,
    USUAL_VELOCITY,
    ghosts_by_place,
    phrased,
    usual_loudness,
)
from .memory import Book, Memory
from .note import Bars, Ledger, Note
from .roles import Places, blocks_of, filled_roles, find_stacked, is_layer
from .substitutions import EXTRA_SOUNDS, LAYERS, MISSING_ROW, ROLE_SAYS, SOUND_ROLE, Role

ONE_SURFACE: Final[tuple[tuple[Sound, Sound], ...]] = (("hat_open", "hat_closed"), ("ride_bell", "ride"))
"""Two sounds of one cymbal at one place are one stroke; the first is the one that stays (common practice)."""
TWICE: Final = "heard twice at one place: one stroke"
StandIns = dict[Sound, Sound | None]
"""What each sound is written as on this kit by this player."""


def gather(listening: Listening, kit: Kit, book: Book, memory: Memory) -> Bars:
    """Notes of every bar of the grid; what was merged, moved or left out is written to the book for all levels."""
    grid = listening.grid
    places = _placed(listening, book, memory)
    usual = usual_loudness(listening.hits)
    blocks = blocks_of(listening)
    places = find_stacked(places, blocks, memory)
    filled = filled_roles(places, blocks, grid, kit, memory)
    starts = {section.from_bar for section in listening.sections}
    stands = memory.recall("stands", _stand_ins, kit)
    bars: Bars = {}
    for bar, at in places.items():
        sounds = {h.sound for hits in at.values() for h in hits}
        here = {sound: usual[sound] for sound in sounds}
        roles = filled[blocks[bar]]
        bars[bar], ledger = memory.recall(
            ("notes", bar), _bar_notes, bar, at, here, roles, bar in starts, grid, kit, stands
        )
        book.add(bar, ledger)
    bars = ghosts_by_place(bars, blocks, memory)
    settled = settle(bars, blocks, grid, book, memory)
    return {bar: memory.recall(("phrases", bar), phrased, row, kit) for bar, row in settled.items()}


def _placed(listening: Listening, book: Book, memory: Memory) -> dict[int, Places]:
    """Hits by bar and place; those that have no place in the bars get a reason."""
    grid = listening.grid
    by_bar: dict[int | None, list[Hit]] = defaultdict(list)
    for hit in listening.hits:
        by_bar[hit.bar].append(hit)
    found: dict[int, Places] = {}
    lost: list[Hit] = []
    for bar in grid.numbers:
        found[bar], outside = memory.recall(("placed", bar), _in_places, grid, bar, by_bar.pop(bar, []))
        lost += outside
    lost += [hit for hits in by_bar.values() for hit in hits]
    if lost:
        ledger = Ledger()
        for hit in lost:
            _unplaced(hit, grid, ledger)
        for bar, part in ledger.by_bar().items():
            book.add(bar, part)
    return found


def _in_places(grid: Grid, bar: int, hits: list[Hit]) -> tuple[Places, list[Hit]]:
    length = grid.length(bar)
    at: Places = defaultdict(list)
    outside = []
    for hit in hits:
        if hit.position is not None and 0 <= hit.position < length:
            at[hit.position].append(hit)
        else:
            outside.append(hit)
    return dict(sorted(at.items())), outside


def _bar_notes(
    bar: int,
    at: Places,
    usual: dict[Sound, float],
    filled: frozenset[Role],
    section_start: bool,
    grid: Grid,
    kit: Kit,
    stands: StandIns,
) -> tuple[tuple[Note, ...], Ledger]:
    notes: list[Note] = []
    ledger = Ledger()
    for position, hits in at.items():
        chosen = _choose(bar, position, hits, filled, kit, stands, ledger)
        bonus = _Bonus(grid, bar, position, section_start)
        notes.extend(_note(position, key, own, usual, bonus) for key, own in chosen.items())
    return tuple(sorted(notes, key=lambda n: n.sort_key)), ledger


def _unplaced(hit: Hit, grid: Grid, ledger: Ledger) -> None:
    bar, position = hit.bar, hit.position
    if (bar is None or position is None) and grid.bars:
        bar, phase = grid.phase_at(hit.time_s)
        position = max(Fraction(round(phase / SIXTEENTH)) * SIXTEENTH, Fraction(0))
    bar, position = bar or 0, position or Fraction(0)
    why = f"{SAY[hit.sound]} at {hit.time_s:.2f} s has no place in the bars: not written"
    ledger.write(LEVELS, "dropped", bar, position, hit.sound, why, "no place", (hit.id,))


Chosen = dict[tuple[Sound, bool], list[Hit]]
"""What is written at one place: piece and whether the second of its kind -> the hits it comes from."""


def _choose(
    bar: int,
    position: Fraction,
    hits: list[Hit],
    filled: frozenset[Role],
    kit: Kit,
    stands: StandIns,
    ledger: Ledger,
) -> Chosen:
    """Which pieces are written at one place, and from which hits. The drummer's own sounds come first."""
    chosen: Chosen = {}
    for hit in sorted((h for h in hits if h.by == "teacher"), key=lambda h: (ORDER[h.sound], h.second, h.id)):
        chosen.setdefault((hit.sound, hit.second and has_second(kit, hit.sound)), []).append(hit)
    teacher = set(chosen)
    groups: dict[tuple[bool, Sound, bool, Layer | None], list[Hit]] = defaultdict(list)
    for hit in hits:
        if hit.by != "teacher":
            other = hit.layer if hit.layer != "kit" else None
            groups[is_layer(hit, kit), hit.sound, hit.second, other].append(hit)
    for (layered, sound, second, layer), group in sorted(
        groups.items(), key=lambda g: (g[0][0], ORDER[g[0][1]], g[0][2], g[0][3] or "")
    ):
        piece, why, rule, taken = _piece(sound, layer, layered, filled, stands)
        ids = tuple(h.id for h in group)
        key = (piece or sound, second and piece == sound and has_second(kit, sound))
        if second and piece == sound and not key[1]:
            why, rule = f"no second {SAY[sound]} on this kit: struck on the {SAY[sound]}", "missing piece"
        if piece is None or (taken and key not in chosen):
            ledger.write(LEVELS, "dropped", bar, position, sound, taken or why, rule, ids)
        elif key in chosen:
            chosen[key].extend(group)
            why = TWICE if piece == sound and not layered and not second else why
            ledger.write(LEVELS, "merged", bar, position, sound, why, rule, ids, piece)
        else:
            chosen[key] = group
            if piece != sound or (second and not key[1]):
                ledger.write(LEVELS, "moved", bar, position, sound, why, rule, ids, piece)
            if len(group) > 1:
                ledger.write(LEVELS, "merged", bar, position, sound, TWICE, "one stroke", ids[1:], piece)
    if ("kick", True) in chosen and ("kick", False) in chosen:
        gone = chosen.pop(("kick", True))
        chosen["kick", False] = chosen["kick", False] + gone
        ledger.write(LEVELS, "merged", bar, position, "kick", TWICE, "one stroke", tuple(h.id for h in gone), "kick")
    for kept, twin in ONE_SURFACE:
        if (kept, False) in chosen and (twin, False) in chosen and (twin, False) not in teacher:
            gone = chosen.pop((twin, False))
            chosen[kept, False] = chosen[kept, False] + gone
            why = f"one cymbal: it sounds as {SAY[kept]}"
            ledger.write(LEVELS, "merged", bar, position, twin, why, "one stroke", tuple(h.id for h in gone), kept)
    return chosen


def _piece(
    sound: Sound, layer: Layer | None, layered: bool, filled: frozenset[Role], stands: StandIns
) -> tuple[Sound | None, str, str, str]:
    """(piece or None, why, rule, why not unless merged) for one sound at one place."""
    why, rule, wanted, taken = "", "as heard", sound, ""
    if layered:
        row = LAYERS.get(layer) if layer else None
        wanted = (row.to if row and row.to else sound) if sound not in PERCUSSION else sound
        role = SOUND_ROLE.get(wanted)
        who = row.why if row else f"{SAY[sound]}: another player's or a machine's"
        rule = f"layer: {layer or sound}"
        if role is not None and role in filled and not (row and row.keeps):
            taken = f"{who}; the drummer already {ROLE_SAYS[role]} here"
        why = f"{who}; written on the {SAY[wanted]}"
    piece = stands[wanted]
    if piece is None:
        why = f"{MISSING_ROW[wanted].why}; nothing on this kit stands in for the {SAY[wanted]}"
        return None, why, "missing piece", taken
    if piece != wanted:
        why, rule = f"{MISSING_ROW[wanted].why}; written on the {SAY[piece]}", "missing piece"
    return piece, why or f"written on the {SAY[piece]}", rule, taken


def _stand_ins(kit: Kit) -> StandIns:
    return {sound: _on_kit(sound, kit) for sound in SOUNDS}


def _on_kit(sound: Sound, kit: Kit) -> Sound | None:
    """The piece itself, or the first stand-in on the kit that a limb of this player can reach."""
    for piece in (sound, *MISSING_ROW[sound].to):
        if piece in kit.pieces and _playable(piece, kit):
            return piece
    return None


def _playable(piece: Sound, kit: Kit) -> bool:
    feet = [limb for limb in (kit.kick_foot, kit.hat_foot) if limb in kit.limbs]
    if piece == "hat_pedal":
        return kit.hat_foot in kit.limbs
    if piece in FOOT:
        return bool(feet)
    return kit.lead_hand in kit.limbs or kit.other_hand in kit.limbs


class _Bonus:
    """What a place adds to the weight of a note."""

    def __init__(self, grid: Grid, bar: int, position: Fraction, section_start: bool) -> None:
        beat, inside = beat_of(grid.meter(bar), position)
        half_time = grid.feel_of(bar).feel == "half-time"
        self.first = position == 0
        self.on_beat = inside == 0
        self.backbeat = inside == 0 and (beat % 4 == 2 if half_time else beat % 2 == 1)
        self.section = self.first and section_start

    def of(self, piece: Sound) -> float:
        bonus = fidelity.BACKBEAT_BONUS if self.backbeat and piece in ("snare", "rim") else 0.0
        bonus += fidelity.BEAT_KICK_BONUS if self.on_beat and piece == "kick" else 0.0
        bonus += fidelity.ONE_BONUS if self.first and piece in TIMEKEEPERS else 0.0
        bonus += fidelity.DOWNBEAT_CRASH_BONUS if self.first and piece in ("crash", "china") else 0.0
        return bonus + (fidelity.SECTION_START_BONUS if self.section else 0.0)


WAYS: Final[dict[Struck, frozenset[Sound]]] = {
    "rimshot": frozenset[Sound]({"snare"}) | TOMS,
    "buzz": frozenset[Sound]({"snare"}) | TOMS,
    "choke": CYMBALS,
    "let_ring": CYMBALS,
    "half_open": frozenset[Sound]({"hat_open", "hat_closed"}),
    "foot_splash": frozenset[Sound]({"hat_pedal"}),
}
"""What can be struck in which way."""


def _note(
    position: Fraction, key: tuple[Sound, bool], hits: list[Hit], usual: dict[Sound, float], bonus: _Bonus
) -> Note:
    piece, second = key
    own = max(
        hits, key=lambda h: (h.by == "teacher", h.layer in (None, "kit"), h.sound == piece, h.confidence, -h.id)
    )
    above = own.loudness_db - usual[own.sound]
    ghost = piece == "snare" and (own.stress == "ghost" if own.stress else above <= -GHOST_DB)
    value = fidelity.weight(piece, above_usual_db=above, confidence=own.confidence, ghost=ghost)
    if own.layer not in (None, "kit") or (piece != own.sound and own.sound in EXTRA_SOUNDS):
        value *= fidelity.LAYER_SHARE
    pinned = own.by == "teacher"
    velocity = round(USUAL_VELOCITY * 10 ** (above / DB_PER_VELOCITY_DECADE))
    return Note(
        position=position,
        piece=piece,
        heard=own.sound,
        weight=fidelity.PINNED if pinned else value + (0.0 if ghost else bonus.of(piece)),
        velocity=min(max(velocity, 20), 127),
        hits=tuple(h.id for h in hits),
        pinned=pinned,
        ghost=ghost,
        accent=piece not in FOOT and (own.stress == "accent" if own.stress else above >= ACCENT_DB),
        grace=own.grace if piece not in FOOT else None,
        struck=own.struck if own.struck is not None and piece in WAYS[own.struck] else None,
        second=second,
        sure=own.confidence,
    )

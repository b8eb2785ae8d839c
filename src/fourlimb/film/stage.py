"""Scenes -> pictures, one a frame, painted on one canvas.

Two lines of music stand in the picture and take turns: while one is played the other shows what comes next, so no
line moves while it is read. Only what changes from one frame to the next is painted.
"""

from collections.abc import Iterator, Sequence
from typing import Final, Protocol

from fourlimb.engrave import Layout
from fourlimb.model import Sheet
from fourlimb.model.count import say_span

from .canvas import ON_INK, Canvas, Patch
from .notation import Line, key_of, lines_of
from .picture import Zone, Zones
from .scenes import Scene, cut
from .sounding import Take
from .telling import PARTS, Part, told
from .tiles import Align, Grey, Tile, set_tiles, trimmed
from .walking import Walk

FRAMES_A_SECOND: Final = 30


class Beside(Protocol):
    """Something shown beside the music: a teacher's own picture."""

    def paint(self, canvas: Canvas, zone: Zone, song_s: float) -> None:
        """Paint what belongs to a second of the song."""
        ...


class Stage:
    """Everything that is drawn for one sheet."""

    def __init__(self, sheet: Sheet, zones: Zones, layout: Layout, beside: Beside | None = None) -> None:
        self.sheet, self.zones, self.layout = sheet, zones, layout
        self.canvas = Canvas(zones)
        self._beside = beside
        self._lines: tuple[tuple[int, int], list[Line]] = ((-1, -1), [])
        self._known: dict[Tile, Grey] = {}

    def frames(self, scene: Scene, take: Take | None, count: int) -> Iterator[Canvas]:
        """The canvas as it is in each of `count` frames."""
        self.canvas.blank()
        if take is not None:
            yield from self._play(scene, take, count)
            return
        self._card(scene) if scene.kind == "card" else self._look(scene)
        for _ in range(count):
            yield self.canvas

    def _card(self, scene: Scene) -> None:
        zones = self.zones
        zone = Zone(zones.px(260), zones.px(160), zones.wide - 2 * zones.px(260), zones.high - 2 * zones.px(160))
        key = key_of(self.sheet, zones, self.layout) if scene.key else None
        high = zone.high if key is None else zone.high - key.shape[0]
        tile = Tile(wide=zone.wide, high=high, lines=scene.lines, size=52 * zones.share)
        self.canvas.put(self._tile(tile), zone.x, zone.y)
        if key is not None:
            self.canvas.put(key, zones.lines[0].x, zones.high - zones.px(60) - key.shape[0])

    def _look(self, scene: Scene) -> None:
        """A bar with the sentence that tells it, under the bar that it is told from."""
        lines = self._music(scene.bars)
        names = [scene.heading]
        if scene.known is not None:
            lines = [self._music((scene.known, scene.known))[0], *lines]
            names.insert(0, say_span(scene.known, scene.known).capitalize())
        self._words(self.zones.say, scene.say, 58)
        for slot, line in enumerate(lines[:2]):
            self._line(line, slot, now=slot == len(names) - 1, after=False)
            zone, used = self.zones.lines[slot], self.zones.px(60) + 2 * round(max(line.right.values()) / 2)
            if slot < len(names) and used < zone.wide * 2 // 3:
                beside = Zone(zone.x + used, zone.y, zone.wide - used, zone.high)
                self._words(beside, names[slot], 72, bold=slot == len(names) - 1)

    def _play(self, scene: Scene, take: Take, count: int) -> Iterator[Canvas]:
        lines = self._music(scene.bars)
        walk, rows = Walk(take, lines), told(self.sheet, scene, take)
        shown: dict[Part, int] = {}
        visit = -1
        for frame in range(count):
            time_s = (frame + 0.5) / FRAMES_A_SECOND
            for part in PARTS:
                at = rows[part].at(time_s)
                if shown.get(part) != at:
                    shown[part] = at
                    self._tell(part, rows[part].words[at])
            here, x = walk.at(time_s)
            if here != visit:
                visit = here
                self._turn(lines, walk.visits, visit)
            if self._beside is not None and self.zones.footage is not None:
                self._beside.paint(self.canvas, self.zones.footage, take.song_at(time_s))
            if time_s >= walk.end_s:
                yield self.canvas
                continue
            patch = self._mark(lines[walk.visits[visit]], visit % 2, x)
            yield self.canvas
            self.canvas.undo(patch)

    def _mark(self, line: Line, slot: int, x: float) -> Patch:
        zone = self.zones.lines[slot]
        top = zone.y + (zone.high - line.ink.shape[0]) // 2
        bottom = top + line.ink.shape[0]
        return self.canvas.mark(zone.x + x, top - top % 2, bottom + bottom % 2)

    def _turn(self, lines: Sequence[Line], visits: Sequence[int], visit: int) -> None:
        """The line that is played now, and the next one in the other place."""
        for number in (visit, visit + 1):
            line = lines[visits[number]] if number < len(visits) else None
            self._line(line, number % 2, now=number == visit, after=number > visit)

    def _line(self, line: Line | None, slot: int, *, now: bool, after: bool) -> None:
        zones = self.zones
        zone = zones.lines[slot]
        edge = zones.px(30)
        self.canvas.clear(Zone(0, zone.y - edge, zones.wide, zone.high + edge))
        if line is None:
            return
        top = zone.y + (zone.high - line.ink.shape[0]) // 2
        self.canvas.put(line.ink, zone.x, top)
        staff = Zone(zones.px(20), top + round(line.staff[0]), zones.px(14), round(line.staff[1] - line.staff[0]))
        if now:
            self.canvas.ink(staff)
        if after:
            tile = Tile(wide=zones.px(52), high=zones.px(36), lines=("next",), size=26 * zones.share, italic=True)
            self.canvas.put(self._tile(tile), zones.px(6), staff.y - zones.px(38))

    def _tell(self, part: Part, text: str) -> None:
        """Words that changed, in their place."""
        zones = self.zones
        match part:
            case "section":
                self._section(*text.partition("\n")[::2])
            case "bar":
                self._words(zones.bar, text, 60, align="right", bold=True)
            case "count":
                self._words(zones.count, text, 190, bold=True)
            case "heading":
                self._words(zones.heading, text, 40, align="center")
            case "say":
                self._words(zones.say, text, 50)

    def _section(self, name: str, rest: str) -> None:
        """A section's name, light on ink, and what else is to be known of it."""
        zone, gap, over = self.zones.section, self.zones.px(22), self.zones.px(8)
        self.canvas.clear(zone)
        if not name:
            return
        size = 60 * self.zones.share
        tile = Tile(wide=zone.wide - 2 * gap, high=zone.high - 2 * over, lines=(name,), size=size, bold=True)
        box = trimmed(self._tile(tile), gap, over)
        self.canvas.put(box, zone.x, zone.y, ON_INK)
        room = zone.wide - box.shape[1] - gap
        if rest and room > LEAST_ROOM * gap:
            words = Tile(wide=room, high=zone.high, lines=(rest,), size=40 * self.zones.share)
            self.canvas.put(self._tile(words), zone.x + zone.wide - room, zone.y)

    def _words(self, zone: Zone, text: str, size: float, *, align: Align = "left", bold: bool = False) -> None:
        self.canvas.clear(zone)
        if text:
            size *= self.zones.share
            tile = Tile(wide=zone.wide, high=zone.high, lines=(text,), size=size, bold=bold, align=align)
            self.canvas.put(self._tile(tile), zone.x, zone.y)

    def _music(self, bars: tuple[int, int]) -> list[Line]:
        """The lines of some bars; the last ones set are kept."""
        if self._lines[0] != bars:
            self._lines = bars, lines_of(cut(self.sheet, *bars), self.zones, self.layout)
        return self._lines[1]

    def _tile(self, tile: Tile) -> Grey:
        if tile not in self._known:
            if len(self._known) > MOST_KNOWN:
                self._known.clear()
            self._known[tile] = set_tiles([tile])[0]
        return self._known[tile]


MOST_KNOWN: Final = 400
"""Pictures of words that are kept (some tens of megabytes at most)."""

LEAST_ROOM: Final = 4
"""Gaps that there must be beside a section's name for more words (ours)."""

"""Scenes -> pictures, one a frame, painted on one canvas.

Two lines of music stand in the picture and take turns: while one is played the other shows what comes next, so no
line moves while it is read. Only what changes from one frame to the next is painted.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from typing import Final, Protocol

from fourlimb.engrave import Layout
from fourlimb.engrave.counting import count_words
from fourlimb.model import Section, Sheet
from fourlimb.model.count import say_span

from .canvas import ON_INK, ON_PAPER, Canvas
from .notation import Line, key_of, lines_of
from .picture import Zone, Zones
from .scenes import HEADING_LEAST, Scene, cut, news_of, tempo_heading
from .sounding import PlayedBar, Take
from .tiles import Grey, Tile, set_tiles, trimmed
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
        self._sections = {n: s for s in sheet.sections for n in range(s.from_bar, s.to_bar + 1)}

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
        walk = Walk(take, lines)
        told = _Told(self.sheet, scene, take, self._sections)
        shown = [-1] * len(told.rows)
        visit = -1
        for frame in range(count):
            time_s = (frame + 0.5) / FRAMES_A_SECOND
            for n, row in enumerate(told.rows):
                at = row.at(time_s)
                if at != shown[n]:
                    shown[n] = at
                    self._row(n, row.words[at])
            here, x = walk.at(time_s)
            if here != visit:
                visit = here
                self._turn(lines, walk.visits, visit)
            if self._beside is not None and self.zones.footage is not None:
                self._beside.paint(self.canvas, self.zones.footage, take.song_at(time_s))
            patch = None
            if time_s < walk.end_s:
                slot = self.zones.lines[visit % 2]
                ink = lines[walk.visits[visit]].ink
                top = slot.y + (slot.high - ink.shape[0]) // 2
                patch = self.canvas.mark(slot.x + x, top - top % 2, _even(top + ink.shape[0]))
            yield self.canvas
            if patch is not None:
                self.canvas.undo(patch)

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

    def _row(self, number: int, text: str) -> None:
        """One of the changing words (see `_Told`)."""
        zones = self.zones
        if number == 0:
            self.canvas.clear(zones.section)
            name, _, rest = text.partition("\n")
            box = trimmed(self._tile(self._bold(name)), zones.px(22), zones.px(8))
            if name:
                self.canvas.put(box, zones.section.x, zones.section.y, ON_INK)
            room = zones.section.wide - box.shape[1] - zones.px(24)
            if rest and room > zones.px(80):
                words = Tile(wide=room, high=zones.section.high, lines=(rest,), size=40 * zones.share)
                self.canvas.put(self._tile(words), zones.section.x + box.shape[1] + zones.px(24), zones.section.y)
        elif number == 1:
            self._words(zones.bar, text, 60, align="right", bold=True)
        elif number == 2:
            self._words(zones.count, text, 190, bold=True)
        elif number == 3:
            self._words(zones.heading, text, 40, align="center")
        else:
            self._words(zones.say, text, 50)

    def _words(self, zone: Zone, text: str, size: float, *, align: str = "left", bold: bool = False) -> None:
        self.canvas.clear(zone)
        if text:
            tile = Tile(
                wide=zone.wide, high=zone.high, lines=(text,), size=size * self.zones.share, bold=bold,
                align="right" if align == "right" else "center" if align == "center" else "left",
            )  # fmt: skip
            self.canvas.put(self._tile(tile), zone.x, zone.y, ON_PAPER)

    def _bold(self, name: str) -> Tile:
        wide = self.zones.section.wide - 2 * self.zones.px(22)
        high = self.zones.section.high - 2 * self.zones.px(8)
        return Tile(wide=wide, high=high, lines=(name,), size=60 * self.zones.share, bold=True)

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


def _even(number: int) -> int:
    return number + number % 2


class _Row:
    """Words that change at certain times. `words[0]` stands before the first."""

    def __init__(self, changes: Iterable[tuple[float, str]]) -> None:
        ordered = sorted(changes, key=lambda change: change[0])
        self._times = [time_s for time_s, _ in ordered]
        self.words = ["", *(word for _, word in ordered)]

    def at(self, time_s: float) -> int:
        """Which words stand at a time."""
        return bisect_right(self._times, time_s)


class _Told:
    """What is told beside the music while a scene is played: section, bar, count, heading, sentence."""

    def __init__(self, sheet: Sheet, scene: Scene, take: Take, sections: dict[int, Section]) -> None:
        named = [(played.start_s, section_words(sections, played)) for played in take.bars]
        self.rows = (
            _Row([(0.0, named[0][1]), *named]),
            _Row([(0.0, "count-in"), *_bar_words(sheet, scene, take)]),
            _Row([*take.counted, *_counts(sheet, take)]),
            _Row(_headings(sheet, scene, take)),
            _Row(_sentences(sheet, scene, take)),
        )


def section_words(sections: dict[int, Section], played: PlayedBar) -> str:
    """Its name, and what else is to be known: no drums, and for how long."""
    section = sections.get(played.bar)
    if section is None:
        return ""
    left = section.to_bar - played.bar + 1
    if not section.tacet:
        return f"{section.name}\n{say_span(section.from_bar, section.to_bar)}"
    long = section.to_bar - section.from_bar + 1 >= HEADING_LEAST
    return f"{section.name}\nno drums{f', {left} more' if long else ''}"


def _bar_words(sheet: Sheet, scene: Scene, take: Take) -> Iterator[tuple[float, str]]:
    whole = sheet.grid.numbers[-1] if sheet.grid.numbers[0] <= 1 else 0
    inside = scene.bars[1] - scene.bars[0] + 1
    for number, played in enumerate(take.bars):
        name = say_span(played.bar, played.bar).removeprefix("the ")
        rest = f" of {whole}" if played.bar and whole else ""
        if scene.rounds > 1:
            rest = f", {number // inside + 1} of {scene.rounds}"
        yield played.start_s, f"{name}{rest}"


def _counts(sheet: Sheet, take: Take) -> Iterator[tuple[float, str]]:
    for played in take.bars:
        words = count_words(sheet, played.bar)
        yield from ((take.at(played, position), word) for position, word in words)
    yield take.bars[-1].end_s, ""


def _headings(sheet: Sheet, scene: Scene, take: Take) -> Iterator[tuple[float, str]]:
    """The scene's own; of a song played through its tempo, which may change."""
    yield 0.0, scene.heading
    if scene.by_section:
        for played in take.bars:
            yield played.start_s, tempo_heading(sheet, played.bar, scene.speed)


def _sentences(sheet: Sheet, scene: Scene, take: Take) -> Iterator[tuple[float, str]]:
    """The scene's own; of a song played through that of each phrase, or of its new bars."""
    if not scene.by_section:
        yield 0.0, scene.say
        return
    from fourlimb.teach import phrases
    from fourlimb.teach.handout import PHRASE_MOST
    from fourlimb.teach.say import piece_names

    starts = {played.bar: played.start_s for played in take.bars}
    news = news_of(sheet)
    for phrase in phrases(sheet.chart, sheet.grid, sheet.sections, names=piece_names(sheet.kit)):
        bars = [told.bar for told in phrase.bars if told.bar in starts]
        if bars and len(phrase.say) <= PHRASE_MOST:
            at = 0.0 if bars[0] == take.bars[0].bar else starts[bars[0]]
            yield at, f"{phrase.say[:1].upper()}{phrase.say[1:]}"
        elif bars:  # what takes longer to read than to play is told by what is new in it
            yield starts[bars[0]], ""
            for bar in bars:
                if bar in news and len(news[bar]) <= PHRASE_MOST:
                    yield starts[bar], f"{say_span(bar, bar).capitalize()}: {news[bar]}"

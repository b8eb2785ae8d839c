"""What is told beside the music while a scene is played, and when: section, bar, count, heading, sentence."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from typing import Final, Literal, get_args

from fourlimb.engrave.counting import count_words
from fourlimb.model import Section, Sheet
from fourlimb.model.count import say_span

from .scenes import HEADING_LEAST, Scene, news_of, tempo_heading
from .sounding import PlayedBar, Take

Part = Literal["section", "bar", "count", "heading", "say"]
PARTS: Final[tuple[Part, ...]] = get_args(Part)


class Row:
    """Words that change at certain times. `words[0]`, nothing, stands before the first."""

    def __init__(self, changes: Iterable[tuple[float, str]]) -> None:
        ordered = sorted(changes, key=lambda change: change[0])
        self._times = [time_s for time_s, _ in ordered]
        self.words = ["", *(word for _, word in ordered)]

    def at(self, time_s: float) -> int:
        """Which words stand at a time."""
        return bisect_right(self._times, time_s)


def told(sheet: Sheet, scene: Scene, take: Take) -> dict[Part, Row]:
    """All that changes while a scene is played. A section's words are its name and, on a second line, the rest."""
    sections = {n: s for s in sheet.sections for n in range(s.from_bar, s.to_bar + 1)}
    named = [(played.start_s, section_words(sections, played)) for played in take.bars]
    return {
        "section": Row([(0.0, named[0][1]), *named]),
        "bar": Row([(0.0, "count-in"), *_bar_words(sheet, scene, take)]),
        "count": Row([*take.counted, *_counts(sheet, take)]),
        "heading": Row(_headings(sheet, scene, take)),
        "say": Row(_sentences(sheet, scene, take)),
    }


def section_words(sections: Mapping[int, Section], played: PlayedBar) -> str:
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

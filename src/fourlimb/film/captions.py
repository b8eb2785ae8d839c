"""Captions and chapters of a film as data and as text: what is counted, what is said, where things begin.

Captions are WebVTT (W3C): one cue for the count-in, one a bar with its name and count, and before them what is new in
the bar. Chapters are the sections of the song, or the steps of the lesson; the text file has a line each, "0:12 A:
bars 1-8".
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from fourlimb.model import Sheet
from fourlimb.model.count import say_span

from .scenes import Scene, news_of
from .sounding import Take


class Caption(NamedTuple):
    """Words that stand from `start_s` to `end_s` of the film."""

    start_s: float
    end_s: float
    text: str


class Chapter(NamedTuple):
    """A part of the film, seconds, and its name."""

    start_s: float
    end_s: float
    name: str


@dataclass(frozen=True)
class Shot:
    """A scene in its place: seconds of the film, and when it sounds its take."""

    scene: Scene
    start_s: float
    end_s: float
    take: Take | None = None


def captions_of(sheet: Sheet, shots: Sequence[Shot]) -> tuple[Caption, ...]:
    """All captions, in order; none overlaps the next."""
    news = news_of(sheet)
    found = []
    for shot in shots:
        if shot.take is None:
            words = "\n".join(shot.scene.lines) or shot.scene.say
            found.append(Caption(shot.start_s, shot.end_s, words))
        else:
            found += _played(sheet, shot, shot.take, news)
    return tuple(caption for caption in found if caption.text.strip() and caption.end_s > caption.start_s)


def _played(sheet: Sheet, shot: Shot, take: Take, news: Mapping[int, str]) -> Iterator[Caption]:
    starts = {section.from_bar: section.name for section in sheet.sections}
    first = take.bars[0]
    if take.counted:
        words = " ".join(word for _, word in take.counted)
        heading = f"{shot.scene.heading}.\n" if shot.scene.heading else ""
        yield Caption(shot.start_s, shot.start_s + first.start_s, f"{heading}Count-in: {words}")
    for played in take.bars:
        name = say_span(played.bar, played.bar)
        section = f"Section {starts[played.bar]}, " if played.bar in starts else ""
        count = sheet.plan.counts.get(played.bar, "")
        line = f"{section}{name}"
        line = f"{line[:1].upper()}{line[1:]}: {count}" if count else f"{line[:1].upper()}{line[1:]}"
        new = f"\n({news[played.bar]})" if shot.scene.by_section and played.bar in news else ""
        yield Caption(shot.start_s + played.start_s, shot.start_s + played.end_s, line + new)


def chapters_of(sheet: Sheet, shots: Sequence[Shot]) -> tuple[Chapter, ...]:
    """The film's parts, one after another without a gap, the first from 0 s."""
    marks: list[tuple[float, str]] = []
    for shot in shots:
        if shot.scene.by_section and shot.take is not None:
            marks += _sections(sheet, shot, shot.take)
        elif shot.scene.chapter:
            marks.append((shot.start_s, shot.scene.chapter))
    if not marks:
        marks = [(0.0, "The film")]
    starts = [0.0, *(start for start, _ in marks[1:])]
    ends = [*starts[1:], shots[-1].end_s]
    return tuple(
        Chapter(start, end, name) for start, end, (_, name) in zip(starts, ends, marks, strict=True) if end > start
    )


def _sections(sheet: Sheet, shot: Shot, take: Take) -> Iterator[tuple[float, str]]:
    starts = {played.bar: played.start_s for played in take.bars}
    if not sheet.sections:
        yield shot.start_s, "The song"
    for section in sheet.sections:
        if section.from_bar in starts:
            silent = ", no drums" if section.tacet else ""
            name = f"{section.name}: {say_span(section.from_bar, section.to_bar)}{silent}"
            yield shot.start_s + starts[section.from_bar], name


def vtt(captions: Sequence[Caption]) -> str:
    """Captions as a WebVTT file."""
    cues = [f"{_stamp(c.start_s)} --> {_stamp(c.end_s)}\n{escaped(c.text)}\n" for c in captions]
    return "\n".join(["WEBVTT\n", *cues])


def escaped(text: str) -> str:
    """Text of a cue: no markup, no arrow, no empty line."""
    lines = [" ".join(line.split()) for line in text.split("\n")]
    plain = "\n".join(line for line in lines if line)
    return plain.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def chapters_text(chapters: Sequence[Chapter]) -> str:
    """One line a chapter: when it begins, and its name."""
    return "".join(f"{clock(chapter.start_s)} {' '.join(chapter.name.split())}\n" for chapter in chapters)


def clock(seconds: float) -> str:
    """83.4 -> "1:23", 3700 -> "1:01:40"."""
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    minutes = f"{rest // 60:02d}" if hours else f"{rest // 60}"
    return f"{hours}:{minutes}:{rest % 60:02d}" if hours else f"{minutes}:{rest % 60:02d}"


def _stamp(seconds: float) -> str:
    ms = round(seconds * 1000)
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"

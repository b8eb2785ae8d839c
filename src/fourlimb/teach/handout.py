"""The cue sheet as text for people (Markdown) and for spreadsheets (CSV, RFC 4180).

Titles and names come from files and are not trusted: signs that Markdown or HTML would act on are written harmlessly,
and a cell that a spreadsheet would take for a formula starts with an apostrophe.
"""

import csv
import io
import re
from collections.abc import Iterator, Sequence
from typing import Final

from fourlimb.model import LEVEL_SAYS, Difference, Figure, Sheet

from .cautions import cautions
from .cues import Cue, goal_bpm, three_rungs
from .families import Families, families
from .ladder import LADDER, ladder
from .landmarks import landmark_words
from .phrases import phrases
from .say import number, piece_names, runs, say_bars, say_places

_ENTITY = re.compile(r"&(?=#?\w+;)")

CSV_HEAD = ("n", "what", "from_bar", "to_bar", "from_s", "to_s", "tempo_bpm", "say", "play")


def cues_markdown(cues: Sequence[Cue], sheet: Sheet) -> str:
    """The teacher's sheet, short: grooves with what differs from them, fills, joins, phrases, ladder, cautions.

    Every figure of the plan is on it once; every cue in full is in `cues_csv`, every phrase in `phrase_lines`.
    """
    if not cues:
        return f"{_head(sheet)}\n\nThere is nothing to teach yet: the song has no bars.\n"
    found = families(sheet)
    blocks = [_head(sheet), _first(cues), *_grooves(sheet, found), _fills(sheet, found, cues), _alone(sheet, found)]
    blocks += [_joins(cues), _song_in_phrases(sheet), _ladder(sheet), _lost(sheet), _cautions(sheet)]
    return "\n\n".join(block for block in blocks if block) + "\n"


def cues_csv(cues: Sequence[Cue]) -> str:
    """One row a cue; lines end in CR LF, fields with commas or quotes are quoted."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(CSV_HEAD)
    for cue in cues:
        row = (*cue[:4], f"{cue.from_s:.2f}", f"{cue.to_s:.2f}", cue.tempo_bpm, _cell(cue.say), _cell(cue.play))
        writer.writerow(row)
    return out.getvalue()


def say_time(seconds: float) -> str:
    """83.4 -> "1:23"."""
    whole = max(int(seconds), 0)
    return f"{whole // 60}:{whole % 60:02d}"


def _head(sheet: Sheet) -> str:
    title = _plain(sheet.song.title) or "Untitled"
    lines = [f"# {title}: cue sheet", f"Level {sheet.level}: {LEVEL_SAYS[sheet.level]}."]
    if sheet.grid.bars:
        first = sheet.grid.bars[min(1, len(sheet.grid.bars) - 1)]
        whole = sum(bar.bar > 0 for bar in sheet.grid.bars)  # a pickup is no bar, here as on the chart
        lines[1] += f" {first.meter}, {goal_bpm(sheet, first.bar)} beats a minute, {whole} bar{'s' * (whole != 1)}."
    lines += [_plain(credit) for credit in sheet.song.credits]
    return "\n\n".join(lines)


def _first(cues: Sequence[Cue]) -> str:
    """Before anything is played, and what to say when somebody is lost."""
    lines = [f"- {_plain(cue.say)} {_plain(cue.play)}" for cue in cues if cue.what == "listen"]
    lines += [f"- {_plain(cue.say)} {_plain(cue.play)}" for cue in cues if cue.what == "along"]
    return "\n".join(["## First and last", "", *lines])


def _grooves(sheet: Sheet, found: Families) -> Iterator[str]:
    """One block a family: the groove, how it is counted, then each variant in a line."""
    told = {difference.to: difference for difference in sheet.plan.differences}
    for place, family in enumerate(found.grooves, start=1):
        head = family.head
        lines = [
            f"## {place}. {_sentence(say_bars(head.bars))[:-1]} ({_at(sheet, head.first)})",
            "",
            f"{_plain(_sentence(told[head.name].say.removeprefix('new: ')))} {_how(sheet, head.first)}",
        ]
        if family.variants:
            lines.append("")
        for figure in family.variants:
            lines.append(f"- {_bars(figure.bars)}: {_plain(_but(told[figure.name], head))}")
        yield "\n".join(lines)


def _but(difference: Difference, head: Figure) -> str:
    """What differs; from what it differs is said only where that is not the groove above."""
    said = difference.say.removeprefix("new: ")
    known, but, rest = said.partition(", but ")
    return rest if but and difference.from_ == head.name and known.startswith("as bar") else said


def _how(sheet: Sheet, bar: int) -> str:
    """Count, kick, tempi: what is said before a groove is played."""
    meter = sheet.grid.meter(bar)
    parts = [f"Count {sheet.plan.counts.get(bar, '')}."]
    kicks = [stroke.position for stroke in sheet.chart.by_bar.get(bar, ()) if stroke.piece == "kick"]
    if kicks:
        parts.append(
            f"Say only the {piece_names(sheet.kit)['kick']}: {say_places(meter, kicks, sheet.grid.skipped(bar))}."
        )
    parts.append(f"At {', '.join(str(rung) for rung in three_rungs(goal_bpm(sheet, bar)))}.")
    return _plain(" ".join(parts))


def _fills(sheet: Sheet, found: Families, cues: Sequence[Cue]) -> str:
    """Each fill with where it lands."""
    told = {difference.to: difference for difference in sheet.plan.differences}
    lines = []
    for figure in sorted(found.fills, key=lambda fill: fill.first):
        landing = next((c.say for c in cues if c.what == "land" and c.to_bar == figure.first + 1), "")
        say = _sentence(told[figure.name].say.removeprefix("new: "))
        lines.append(f"- {_bars(figure.bars)} ({_at(sheet, figure.first)}): {_plain(f'{say} {landing}'.strip())}")
    head = ["## Fills", "", "Each with the bar before and the landing.", ""]
    return "\n".join([*head, *lines]) if lines else ""


def _alone(sheet: Sheet, found: Families) -> str:
    """Bars like no other."""
    told = {difference.to: difference for difference in sheet.plan.differences}
    lines = [
        f"- {_bars(f.bars)} ({_at(sheet, f.first)}): {_plain(told[f.name].say.removeprefix('new: '))}"
        for f in found.alone
    ]
    return "\n".join(["## Bars of their own", "", *lines]) if lines else ""


def _joins(cues: Sequence[Cue]) -> str:
    spans = [_dash(cue.from_bar, cue.to_bar) for cue in cues if cue.what == "join"]
    if not spans:
        return ""
    return f"## Joined up\n\nWithout a stop, as soon as their bars are known: {', '.join(spans)}."


def _bars(bars: Sequence[int]) -> str:
    return ", ".join("pickup" if first == last == 0 else _dash(first, last) for first, last in runs(bars))


def _dash(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first}-{last}"


def _at(sheet: Sheet, bar: int) -> str:
    return say_time(sheet.grid.at(bar).start_s)


PHRASE_MOST: Final = 150
"""Letters of a phrase's sentence from which it is left to the teacher's book (ours: two lines of a page)."""


def _song_in_phrases(sheet: Sheet) -> str:
    """Phrases that come again, that are all one bar, or silent: what one sentence tells."""
    short = [_sentence(say) for say in phrase_lines(sheet) if len(say) <= PHRASE_MOST]
    return "\n".join(["## The song in phrases", "", *(f"- {_plain(line)}" for line in short)]) if short else ""


def phrase_lines(sheet: Sheet) -> list[str]:
    """Every phrase of the song in a sentence, in order."""
    return [told.say for told in phrases(sheet.chart, sheet.grid, sheet.sections, names=piece_names(sheet.kit))]


def _ladder(sheet: Sheet) -> str:
    if not sheet.chart.strokes or not sheet.grid.bars:
        return ""
    rungs = ladder(goal_bpm(sheet, sheet.chart.strokes[0].bar))
    steps = " · ".join(f"**{rung.bpm}**" if rung.share == 1.0 else f"{rung.bpm}" for rung in rungs)
    how = f"{number(LADDER.clean)} clean in a row, then up; {number(LADDER.failures)} failures, then down."
    return "\n".join(["## Ladder", "", f"{steps}: {how}", "", " ".join(cautions("ladder"))])


def _lost(sheet: Sheet) -> str:
    words = landmark_words(sheet.landmarks, sheet.sections)
    if not words:
        return ""
    return "\n".join(["## If you are lost", "", *(f"- {_plain(_sentence(line))}" for line in words)])


def _cautions(sheet: Sheet) -> str:
    said = [*cautions("page"), *cautions("lesson"), *cautions("export")]
    return "\n".join(["## Take care", "", *(f"- {line}" for line in said)])


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + "."


def _plain(text: str) -> str:
    """One line without signs that Markdown or HTML act on."""
    line = " ".join(text.split())
    line = _ENTITY.sub("&amp;", line).replace("<", "&lt;").replace(">", "&gt;")
    return "".join(f"\\{sign}" if sign in "\\`*_[]|#" else sign for sign in line)


def _cell(text: str) -> str:
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text

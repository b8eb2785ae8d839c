"""Captions and chapters as text: WebVTT that parses back, times in order, nothing from a song that acts as markup."""

import itertools
import re

from fourlimb import film
from fourlimb.film.captions import Caption, Chapter, captions_of, chapters_of, clock
from fourlimb.film.make import shots_of
from fourlimb.model import Sheet

CUE = re.compile(r"(\d\d):(\d\d):(\d\d\.\d{3}) --> (\d\d):(\d\d):(\d\d\.\d{3})\n((?:.+\n)+)")


def seconds(hours: str, minutes: str, rest: str) -> float:
    return int(hours) * 3600 + int(minutes) * 60 + float(rest)


def test_captions_count_every_bar_and_never_overlap(sheet: Sheet) -> None:
    shots = shots_of(sheet, film.played_through(sheet), film.Wanted())
    captions = captions_of(sheet, shots)
    text = film.vtt(captions)
    assert text.startswith("WEBVTT\n\n")
    found = [
        (seconds(*cue.groups()[:3]), seconds(*cue.groups()[3:6]), cue.group(7).strip()) for cue in CUE.finditer(text)
    ]
    assert len(found) == len(captions)
    for (_, end, _), (start, _, _) in itertools.pairwise(found):
        assert start >= end - 0.0005
    for bar in range(1, 13):
        assert any(re.search(rf"\bbar {bar}: 1 ", words, re.IGNORECASE) for _, _, words in found)
    assert any("(as bars 2-3, but" in words for _, _, words in found), "what changes is said"
    assert found[1][2].endswith("Count-in: 1 2"), "a pickup of two beats is counted in up to where it begins"


def test_nothing_in_a_caption_acts_as_markup() -> None:
    text = film.vtt([Caption(0.0, 1.0, "<b>A</b> & --> B\n\n\nC")])
    assert text == "WEBVTT\n\n00:00:00.000 --> 00:00:01.000\n&lt;b&gt;A&lt;/b&gt; &amp; --&gt; B\nC\n"


def test_chapters_are_the_sections_without_a_gap(sheet: Sheet) -> None:
    shots = shots_of(sheet, film.played_through(sheet), film.Wanted())
    chapters = chapters_of(sheet, shots)
    assert [chapter.name.partition(":")[0] for chapter in chapters] == [section.name for section in sheet.sections]
    assert chapters[0].start_s == 0.0
    assert chapters[-1].end_s == shots[-1].end_s
    for one, after in itertools.pairwise(chapters):
        assert one.end_s == after.start_s


def test_a_chapter_begins_where_its_section_is_played(sheet: Sheet) -> None:
    import msgspec

    from fourlimb.model import Section

    two = msgspec.structs.replace(
        sheet,
        sections=(
            Section(name="A", from_bar=0, to_bar=8),
            Section(name="B", from_bar=9, to_bar=12, tacet=True),
        ),
    )
    shots = shots_of(two, film.played_through(two), film.Wanted())
    chapters = chapters_of(two, shots)
    take = shots[1].take
    assert take is not None
    start = next(played.start_s for played in take.bars if played.bar == 9)
    assert chapters[1].start_s == shots[1].start_s + start
    assert chapters[1].name == "B: bars 9-12, no drums"


def test_chapters_as_text() -> None:
    text = film.chapters_text(
        [Chapter(0.0, 83.9, "A: bars 1-8"), Chapter(83.9, 4000.0, "B\n x"), Chapter(4000, 4001, "C")]
    )
    assert text == "0:00 A: bars 1-8\n1:23 B x\n1:06:40 C\n"
    assert clock(3600) == "1:00:00"

"""Folding a song and playing it from its marks: the same song, always."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fourlimb.engrave.repeats import Mark, fold, played


def song(text: str) -> tuple[list[str], list[int]]:
    """ "abcd abcd" -> bars and where sections (words) start."""
    keys: list[str] = []
    starts = []
    for word in text.split():
        starts.append(len(keys))
        keys += word
    return keys, starts


def said(text: str) -> str:
    """The folded song in one line: |: :|, endings as [1 ], jumps by name."""
    keys, starts = song(text)
    form = fold(keys, starts)
    out = []
    open_ending: tuple[int, ...] = ()
    for bar, mark in zip(form.written, form.marks, strict=True):
        if mark.ending != open_ending:
            out.append("]" if open_ending else "")
            out.append(f"[{'.'.join(map(str, mark.ending))} " if mark.ending else "")
            open_ending = mark.ending
        out.append("S" * mark.segno + "O" * mark.coda + "|:" * mark.start + keys[bar])
        out.append((f":|{mark.end}" if mark.end else "") + "(to O)" * mark.to_coda + "(fine)" * mark.fine)
        if mark.jump:
            out.append(f"({mark.jump}{' again' if mark.again else ''})")
    return "".join(out) + ("]" if open_ending else "")


@pytest.mark.parametrize(
    ("bars", "written"),
    [
        ("abcd efgh", "abcdefgh"),
        ("abcd abcd", "|:abcd:|2"),
        ("abcd abcd abcd abcd", "|:abcd:|4"),
        ("abcdabcd efgh", "|:abcd:|2efgh"),
        ("abcdefgx abcdefgy", "|:abcdefg[1 x:|2][2 y]"),
        ("abcdefxy abcdefzw", "|:abcdef[1 xy:|2][2 zw]"),
        ("abcx abcx abcy", "|:abc[1.2 x:|3][3 y]"),
        ("xxxx abcdefgh abcdefgh yyyy", "xxxx|:abcdefgh:|2yyyy"),
        ("aaaaaaaa", "aaaaaaaa"),  # a run of one bar has its own sign
        ("aaaa aaaa bbbb", "|:aaaa:|2bbbb"),
        ("iiii abcdefgh klmn abcdefgh zzzz", "iiiiSabcdefgh(to O)klmn(D.S.)Ozzzz"),
        ("iiii abcdefgh klmn abcdefgh", "iiiiSabcdefgh(fine)klmn(D.S.)"),
        ("abcdefgh klmn abcdefgh zzzz", "abcdefgh(to O)klmn(D.C.)Ozzzz"),
        ("abcdefgh klmn abcdefgh", "abcdefgh(fine)klmn(D.C.)"),
        ("ij abcdefgh abcdefgh klmn abcdefgh zz", "ijS|:abcdefgh:|2(to O)klmn(D.S.)Ozz"),
        ("ij abcdefgh abcdefgh klmn abcdefgh abcdefgh zz", "ijS|:abcdefgh:|2(to O)klmn(D.S. again)Ozz"),
    ],
)
def test_a_song_is_written_as_a_copyist_would(bars: str, written: str) -> None:
    assert said(bars) == written


@st.composite
def songs(draw: st.DrawFn) -> tuple[list[str], list[int]]:
    """Sections built of a few phrases that come again, sometimes with another last bar or a bar more."""
    phrase = st.text("abcd", min_size=1, max_size=4)
    phrases = draw(st.lists(phrase, min_size=1, max_size=4))
    sections = []
    for _ in range(draw(st.integers(1, 9))):
        section = "".join(draw(st.lists(st.sampled_from(phrases), min_size=1, max_size=4)))
        if draw(st.booleans()):
            section = section[:-1] + draw(st.sampled_from("abcxyz"))
        sections.append(section)
    text = " ".join(draw(st.lists(st.sampled_from(sections), min_size=1, max_size=10)))
    return song(text)


@given(songs())
def test_what_is_folded_is_played_back_exactly(made: tuple[list[str], list[int]]) -> None:
    keys, starts = made
    form = fold(keys, starts)
    assert [keys[form.written[n]] for n in played(form.marks)] == keys
    assert list(form.written) == sorted(set(form.written))
    assert sorted(bar for bars in form.passes for bar in bars) == list(range(len(keys)))
    assert all(bars[0] == bar for bar, bars in zip(form.written, form.passes, strict=True))


@given(songs())
def test_a_fold_is_never_longer_and_passes_stay_in_a_row(made: tuple[list[str], list[int]]) -> None:
    keys, starts = made
    form = fold(keys, starts)
    assert len(form.written) <= len(keys)
    for here, after, mark in zip(form.passes, form.passes[1:], form.marks, strict=False):
        follows = form.marks[form.passes.index(after)] if after in form.passes else Mark()
        if not (mark.ends or mark.ending or follows.begins or follows.ending):
            assert [bar + 1 for bar in here] == list(after)


def test_nothing_before_the_first_section_returns() -> None:
    keys, _ = song("abcdabcd")
    assert fold(keys, [4]).marks == (Mark(),) * 8
    assert fold([], []).written == ()

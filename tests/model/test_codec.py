"""Objects to JSON and back."""

from fractions import Fraction

import pytest

from fourlimb.model import Change, Chart, ChartBar, Difference, InputError, Stroke
from fourlimb.model.codec import decode, encode, from_plain, to_plain

STROKE = Stroke(bar=1, position=Fraction(3, 16), piece="snare", limb="left hand", letter="L", hits=(17,))


def test_a_chart_survives_the_round_trip_exactly() -> None:
    chart = Chart(strokes=(STROKE,), bars=(ChartBar(bar=1, figure="A", difficulty=2.1, count="1 a"),), grade=3.4)
    assert decode(encode(chart), Chart) == chart
    assert encode(decode(encode(chart), Chart)) == encode(chart)


def test_positions_are_written_as_fractions() -> None:
    assert to_plain(STROKE)["position"] == "3/16"


def test_unknown_fields_at_every_depth_are_kept() -> None:
    raw = to_plain(Chart(strokes=(STROKE,), bars=(), grade=1.0))
    raw["strokes"][0]["colour_of_stick"] = {"wood": True}
    raw["mood"] = [1, 2]
    assert to_plain(from_plain(raw, Chart)) == raw


def test_from_is_spelled_without_an_underscore_in_files() -> None:
    change = Change(what="move", piece="kick", from_=Fraction(7, 8), to=Fraction(15, 16))
    difference = Difference(from_="A", to="B", say="as bar 1", changes=(change,))
    plain = to_plain(difference)
    assert plain["from"] == "A"
    first = plain["changes"][0]
    assert (first["what"], first["piece"], first["from"], first["to"]) == ("move", "kick", "7/8", "15/16")
    assert "from_" not in first
    assert from_plain(plain, Difference) == difference


@pytest.mark.parametrize(
    ("data", "part"),
    [
        (b"{", "not readable as JSON"),
        (b'{"strokes": 3, "bars": [], "grade": 1}', "$.strokes"),
        (
            b'{"strokes": [{"bar": 1, "position": "x", "piece": "kick", "limb": "right foot"}]}',
            "$.strokes[0].position",
        ),
        (b'{"strokes": [], "bars": []}', "grade"),
    ],
)
def test_a_damaged_file_is_named_in_one_line(data: bytes, part: str) -> None:
    with pytest.raises(InputError) as caught:
        decode(data, Chart, where="lesson.json")
    assert part in str(caught.value)
    assert "lesson.json" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_number_that_json_cannot_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot be written"):
        encode(Chart(strokes=(), bars=(), grade=float("nan")))

"""Makes the pictures of docs/gallery.md: `python docs/make_gallery.py` (the same bytes every time).

`tests/engrave/test_gallery.py` makes them too and holds them to those in docs/pictures.
"""

import io
import sys
from fractions import Fraction
from pathlib import Path

import msgspec
import pypdfium2
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "engrave"))

from builder import FILL, GROOVE, night_ferry, sheet

from fourlimb import teach
from fourlimb.engrave import Layout, chart_pdf, excerpts, figures_pdf, practice_pdf, roadmap_pdf, teacher_pdf
from fourlimb.engrave.typesetting import svg_png
from fourlimb.model import Doubt, Kit, Reason, Sheet
from fourlimb.model.kit import MIDDLE_LINE_KEY

HERE = Path(__file__).parent
PPI = 100
STRIP_PPI = 150
STRIPS: dict[str, str] = {
    "groove": GROOVE,
    "linear": "hat 1 2 3; kick 1& 2& 3&; snare 1e 2e 3e; kick 4; snare 4&",
    "ghosts": "hat every 8th; kick 1 3; snare [accent] 2 4; snare [ghost] 2a 3e 4a",
    "open": "hat 1 1& 2 2& 3 3& 4; open hat 4&; kick 1 1& 3; snare [accent] 2 4",
    "triplets": "snare 1 1trip 1let; high tom 2 2trip 2let; mid tom 3 3trip 3let; floor tom 4 4trip 4let; kick 1 3",
    "graces": "snare [flam] 1; snare [drag] 2; snare [ruff] 3; snare [buzz] 4; foot hat 1 2 3 4",
    "rolls": "snare [roll 32] [lasts 1/2] 1; snare [accent] 3; snare [roll 32] [lasts 3/16] 3a; kick 1 2 3 4",
    "ride": "ride 1 2 2& 3 4 4&; ride bell 1& 3&; foot hat 2 4; kick 1 3; rim 2 4",
    "colours": "china 1; splash 2; crash [choke] 3; cowbell 4; kick 1 2 3 4",
}


def planned(made: Sheet) -> Sheet:
    """The sheet with its figures, differences and count lines."""
    return msgspec.structs.replace(made, plan=teach.plan(made.chart, made.grid, made.kit))


def pictures() -> dict[str, bytes]:
    """Every picture of the gallery by file name."""
    found = {f"gallery-{name}.png": grey_page(pdf, page) for name, (pdf, page) in documents().items()}
    count = Layout(show_count=True)
    for name, text in STRIPS.items():
        found[f"gallery-{name}.png"] = grey(svg_png(excerpts(planned(sheet([text])), [1], count)[1], STRIP_PPI))
    middle = planned(sheet([GROOVE], kit=Kit(key=MIDDLE_LINE_KEY)))
    found["gallery-middle-line.png"] = grey(svg_png(excerpts(middle, [1], count)[1], STRIP_PPI))
    for meter, text in {"6-8": "hat every 8th; kick 1 2; snare 2", "7-8": "hat every 8th; kick 1 3; snare 2"}.items():
        odd = planned(sheet([text], meters=meter.replace("-", "/")))
        found[f"gallery-{meter}.png"] = grey(svg_png(excerpts(odd, [1], count)[1], STRIP_PPI))
    return found


def documents() -> dict[str, tuple[bytes, int]]:
    """PDF and page of every document that the gallery shows."""
    made = planned(night_ferry())
    long = planned(
        sheet(
            [GROOVE, FILL] * 30,
            sections=[("A verse", 1, 16), ("B refrain", 17, 32), ("C solo", 33, 48), ("D out", 49, 60)],
        )
    )
    doubts = [Doubt(bar=8, share=0.4, why="two snares were heard")]
    why = "two hands already play: the tambourine is left out"
    reasons = [Reason(what="dropped", bar=n, position=Fraction(1, 4), sound="tambourine", why=why) for n in (3, 4, 6)]
    ladder = [rung.bpm for rung in teach.ladder(152)]
    book = teacher_pdf(made, doubts=doubts, reasons=reasons, phrases=teach.phrase_lines(made))
    return {
        "chart": (chart_pdf(made), 0),
        "chart-count": (chart_pdf(made, Layout(show_count=True, show_sticking=True, paper="letter")), 0),
        "chart-landscape": (chart_pdf(made, Layout(landscape=True)), 0),
        "chart-large": (chart_pdf(made, Layout(scale=1.5, landscape=True)), 0),
        "chart-double": (chart_pdf(made, Layout(scale=2.0)), 0),
        "two-pages-1": (chart_pdf(long, Layout(simile="never", repeats="written out", show_count=True)), 0),
        "two-pages-2": (chart_pdf(long, Layout(simile="never", repeats="written out", show_count=True)), 1),
        "roadmap": (roadmap_pdf(made), 0),
        "figures": (figures_pdf(made), 0),
        "practice": (practice_pdf(made, rungs=ladder, care=teach.cautions("ladder")), 0),
        "book": (book, -1),
    }


def grey_page(pdf: bytes, page: int) -> bytes:
    """A page of a PDF as a small grey PNG."""
    document = pypdfium2.PdfDocument(pdf)
    image = document[page % len(document)].render(scale=PPI / 72, grayscale=True).to_pil()
    return small_png(image)


def grey(png: bytes) -> bytes:
    """The same picture in a few greys."""
    return small_png(Image.open(io.BytesIO(png)).convert("L"))


def small_png(image: Image.Image) -> bytes:
    """Sixteen greys, as small as it goes."""
    out = io.BytesIO()
    image.quantize(16).save(out, "PNG", optimize=True)
    return out.getvalue()


if __name__ == "__main__":
    for name, data in pictures().items():
        (HERE / "pictures" / name).write_bytes(data)
        print(name, len(data))

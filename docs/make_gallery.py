"""Makes the pictures of docs/gallery.md: `python docs/make_gallery.py` (the same bytes every time)."""

import sys
from pathlib import Path
from typing import Any

import msgspec

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "engrave"))

from builder import GROOVE, night_ferry, sheet

from fourlimb import teach
from fourlimb.engrave import Layout, chart_pdf, excerpts, figures_pdf, practice_pdf, roadmap_pdf
from fourlimb.engrave.typesetting import svg_png
from fourlimb.model import Kit, Sheet
from fourlimb.model.kit import MIDDLE_LINE_KEY

HERE = Path(__file__).parent
PPI = 100
STRIPS: dict[str, str] = {
    "groove": GROOVE,
    "linear": "hat 1 2 3; kick 1& 2& 3&; snare 1e 2e 3e; kick 4; snare 4&",
    "ghosts": "hat every 8th; kick 1 3; snare [accent] 2 4; snare [ghost] 2a 3e 4a",
    "open": "hat 1 1& 2 2& 3 3& 4; open hat 4&; kick 1 1& 3; snare [accent] 2 4",
    "triplets": "snare 1 1trip 1let; high tom 2 2trip 2let; mid tom 3 3trip 3let; floor tom 4 4trip 4let; kick 1 3",
    "graces": "snare [flam] 1; snare [drag] 2; snare [ruff] 3; snare [buzz] 4; foot hat 1 2 3 4",
    "ride": "ride 1 2 2& 3 4 4&; ride bell 1& 3&; foot hat 2 4; kick 1 3; rim 2 4",
    "colours": "china 1; splash 2; crash [choke] 3; cowbell 4; kick 1 2 3 4",
}


def planned(made: Sheet) -> Sheet:
    """The sheet with its figures, differences and count lines."""
    return msgspec.structs.replace(made, plan=teach.plan(made.chart, made.grid, made.kit))


def pictures() -> dict[str, bytes]:
    """Every picture of the gallery by file name."""
    made = planned(night_ferry())
    pages: dict[str, tuple[Any, Layout]] = {
        "chart": (chart_pdf, Layout()),
        "chart-count": (chart_pdf, Layout(show_count=True, show_sticking=True, paper="letter")),
        "chart-large": (chart_pdf, Layout(scale=1.5, landscape=True)),
        "roadmap": (roadmap_pdf, Layout()),
        "figures": (figures_pdf, Layout()),
        "practice": (practice_pdf, Layout()),
    }
    found = {f"gallery-{name}.png": first_page(make(made, layout)) for name, (make, layout) in pages.items()}
    for name, text in STRIPS.items():
        found[f"gallery-{name}.png"] = svg_png(excerpts(planned(sheet([text])), [1], Layout(show_count=True))[1], PPI)
    middle = planned(sheet([GROOVE], kit=Kit(key=MIDDLE_LINE_KEY)))
    found["gallery-middle-line.png"] = svg_png(excerpts(middle, [1], Layout(show_count=True))[1], PPI)
    for meter, text in {"6-8": "hat every 8th; kick 1 2; snare 2", "7-8": "hat every 8th; kick 1 3; snare 2"}.items():
        odd = planned(sheet([text], meters=meter.replace("-", "/")))
        found[f"gallery-{meter}.png"] = svg_png(excerpts(odd, [1], Layout(show_count=True))[1], PPI)
    return found


def first_page(pdf: bytes) -> bytes:
    """Page one of a PDF as a grey PNG."""
    import io

    import pypdfium2

    image = pypdfium2.PdfDocument(pdf)[0].render(scale=PPI / 72, grayscale=True).to_pil()
    out = io.BytesIO()
    image.quantize(16).save(out, "PNG", optimize=True)
    return out.getvalue()


if __name__ == "__main__":
    for name, data in pictures().items():
        (HERE / "pictures" / name).write_bytes(data)
        print(name, len(data))

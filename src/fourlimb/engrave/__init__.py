"""Chart -> pages and open score formats. In: `Sheet`. Out: MEI, SVG, PDF, MusicXML, MIDI, and MusicXML read back.

Every function is pure: the same sheet and layout give the same bytes. Drawing needs verovio and typst, which are
imported only when something is drawn.
"""

from .book import CueLine, teacher_pdf
from .cursor import Cursor, CursorBox, cursor
from .documents import chart_pdf
from .excerpt import excerpts
from .figures import figures_pdf, practice_pdf
from .layout import Layout
from .meidoc import mei
from .midi import midi
from .musicxml import musicxml, mxl
from .overview import roadmap_pdf
from .page import svg_lines, svg_pages
from .reading import Score, read_musicxml

__all__ = [
    "CueLine", "Cursor", "CursorBox", "Layout", "Score",
    "chart_pdf", "cursor", "excerpts", "figures_pdf", "mei", "midi", "musicxml", "mxl", "practice_pdf",
    "read_musicxml", "roadmap_pdf", "svg_lines", "svg_pages", "teacher_pdf",
]  # fmt: skip

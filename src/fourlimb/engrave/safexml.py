"""XML and .mxl from strangers, read safely: no entities, no network, bounded size and depth.

A MusicXML file names a DTD in its DOCTYPE; that is allowed and never fetched. Declaring entities is not: that is how
a small file grows to gigabytes. Sizes are limits on what is unpacked, not on what the archive claims.
"""

import io
import xml.etree.ElementTree as ElementTree
import zipfile
import zlib
from typing import Final
from xml.parsers import expat

from fourlimb.model import InputError

MAX_BYTES: Final = 64 * 1024 * 1024
"""Most bytes of XML that are read (a 300-bar part is about 1 MB)."""

MAX_DEPTH: Final = 64
"""Deepest nesting (MusicXML itself needs about 12)."""

MAX_ENTRIES: Final = 2000
"""Most files in an .mxl."""


def score_root(data: bytes, name: str) -> ElementTree.Element:
    """The root element of a MusicXML document, plain or .mxl. Raises InputError, one line, naming `name`."""
    if not data.strip():
        raise InputError(f"{name} is empty: export the score again")
    if data[:4] == b"PK\x03\x04":
        data = _unpack(data, name)
    return parse(data, name)


def parse(data: bytes, name: str) -> ElementTree.Element:
    """XML text as elements, namespaces dropped. Raises InputError."""
    if len(data) > MAX_BYTES:
        raise InputError(f"{name} is larger than {MAX_BYTES >> 20} MB of XML: it is not a drum part")
    builder = _Builder()
    parser = expat.ParserCreate()
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.text
    parser.EntityDeclHandler = builder.entity
    parser.buffer_text = True
    try:
        parser.Parse(data, True)
    except _RefusedError as refused:
        raise InputError(f"{name} {refused}: export the score again from your notation program") from None
    except (expat.ExpatError, ValueError, LookupError) as error:
        raise InputError(f"{name} is not well-formed XML ({error}): export the score again") from None
    return builder.root


class _RefusedError(Exception):
    """What the file does that no score needs to do."""


class _Builder:
    def __init__(self) -> None:
        self.root = ElementTree.Element("nothing")
        self._stack: list[ElementTree.Element] = []

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        element = ElementTree.Element(tag.rpartition(":")[2], attributes)
        if len(self._stack) >= MAX_DEPTH:
            raise _RefusedError(f"nests deeper than {MAX_DEPTH} elements")
        if self._stack:
            self._stack[-1].append(element)
        else:
            self.root = element
        self._stack.append(element)

    def end(self, tag: str) -> None:
        self._stack.pop()

    def text(self, text: str) -> None:
        if self._stack and not len(self._stack[-1]):
            self._stack[-1].text = (self._stack[-1].text or "") + text

    def entity(self, *_: object) -> None:
        raise _RefusedError("declares XML entities, which a score has no use for")


def _unpack(data: bytes, name: str) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            if len(names) > MAX_ENTRIES:
                raise InputError(f"{name} holds {len(names)} files: an .mxl holds a few; export the score again")
            return _read(archive, _root_file(archive, names, name), name)
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        NotImplementedError,
        RuntimeError,
        OSError,
        ValueError,
    ) as error:
        raise InputError(f"{name} is a damaged .mxl archive ({error}): export the score again") from None


def _root_file(archive: zipfile.ZipFile, names: list[str], name: str) -> str:
    if "META-INF/container.xml" in names:
        container = parse(_read(archive, "META-INF/container.xml", name), f"{name} (container.xml)")
        for file in container.iter("rootfile"):
            path = file.get("full-path", "")
            if path in names:
                return path
    for candidate in names:
        if candidate.lower().endswith((".musicxml", ".xml")) and not candidate.startswith("META-INF"):
            return candidate
    raise InputError(f"{name} holds no score: export it again as .musicxml or .mxl")


def _read(archive: zipfile.ZipFile, path: str, name: str) -> bytes:
    with archive.open(path) as file:
        data = file.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise InputError(f"{name} unpacks to more than {MAX_BYTES >> 20} MB: it is not a drum part")
    return data

"""The key: where each sound stands on the staff, by school, read from one table (`keys.toml`).

A key is data. The schools that ship with the project and a teacher's own file have one shape; what a file does not
say is taken from the school it is `like`.
"""

import re
import tomllib
from collections.abc import Mapping
from importlib import resources
from typing import Any, Final, Literal, cast

import msgspec

from .errors import InputError
from .sounds import SOUNDS, Sound

Head = Literal["normal", "x", "circle-x", "diamond", "triangle", "plus", "slash"]
Voice = Literal["hands", "feet"]

HIGHEST, LOWEST = 25, -12
"""Lines that a staff place may have (six ledger lines and more are no longer read, but drawn)."""


class StaffPlace(msgspec.Struct, frozen=True, kw_only=True):
    """Where a sound stands. `line`: steps above the bottom line (0 = bottom line, 1 = first space, 8 = top line).

    `midi`: the percussion key that files carry, counted from 0 (None: that of the General MIDI map).
    """

    line: int
    head: Head = "normal"
    voice: Voice = "hands"
    midi: int | None = None


Key = dict[Sound, StaffPlace]


class School(msgspec.Struct, frozen=True, kw_only=True):
    """One school's key, the places of the second of a kind, and where it comes from."""

    key: Key
    second: Key
    source: str = ""


def read_schools(
    text: str, *, name: str = "keys.toml", known: Mapping[str, School] | None = None
) -> dict[str, School]:
    """All schools of a key file (TOML). `known`: schools that a school of the file may be `like`.

    Raises InputError, one line that names the file and the row, for what cannot be.
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{name} is not a key file ({error}): write rows like snare = {{ line = 5 }}") from None
    found: dict[str, School] = dict(known or {})
    read: dict[str, School] = {}
    for school, table in tables.items():
        if not isinstance(table, dict):
            raise InputError(f'{name}: "{school}" stands in no school: begin the file with a name in brackets')
        found[school] = read[school] = _school(name, school, table, found)
    if not read:
        raise InputError(f"{name} holds no key: begin it with the school's name in brackets, then its rows")
    return read


def read_key(text: str, *, name: str) -> School:
    """A teacher's own key file: its first school, on top of the one it is `like` ("five-piece" when it says none)."""
    return next(iter(read_schools(text, name=name, known=SCHOOLS).values()))


def _school(name: str, school: str, table: Mapping[str, Any], found: Mapping[str, School]) -> School:
    unknown = set(table) - {"source", "like", "key", "second"}
    if unknown:
        raise InputError(f'{name}: "{min(unknown)}" is no part of a school: use source, like, key and second')
    like = table.get("like", next(iter(found), None))
    if like is not None and like not in found:
        raise InputError(f'{name}: {school} is like "{like}", which is not known: use one of {", ".join(found)}')
    base = found[like] if like is not None else School(key={}, second={})
    key = base.key | _rows(name, table.get("key", {}), base.key)
    second = base.second | _rows(name, table.get("second", {}), base.second)
    missing = [sound for sound in SOUNDS if sound not in key]
    if missing:
        raise InputError(f"{name}: {school} has no row for {missing[0]}: add one, or say which school it is like")
    return School(key=key, second=second, source=str(table.get("source", "")))


def _rows(name: str, rows: object, base: Key) -> Key:
    if not isinstance(rows, dict):
        raise InputError(f"{name}: key and second hold rows like snare = {{ line = 5 }}")
    found: Key = {}
    for sound, row in rows.items():
        if sound not in SOUNDS:
            raise InputError(f'{name}: "{sound}" is no sound: use one of {", ".join(SOUNDS)}')
        before = msgspec.to_builtins(base[sound]) if sound in base else {}
        found[cast(Sound, sound)] = _place(f"{name}, {sound}", before, row)
    return found


def _place(where: str, before: Mapping[str, object], row: object) -> StaffPlace:
    if not isinstance(row, dict) or set(row) - {"line", "head", "voice", "midi"}:
        raise InputError(f'{where}: a row says line, head, voice and midi, like {{ line = 5, head = "x" }}')
    try:
        place = msgspec.convert({**before, **row}, StaffPlace)
    except msgspec.ValidationError as error:
        raise InputError(f"{where}: {re.sub(r'[`$]', '', str(error))}") from None
    if not LOWEST <= place.line <= HIGHEST or not (place.midi is None or 0 <= place.midi <= 127):
        raise InputError(f"{where}: a line is {LOWEST} to {HIGHEST} and a midi key 0 to 127")
    return place


SCHOOLS: Final = read_schools(resources.files(__package__).joinpath("keys.toml").read_text(encoding="utf-8"))
"""The schools that ship with the project."""

KEYS: Final[dict[str, Key]] = {name: school.key for name, school in SCHOOLS.items()}
"""Their keys by name, the usual one first."""

FIVE_PIECE_KEY: Final = KEYS["five-piece"]
MIDDLE_LINE_KEY: Final = KEYS["middle line"]
SECOND_KEY: Final = SCHOOLS["five-piece"].second

"""Text and data made safe to stand inside an HTML page."""

import json
from html import escape
from typing import Any

__all__ = ["data", "text"]

_IN_SCRIPT = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def data(value: Any) -> str:
    """JSON that may stand inside a script element: no `</script>`, `<!--` or line separator survives in it."""
    packed = json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=False, allow_nan=False)
    for sign, code in _IN_SCRIPT.items():
        packed = packed.replace(sign, code)
    return packed.encode("utf-8", "replace").decode("utf-8")


def text(value: str) -> str:
    """Text for element content or a quoted attribute; control characters become spaces, lone surrogates marks."""
    plain = "".join(" " if ord(sign) < 32 or ord(sign) == 127 else sign for sign in value)
    return escape(plain.encode("utf-8", "replace").decode("utf-8"), quote=True)

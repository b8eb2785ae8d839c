"""The engraver's own process: reads batches of MEI lines from its input, answers each with an SVG.

Run as a script by `engraver`, never imported: it knows verovio and the standard library and nothing of ours. Frames
both ways are a length (4 bytes, big-endian), then that many bytes. A request is JSON: `options` and `documents`, each
a text and its options. An answer starts with "S" and the SVG, or "E" and what went wrong. The first frame, sent once
the engraver is loaded, is "S" alone. End of input ends the process.
"""

import json
import os
import sys
from typing import Any, BinaryIO


def serve(asked: BinaryIO, answers: BinaryIO) -> None:
    """Answer requests until the input ends."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    _send(answers, b"S")
    toolkits: dict[str, Any] = {}
    while (request := _receive(asked)) is not None:
        found = json.loads(request)
        key = json.dumps(found["options"], sort_keys=True)
        if key not in toolkits:
            toolkits[key] = verovio.toolkit()
            toolkits[key].setOptions(found["options"])
        for text, own in found["documents"]:
            _send(answers, _drawn(toolkits[key], text, own))


def _drawn(toolkit: Any, text: str, own: dict[str, object]) -> bytes:
    try:
        toolkit.setOptions(own)
        toolkit.loadData(text)
        return b"S" + str(toolkit.renderToSVG(1)).encode()
    except Exception as error:  # whatever it is, the asker decides what to say of it
        return b"E" + str(error).encode(errors="replace")


def _receive(stream: BinaryIO) -> bytes | None:
    head = stream.read(4)
    if len(head) < 4:
        return None
    length = int.from_bytes(head, "big")
    body = stream.read(length)
    return body if len(body) == length else None


def _send(stream: BinaryIO, body: bytes) -> None:
    stream.write(len(body).to_bytes(4, "big") + body)
    stream.flush()


if __name__ == "__main__":
    pipe = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what the engraver itself prints must not stand between the answers
    serve(sys.stdin.buffer, pipe)

"""A desk for tests that listens on its own port, and a plain client that can also ask in wrong ways."""

import http.client
import json
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fourlimb.desk import Desk
from fourlimb.desk.guard import HOST, cookie
from fourlimb.desk.server import Server, listening


@contextmanager
def served(desk: Desk) -> Iterator[Server]:
    server = listening(desk)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.shutdown()
        server.server_close()
        desk.close()


class Asker:
    """Asks as the desk's own page does; every header can be changed or left out (None)."""

    def __init__(self, server: Server) -> None:
        self.port = server.server_port
        self.token = server.token

    def ask(
        self, method: str, path: str, body: bytes | None = None, **headers: str | None
    ) -> tuple[int, dict[str, str], bytes]:
        usual: dict[str, str | None] = {
            "Host": f"{HOST}:{self.port}",
            "Cookie": cookie(self.port, self.token).split(";")[0],
        }
        if method == "POST":
            usual |= {"Origin": f"http://{HOST}:{self.port}", "Content-Type": "application/json"}
            usual |= {"Content-Length": str(len(body or b""))}
        sent = usual | {name.replace("_", "-"): value for name, value in headers.items()}
        connection = http.client.HTTPConnection(HOST, self.port, timeout=30)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in sent.items():
                if value is not None:
                    connection.putheader(name, value)
            connection.endheaders(body)
            answer = connection.getresponse()
            return answer.status, dict(answer.getheaders()), answer.read()
        finally:
            connection.close()

    def get(self, path: str) -> Any:
        status, _, body = self.ask("GET", path)
        assert status == 200, body
        return json.loads(body)

    def post(self, path: str, **said: Any) -> tuple[int, Any]:
        status, _, body = self.ask("POST", path, json.dumps(said).encode())
        return status, json.loads(body)

    @property
    def state(self) -> str:
        return str(self.get("/api/lesson")["state"])

    def news(self) -> Any:
        return self.get("/api/news?seen=0&state=other")

    def until_done(self, limit_s: float = 60.0) -> list[dict[str, Any]]:
        """What came of everything asked for."""
        until = time.monotonic() + limit_s
        while time.monotonic() < until:
            news = self.news()
            if news["doing"] is None and not news["waiting"]:
                return list(news["answers"])
            time.sleep(0.05)
        raise AssertionError("the desk is still at work")


def killed_at_work(folder: Path, script: str, *words: str, after_s: float = 0.0) -> None:
    """A desk of its own on a lesson does what `script` says, prints "at work", and is killed so much later.

    The script has `desk`, its `opened` lesson, and the words.
    """
    head = (
        "import sys, time\nfrom pathlib import Path\nfrom fourlimb.desk import Desk\n"
        "desk = Desk(Path(sys.argv[1]))\nopened = desk.opened\nwords = sys.argv[2:]\n"
    )
    tail = "print('at work', flush=True)\ntime.sleep(60)\n"
    command = [sys.executable, "-c", head + script + tail, str(folder), *words]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    assert child.stdout.readline() == "at work\n"
    time.sleep(after_s)
    child.send_signal(signal.SIGKILL)
    child.wait()
    child.stdout.close()

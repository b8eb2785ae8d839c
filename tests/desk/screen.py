"""The desk's screen, opened in a real browser, and waiting for what it shows."""

import time

from asking import Asker
from browser import Browser


def opened(browser: Browser, asker: Asker, *, width: int = 1366, height: int = 900) -> Browser:
    browser.prefer()
    browser.size(width, height)
    browser.log("performance")
    browser.log("browser")
    browser.driver.get(f"http://127.0.0.1:{asker.port}/?token={asker.token}")
    until(browser, "return document.querySelectorAll('.bar').length > 0 || !!window.shelf")
    return browser


def until(browser: Browser, script: str, limit_s: float = 20.0) -> object:
    """Waits until a script's answer is true, and gives it."""
    end = time.monotonic() + limit_s
    while time.monotonic() < end:
        if found := browser.run(script):
            return found
        time.sleep(0.05)
    raise AssertionError(f"never true: {script}")

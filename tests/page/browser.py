"""A real browser for the tests of this room: headless Chromium, what it asked for and what it logged."""

import json
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
DRIVER = shutil.which("chromedriver")


class Browser:
    """One window. `run` gives the value of a script's `return`, awaiting promises."""

    def __init__(self, driver: Any) -> None:
        self.driver = driver

    def open(self, path: Path, *, width: int = 1280, height: int = 900) -> None:
        self.size(width, height)
        self.log("performance")
        self.log("browser")
        self.driver.get(path.as_uri())

    def size(self, width: int, height: int) -> None:
        sizes = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", sizes)

    def prefer(self, media: str = "", **features: str) -> None:
        """Emulated media ("print") and preferences (prefers_color_scheme="dark")."""
        listed = [{"name": name.replace("_", "-"), "value": value} for name, value in features.items()]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": media, "features": listed})

    def run(self, script: str, *values: Any) -> Any:
        body = (
            "const done = arguments[arguments.length - 1]; const given = [...arguments];"
            f"(async () => {{ {script} }})().then(done, (error) => done({{failed: String(error)}}))"
        )
        found = self.driver.execute_async_script(body, *values)
        assert not (isinstance(found, dict) and "failed" in found), found
        return found

    def press(self, key: str) -> None:
        """A key on whatever has the focus."""
        from selenium.webdriver.common.action_chains import ActionChains

        ActionChains(self.driver).send_keys(key).perform()

    def click(self, css: str) -> None:
        """A real press, as a person makes it, once the thing is in sight."""
        from selenium.webdriver.common.by import By

        found = self.driver.find_element(By.CSS_SELECTOR, css)
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center', behavior: 'instant'})", found)
        found.click()

    def choose_copy(self, path: Path, *, within_s: float = 10.0) -> str:
        """Gives the practice page a file of the student's, as a person does; what the page answers."""
        self.run("document.querySelector('#copy-says').textContent = '';")
        self.driver.find_element("css selector", "#copy-file").send_keys(str(path))
        for _ in range(round(within_s / 0.05)):
            said = str(self.run("return document.querySelector('#copy-says').textContent;"))
            if said and not said.startswith("opening"):
                return said
            time.sleep(0.05)
        raise AssertionError(f"{path.name} was not opened within {within_s:g} s")

    def log(self, kind: str) -> list[dict[str, Any]]:
        """What has been logged since the last look."""
        return list(self.driver.get_log(kind))

    def requests(self) -> list[str]:
        """Addresses asked for since the last look."""
        messages = [json.loads(entry["message"])["message"] for entry in self.log("performance")]
        return [m["params"]["request"]["url"] for m in messages if m["method"] == "Network.requestWillBeSent"]


@contextmanager
def chromium() -> Iterator[Browser]:
    """A fresh browser with an empty profile.

    Skips the test where there is none: a browser is a system package that pip cannot install, and the command that runs
    all tests asks for nothing but Python. `.ci/run` installs one, so that every change meets these tests.
    """
    if not CHROMIUM or not DRIVER:
        pytest.skip("needs Chromium and chromedriver (on Debian: chromium chromium-driver)")
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for argument in (
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--hide-scrollbars",
    ):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    driver.set_script_timeout(60)
    try:
        yield Browser(driver)
    finally:
        driver.quit()

"""A person at a browser: opens pages, types, taps, looks."""

import json
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.common.exceptions import StaleElementReferenceException, WebDriverException
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser.sight import BOX, FAINT, FOCUSED, INSIDE, SMALL

SLOW_S = 120
MOST_TABS = 60
DRAG_STEPS = 8
_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
_STATE = (
    "var app = document.querySelector('[data-testid=stApp]');"
    "return app && document.querySelector('h1') ? app.getAttribute('data-test-script-state') : ''"
)


class Person:
    """One browser window on the app."""

    ENTER = Keys.ENTER

    def __init__(self, chromium: str, driver: str, base: str, downloads: Path) -> None:
        options = webdriver.ChromeOptions()
        options.binary_location = chromium
        for flag in _FLAGS:
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        options.add_experimental_option("prefs", {"download.default_directory": str(downloads)})
        self.base, self.job = base, ""
        self.web = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
        self.size(390, 844)

    def size(self, width: int, height: int) -> None:
        """Be a phone or a laptop."""
        held = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 700}
        self.web.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", held)
        self.web.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": width < 700})

    def another_window(self) -> None:
        """Be one more person, with a window and a session of their own."""
        self.web.switch_to.new_window("window")
        self.size(390, 844)

    def look_at_window(self, number: int) -> None:
        self.web.switch_to.window(self.web.window_handles[number])

    def open(self, where: str = "") -> None:
        self.web.get(f"{self.base}/{where}")
        self.wait()

    def wait(self) -> None:
        """Wait until the app has been still for a moment."""
        still, end = 0, time.monotonic() + SLOW_S
        while still < 4:
            assert time.monotonic() < end, "the app does not come to rest"
            still = still + 1 if self.web.execute_script(_STATE) == "notRunning" else 0
            time.sleep(0.1)

    def part(self, key: str) -> Any:
        """Find a widget by its key."""
        name = re.sub(r"[^A-Za-z0-9_-]", "-", key)
        return self.web.find_element(By.CSS_SELECTOR, f"[class~='st-key-{name}']")

    def has(self, key: str) -> bool:
        try:
            self.part(key)
        except WebDriverException:
            return False
        return True

    def tap(self, key: str) -> None:
        self._tap(self.part(key).find_element(By.CSS_SELECTOR, "button"))

    def press(self, *keys: str) -> None:
        """Press keys, wherever the focus is."""
        webdriver.ActionChains(self.web).send_keys(*keys).perform()

    def to_top(self, key: str) -> None:
        """Scroll a widget to the top of the window."""
        self.web.execute_script("arguments[0].scrollIntoView({block: 'start'})", self.part(key))
        time.sleep(0.5)

    def focused(self) -> str:
        """Say what has the focus: the nearest key of ours, else its words."""
        return str(self.web.execute_script(FOCUSED))

    def _tap(self, element: Any) -> None:
        self.web.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
        element.click()
        self.wait()

    def type(self, key: str, words: str) -> None:
        field = self.part(key).find_element(By.CSS_SELECTOR, "input")
        self.web.execute_script("arguments[0].scrollIntoView({block: 'center'})", field)
        field.send_keys(Keys.CONTROL, "a")
        field.send_keys(Keys.BACKSPACE)
        field.send_keys(words, Keys.TAB)
        self.wait()

    def choose(self, key: str, words: str) -> None:
        """Tap one of several buttons, or pick from a list."""
        for button in self.part(key).find_elements(By.CSS_SELECTOR, "button"):
            if button.text.strip() == words:
                self._tap(button)
                return
        field = self.part(key).find_element(By.CSS_SELECTOR, "input")
        self.web.execute_script("arguments[0].scrollIntoView({block: 'center'})", field)
        field.click()
        field.send_keys(words)
        time.sleep(0.3)
        field.send_keys(Keys.ENTER)
        self.wait()

    def unfold(self, key: str) -> None:
        lid = self.part(key)
        if lid.find_element(By.CSS_SELECTOR, "details").get_attribute("open") is None:
            self._tap(lid.find_element(By.CSS_SELECTOR, "summary"))

    def upload(self, key: str, *paths: Path) -> None:
        self.hand_over(key, *paths)
        time.sleep(0.5)
        self.wait()

    def hand_over(self, key: str, *paths: Path) -> None:
        """Choose files, and do not wait for what becomes of them."""
        field = self.part(key).find_element(By.CSS_SELECTOR, "input[type=file]")
        field.send_keys("\n".join(map(str, paths)))

    def wait_for(self, words: str) -> None:
        """Wait until the page says something, then no longer."""
        end = time.monotonic() + SLOW_S
        while words not in self.words():
            assert time.monotonic() < end, f"the page never says {words!r}"
            time.sleep(0.05)

    def here(self) -> str:
        """Give the page's address behind the server's."""
        return str(self.web.current_url).removeprefix(f"{self.base}/")

    def tab_to(self, name: str) -> bool:
        """Press the tabulator until a widget of ours has the focus."""
        for _ in range(MOST_TABS):
            self.press(Keys.TAB)
            if self.focused() == name:
                return True
        return False

    def inside(self, key: str, selector: str) -> Any:
        """Find a part of a picture, behind the edge of its component."""
        return self.web.execute_script(INSIDE, self.part(key), selector)

    def drawn_line(self, key: str) -> list[tuple[float, float]]:
        """Give the line drawn over a picture, as shares of its width and height."""
        line = self.inside(key, "polyline")
        width, height = map(float, self.inside(key, "svg").get_dom_attribute("viewBox").split()[2:])
        points = [point.split(",") for point in line.get_dom_attribute("points").split()]
        return [(float(x) / width, float(y) / height) for x, y in points]

    def mark(self, key: str, shares: list[tuple[float, float]]) -> None:
        """Tap on places of a picture, then on its button to measure again."""
        stage = self.inside(key, ".stage")
        self.web.execute_script("arguments[0].scrollIntoView({block: 'center'})", stage)
        box = stage.rect
        for x, y in shares:
            at = round((x - 0.5) * box["width"]), round((y - 0.5) * box["height"])
            hand = webdriver.ActionChains(self.web)
            hand.move_to_element_with_offset(stage, *at).click().perform()
        self._measure_again(key)

    def _measure_again(self, key: str) -> None:
        button = self.inside(key, ".again")
        self.web.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
        button.click()
        time.sleep(0.5)
        self.wait()

    def marks_at(self, key: str) -> list[tuple[float, float]]:
        """Give the marks that stand on a picture, as shares of its width and height."""
        drawn = self.inside(key, "svg")
        width, height = map(float, drawn.get_dom_attribute("viewBox").split()[2:])
        circles = drawn.find_elements(By.CSS_SELECTOR, "circle")
        places = [[float(one.get_dom_attribute(name)) for name in ("cx", "cy")] for one in circles]
        return [(x / width, y / height) for x, y in places]

    def drag(
        self, key: str, start: tuple[float, float], stop: tuple[float, float]
    ) -> list[tuple[float, float]]:
        """Drag a mark with a finger, then tap on the button to measure again; give the marks."""
        stage = self.inside(key, ".stage")
        self.web.execute_script("arguments[0].scrollIntoView({block: 'center'})", stage)
        left, top, width, height = self.web.execute_script(BOX, stage)
        for k in range(DRAG_STEPS + 1):
            x, y = (a + (b - a) * k / DRAG_STEPS for a, b in zip(start, stop, strict=True))
            self._touch("touchMove" if k else "touchStart", left + x * width, top + y * height)
        self._touch("touchEnd")
        marks = self.marks_at(key)
        self._measure_again(key)
        return marks

    def _touch(self, what: str, *at: float) -> None:
        points = [{"x": at[0], "y": at[1]}] if at else []
        told = {"type": what, "touchPoints": points}
        self.web.execute_cdp_cmd("Input.dispatchTouchEvent", told)

    def choices(self, key: str) -> list[str]:
        """Give the words of the buttons of which one or several may be chosen."""
        buttons = self.part(key).find_elements(By.CSS_SELECTOR, "button")
        return [button.text.strip() for button in buttons]

    def focus_on(self, key: str) -> None:
        """Put the keyboard's focus on a picture."""
        self.web.execute_script("arguments[0].focus()", self.inside(key, ".stage"))

    def press_arrows(self, keys: str) -> None:
        for key in keys:
            self.press({"→": Keys.ARROW_RIGHT, "↓": Keys.ARROW_DOWN}[key])

    def marks_set(self, key: str) -> int:
        circles = self.inside(key, "svg").find_elements(By.CSS_SELECTOR, "circle")
        return len(circles)

    def words(self) -> str:
        for _ in range(5):
            try:
                return str(self.web.find_element(By.CSS_SELECTOR, "[data-testid=stMain]").text)
            except StaleElementReferenceException:
                time.sleep(0.2)
        return ""

    def picture(self, path: Path) -> None:
        """Take a picture of the whole page."""
        width, height = self.web.execute_script("return [innerWidth, innerHeight]")
        script = "return document.querySelector('[data-testid=stMain]').scrollHeight"
        self.size(width, min(6000, max(height, self.web.execute_script(script))))
        time.sleep(0.3)
        self.web.save_screenshot(str(path))
        self.size(width, height)

    def console_errors(self) -> list[str]:
        return [
            entry["message"]
            for entry in self.web.get_log("browser")
            if entry["level"] in ("SEVERE", "ERROR")
        ]

    def strangers(self) -> set[str]:
        """Addresses that were asked for beyond the app's own server."""
        asked = set()
        for entry in self.web.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                asked.add(message["params"]["request"]["url"])
        own = (self.base, self.base.replace("http", "ws"), "data:", "blob:", "about:", "chrome")
        return {address for address in asked if not address.startswith(own)}

    def too_small(self) -> list[str]:
        """Things to tap that are smaller than a fingertip, 44 px either way."""
        return list(self.web.execute_script(SMALL))

    def too_faint(self) -> list[str]:
        """Words with less contrast than 4.5 to 1."""
        return list(self.web.execute_script(FAINT))

    def is_too_wide(self) -> bool:
        script = "return document.querySelector('[data-testid=stMain]').scrollWidth - innerWidth"
        return int(self.web.execute_script(script)) > 0


@contextmanager
def person(chromium: str, driver: str, base: str, downloads: Path) -> Iterator[Person]:
    """Open a browser and close it again."""
    one = Person(chromium, driver, base, downloads)
    try:
        yield one
    finally:
        one.web.quit()

"""Chromium without a window, spoken to over two pipes (its DevTools protocol): pages, keys, scripts and pictures."""

import base64
import json
import os
import shutil
import subprocess
import time
from contextlib import contextmanager

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--remote-debugging-pipe",
)  # fmt: skip
KEYS = {"Tab": 9, "Enter": 13}


class Browser:
    """One page of one browser, which reads commands at its descriptor 3 and answers at 4, each ended by a zero."""

    def __init__(self, to_browser, from_browser):
        self._to, self._from, self._number, self._left = to_browser, from_browser, 0, b""
        self._session = None
        target = self._ask("Target.createTarget", url="about:blank")["targetId"]
        self._session = self._ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        self._ask("Page.enable")

    def open(self, address):
        self._ask("Page.navigate", url=address)
        self.until("document.readyState === 'complete' && location.href !== 'about:blank'")

    def until(self, condition, most_s=15):
        """Waits until a condition holds in the page, or in the page that follows it.

        A page that is left while its script is asked answers with an error and never with a value: the next is asked.
        """
        ends = time.monotonic() + most_s
        while time.monotonic() < ends:
            told = self._answer("Runtime.evaluate", expression=f"Boolean({condition})", returnByValue=True)
            if told.get("result", {}).get("result", {}).get("value"):
                return
            time.sleep(0.02)
        raise AssertionError(f"not in time: {condition}: {told}")

    def run(self, script):
        """The value of an expression in the page; a promise is waited for."""
        told = self._ask("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in told, told
        return told["result"].get("value")

    def press(self, key):
        """One key, as a hand would press it."""
        code = {"key": key, "code": key, "windowsVirtualKeyCode": KEYS[key]}
        letters = {"text": "\r"} if key == "Enter" else {}
        self._ask("Input.dispatchKeyEvent", type="keyDown", **code, **letters)
        self._ask("Input.dispatchKeyEvent", type="keyUp", **code)

    def size(self, width, height):
        self._ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def picture(self):
        """The whole page as PNG."""
        shot = self._ask("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        return base64.b64decode(shot["data"])

    def _ask(self, method, **values):
        told = self._answer(method, **values)
        assert "error" not in told, told
        return told["result"]

    def _answer(self, method, **values):
        """What the browser answers to one command: its `result`, or its `error`."""
        self._number += 1
        asked = {"id": self._number, "method": method, "params": values}
        if self._session:
            asked["sessionId"] = self._session
        os.write(self._to, json.dumps(asked).encode() + b"\0")
        while True:
            told = self._message()
            if told.get("id") == self._number:
                return told

    def _message(self):
        while b"\0" not in self._left:
            part = os.read(self._from, 1 << 20)
            assert part, "the browser went away"
            self._left += part
        message, self._left = self._left.split(b"\0", 1)
        return json.loads(message)


@contextmanager
def browser(folder):
    """A browser with a profile of its own in `folder`; it ends with the block."""
    their_in, our_out = os.pipe()
    our_in, their_out = os.pipe()

    def as_3_and_4():
        low, high = os.dup(their_in), os.dup(their_out)
        os.dup2(low, 3)
        os.dup2(high, 4)

    process = subprocess.Popen(
        [CHROMIUM, *QUIET, f"--user-data-dir={folder}", "about:blank"],
        preexec_fn=as_3_and_4,  # noqa: PLW1509 - no thread runs in the tests when it starts
        close_fds=False,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(their_in)
    os.close(their_out)
    try:
        yield Browser(our_out, our_in)
    finally:
        process.terminate()
        process.wait(20)
        os.close(our_out)
        os.close(our_in)

"""A headless Chromium that opens pages, driven over its debugging pipe (no network)."""

import base64
import json
import os
import shutil
import subprocess
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
PROGRAM = next(filter(None, map(shutil.which, PROGRAMS)), None)
needs_browser = pytest.mark.skipif(PROGRAM is None, reason="no Chromium on this machine")
PATIENCE = 60.0


class Browser:
    """One page of a browser; collects what goes wrong in it and what it asks the network for."""

    def __init__(self, sending, receiving):
        self.sending, self.receiving, self.rest, self.number = sending, receiving, b"", 0
        self.errors, self.requests, self.session, self.loaded = [], [], None, False
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self.session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method, **given):
        self.number += 1
        message = {"id": self.number, "method": method, "params": given}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.sending, json.dumps(message).encode() + b"\0")
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            answer = self._next()
            if answer.get("id") == self.number:
                assert "error" not in answer, answer["error"]
                return answer["result"]
        message = f"{method} was not answered"
        raise TimeoutError(message)

    def _next(self):
        while b"\0" not in self.rest:
            more = os.read(self.receiving, 1 << 20)
            assert more, "the browser has ended"
            self.rest += more
        text, _, self.rest = self.rest.partition(b"\0")
        answer = json.loads(text)
        self._note(answer.get("method"), answer.get("params", {}))
        return answer

    def _note(self, event, told):
        if event == "Runtime.exceptionThrown":
            self.errors.append(told["exceptionDetails"]["exception"].get("description", "?"))
        if event == "Runtime.consoleAPICalled" and told["type"] in ("error", "warning"):
            self.errors.append(str(told["args"]))
        if event == "Log.entryAdded" and told["entry"]["level"] in ("error", "warning"):
            self.errors.append(told["entry"]["text"])
        if event == "Network.requestWillBeSent":
            url = told["request"]["url"]
            self.requests += [] if url.startswith(("data:", "file:")) else [url]
        if event == "Page.loadEventFired":
            self.loaded = True

    def look(self, *, width=1200, height=900, dark=False, calm=False, scripts=True, touch=False):
        """How the page is to be shown."""
        small = width < 600
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=2 if small else 1,
            mobile=small,
        )
        features = [
            {"name": "prefers-color-scheme", "value": "dark" if dark else "light"},
            {"name": "prefers-reduced-motion", "value": "reduce" if calm else "no-preference"},
        ]
        self.call("Emulation.setEmulatedMedia", features=features)
        self.call("Emulation.setScriptExecutionDisabled", value=not scripts)
        self.call("Emulation.setTouchEmulationEnabled", enabled=touch)

    def open(self, page: Path):
        self.loaded = False
        self.call("Page.navigate", url=page.resolve().as_uri())
        while not self.loaded:
            self._next()

    def run(self, code):
        """Value of an expression in the page; promises are awaited."""
        given = {"expression": code, "awaitPromise": True, "returnByValue": True}
        done = self.call("Runtime.evaluate", **given)
        assert "exceptionDetails" not in done, done["exceptionDetails"]
        return done["result"].get("value")

    def settle(self):
        """Two frames of the picture."""
        self.run("new Promise(f => requestAnimationFrame(() => requestAnimationFrame(f)))")

    def mouse(self, kind, x, y, **more):
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, **more)
        self.settle()

    def click(self, x, y):
        for kind in ("mouseMoved", "mousePressed", "mouseReleased"):
            self.mouse(kind, x, y, button="left", clickCount=1)

    def touch(self, kind, *points):
        spots = [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(points)]
        self.call("Input.dispatchTouchEvent", type=kind, touchPoints=spots)
        self.settle()

    def key(self, key, text=""):
        self.call("Input.dispatchKeyEvent", type="keyDown", key=key, text=text)
        self.call("Input.dispatchKeyEvent", type="keyUp", key=key)
        self.settle()

    def picture(self, file: Path, *, whole=False):
        shot = self.call("Page.captureScreenshot", captureBeyondViewport=whole)
        file.write_bytes(base64.b64decode(shot["data"]))

    def paper(self, file: Path):
        """Print the page; background colours as a printer has them by default."""
        file.write_bytes(base64.b64decode(self.call("Page.printToPDF")["data"]))


@contextmanager
def browser():
    """A browser of its own, gone afterwards."""
    to_child, sending = os.pipe()
    receiving, from_child = os.pipe()

    def wire():
        # The debugging pipe is read from descriptor 3 and written to 4.
        reading, writing = os.dup(to_child), os.dup(from_child)
        os.dup2(reading, 3)
        os.dup2(writing, 4)

    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        options = ("--headless=new", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe")
        quiet = ("--disable-background-networking", "--no-first-run", "--hide-scrollbars")
        child = subprocess.Popen(
            [PROGRAM, *options, *quiet, f"--user-data-dir={profile}"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            close_fds=False,
            preexec_fn=wire,
        )
        os.close(to_child)
        os.close(from_child)
        try:
            yield Browser(sending, receiving)
        finally:
            child.terminate()
            child.wait(timeout=20)
            os.close(sending)
            os.close(receiving)

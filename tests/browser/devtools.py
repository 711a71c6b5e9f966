"""Debian's chromium without a screen, led over the pipe of its DevTools protocol by the standard library alone."""
import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
import time

CHROMIUM = shutil.which("chromium")
ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-extensions", "--disable-sync",
             "--force-device-scale-factor=1", "--font-render-hinting=none", "--remote-debugging-pipe"]
PATIENCE = 60  # s for one answer


class Browser:
    """One process; messages end in a zero byte, from us on its descriptor 3 and to us on 4."""

    def __init__(self):
        self.home = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        to_read, self.to = os.pipe()
        self.source, to_write = os.pipe()

        def place_pipes():
            ours = [os.dup(to_read), os.dup(to_write)]
            high = [os.dup2(one, 100 + i, inheritable=True) for i, one in enumerate(ours)]
            os.dup2(high[0], 3)
            os.dup2(high[1], 4)

        command = [CHROMIUM, *ARGUMENTS, "--user-data-dir=" + self.home.name, "about:blank"]
        self.process = subprocess.Popen(command, preexec_fn=place_pipes, pass_fds=(3, 4), stdin=subprocess.DEVNULL,
                                        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
                                        env={**os.environ, "HOME": self.home.name})
        os.close(to_read)
        os.close(to_write)
        self.buffer, self.number, self.events = b"", 0, []

    def close(self):
        try:
            self.call("Browser.close")
            self.process.wait(10)
        except (subprocess.TimeoutExpired, OSError, RuntimeError):
            self.process.kill()
            self.process.wait()
        os.close(self.to)
        os.close(self.source)
        self.home.cleanup()

    def read_message(self, until):
        while b"\0" not in self.buffer:
            left = until - time.monotonic()
            if left <= 0 or not select.select([self.source], [], [], left)[0]:
                raise RuntimeError("chromium does not answer")
            part = os.read(self.source, 1 << 16)
            if not part:
                raise RuntimeError("chromium has ended")
            self.buffer += part
        message, self.buffer = self.buffer.split(b"\0", 1)
        return json.loads(message)

    def call(self, method, session=None, **parameters):
        self.number += 1
        message = {"id": self.number, "method": method, "params": parameters}
        if session:
            message["sessionId"] = session
        os.write(self.to, json.dumps(message).encode() + b"\0")
        until = time.monotonic() + PATIENCE
        while True:
            answer = self.read_message(until)
            if answer.get("id") == self.number:
                if "error" in answer:
                    raise RuntimeError("%s: %s" % (method, answer["error"]["message"]))
                return answer["result"]
            self.events.append(answer)

    def wait_for(self, method, session):
        until = time.monotonic() + PATIENCE
        while not any(event.get("method") == method and event.get("sessionId") == session for event in self.events):
            self.events.append(self.read_message(until))


class Page:
    """A file shown at a size and in a scheme."""

    def __init__(self, browser, path, width=1200, height=900, scheme="light", script=True):
        self.browser = browser
        target = browser.call("Target.createTarget", url="about:blank")["targetId"]
        self.target = target
        self.session = browser.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(domain + ".enable")
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self.scheme(scheme)
        self.call("Emulation.setScriptExecutionDisabled", value=not script)
        self.call("Page.navigate", url=path.resolve().as_uri())
        browser.wait_for("Page.loadEventFired", self.session)

    def call(self, method, **parameters):
        return self.browser.call(method, self.session, **parameters)

    def scheme(self, name):
        self.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": name}])

    def close(self):
        self.browser.call("Target.closeTarget", targetId=self.target)

    def evaluate(self, script):
        result = self.call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in result:
            raise RuntimeError(result["exceptionDetails"].get("exception", {}).get("description", "the script failed"))
        return result["result"].get("value")

    def settle(self):
        """Lets what is to be drawn be drawn."""
        self.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")

    def complaints(self):
        """What the console has said, and requests beyond the page itself."""
        found = []
        for event in self.browser.events:
            if event.get("sessionId") != self.session:
                continue
            parameters = event.get("params", {})
            if event["method"] == "Runtime.exceptionThrown":
                details = parameters["exceptionDetails"]
                found.append(details.get("exception", {}).get("description") or details["text"])
            elif event["method"] == "Log.entryAdded":
                found.append(parameters["entry"]["text"])
            elif event["method"] == "Runtime.consoleAPICalled":
                found.append(str(parameters["args"]))
            elif event["method"] == "Network.requestWillBeSent" and parameters.get("type") != "Document":
                found.append("asks for " + parameters["request"]["url"])
        return found

    def mouse(self, kind, x, y, **more):
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="none" if kind == "mouseMoved" else "left", **more)

    def drag(self, x1, x2, y):
        self.mouse("mouseMoved", x1, y)
        self.mouse("mousePressed", x1, y, clickCount=1)
        self.mouse("mouseMoved", (x1 + x2) / 2, y, buttons=1)
        self.mouse("mouseMoved", x2, y, buttons=1)
        self.mouse("mouseReleased", x2, y, clickCount=1)
        self.settle()

    def key(self, name, **more):
        for kind in ("keyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", type=kind, key=name, **more)
        self.settle()

    def screenshot(self, path, clip=None, whole=False):
        """The window, a part of the page as (x, y, width, height), or the whole page."""
        more = {}
        if whole:
            size = self.call("Page.getLayoutMetrics")["cssContentSize"]
            clip = (0, 0, size["width"], size["height"])
        if clip:
            more = {"clip": dict(zip(("x", "y", "width", "height"), clip), scale=1), "captureBeyondViewport": True}
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot", format="png", **more)["data"]))

    def pdf(self):
        return base64.b64decode(self.call("Page.printToPDF", printBackground=True, preferCSSPageSize=True)["data"])

#!/usr/bin/env python3
"""Makes the pictures of the documents anew, from what the program really writes. usage: screenshots.py PROGRAM"""
import pathlib
import subprocess
import sys
import tempfile

from devtools import Browser, Page

ROOT = pathlib.Path(__file__).resolve().parents[2]
IMAGES = ROOT / "docs/images"
EXAMPLES = ROOT / "profiles/tide-gauge"


def report(program, path, profile, *arguments):
    subprocess.run([program, "report", profile, "-o", str(path), *arguments], cwd=EXAMPLES, check=True,
                   stderr=subprocess.DEVNULL)
    return path


def box(page, selector):
    """An element's place on the page, with some room around it."""
    x, y, width, height = page.evaluate("""(() => { const box = document.querySelector('%s').getBoundingClientRect();
      return [box.x + scrollX, box.y + scrollY, box.width, box.height]; })()""" % selector)
    return max(x - 12, 0), max(y - 12, 0), width + 24, height + 24


def shoot(browser, path, name, selector, prepare, **how):
    page = Page(browser, path, **how)
    page.settle()
    page.evaluate(prepare)
    page.settle()
    page.screenshot(IMAGES / name, box(page, selector))
    page.close()


def main(program):
    IMAGES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "report.html"
        browser = Browser()
        try:
            report(program, path, "power-up.ramp")
            shoot(browser, path, "verdict.png", "#verdict", "0", width=960)
            shoot(browser, path, "report.png", ".rail", "report.point(0.7)", width=960)
            report(program, path, "power-up.ramp", "--fault", "shorted")
            shoot(browser, path, "fault.png", ".rail", "report.set(6.83, 6.9), report.point(6.86)", width=960, scheme="dark")
        finally:
            browser.close()


if __name__ == "__main__":
    main(str(pathlib.Path(sys.argv[1]).resolve()))

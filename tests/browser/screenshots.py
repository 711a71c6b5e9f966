#!/usr/bin/env python3
"""Makes the pictures of the documents anew, from what the program really writes. usage: screenshots.py PROGRAM"""
import html
import pathlib
import re
import subprocess
import sys
import tempfile

from devtools import Browser, Page

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests/cli"))
from pseudo_terminal import run_on_terminal  # noqa: E402

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


def shoot_terminal(browser, program, path, name, *arguments):
    """The first lines that a terminal of 100 columns shows."""
    _, sent = run_on_terminal([program, *arguments], EXAMPLES)
    shown = re.sub(r"\x1b\[[0-9;]*[A-Za-z]", "", sent).splitlines()[:26]
    show_text(browser, path, name, "$ rampart " + " ".join(arguments) + "\n" + "\n".join(shown), width=1000)


def show_text(browser, path, name, text, width):
    path.write_text("<!DOCTYPE html><meta charset=utf-8><body style='margin: 24px'><pre id=terminal style='display: inline-block; "
                    "margin: 0; padding: 12px; border: 1px solid #999; font: 14px/1.25 \"DejaVu Sans Mono\", monospace'>"
                    + html.escape(text) + "</pre>", encoding="utf-8")
    page = Page(browser, path, script=False, width=width)
    page.screenshot(IMAGES / name, box(page, "#terminal"))
    page.close()


def shoot_editor(browser, path):
    """What Neovim shows of a profile with a mistake."""
    # It takes the program off the command line.
    sys.path.insert(0, str(ROOT / "tests/editor"))
    from neovim_test import example_folder, run_neovim
    with tempfile.TemporaryDirectory() as folder:
        rows = run_neovim(example_folder(pathlib.Path(folder)), picture=True)["screen"]
    text = "\n".join("".join(cells).rstrip() for cells in rows).rstrip()
    show_text(browser, path, "editor.png", text, width=1300)


def main(program):
    IMAGES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "report.html"
        browser = Browser()
        try:
            shoot_terminal(browser, program, path, "terminal.png", "simulate", "power-up.ramp")
            shoot_editor(browser, path)
            report(program, path, "power-up.ramp")
            shoot(browser, path, "verdict.png", "#verdict", "0", width=960)
            shoot(browser, path, "report.png", ".rail", "report.point(0.7)", width=960)
            report(program, path, "power-up.ramp", "--fault", "shorted")
            shoot(browser, path, "fault.png", ".rail", "report.set(6.83, 6.9), report.point(6.86)", width=960, scheme="dark")
            sweep = pathlib.Path(folder) / "map.json"
            sweep.write_bytes(subprocess.run(
                [program, "sweep", "choose.ramp", "--vary", "rise=100ms..1500ms", "--vary", "level=3.15V..3.6V step 50mV", "--format",
                 "json"], cwd=EXAMPLES, check=True, capture_output=True).stdout)
            report(program, path, "choose.ramp", "--sweep", str(sweep))
            shoot(browser, path, "map.png", "#sweep", "0", width=960)
        finally:
            browser.close()


if __name__ == "__main__":
    main(str(pathlib.Path(sys.argv[1]).resolve()))

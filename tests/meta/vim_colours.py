#!/usr/bin/env python3
"""lang/editors/rampart.vim in Neovim, which stands for Vim: its highlighter says what each part of a line is.

Where there is no Neovim the test is skipped.
"""
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

from sources import ROOT, report

HERE = pathlib.Path(__file__).resolve().parent
LINES = {
    'profile "a \\" # b" # c "d"': '<Declaration>profile<> <Text>"a <Escape>\\"<Text> # b"<> <Comment># c "d"',
    "rail on_time on left.ch1": "<Declaration>rail<> on_time <Statement>on<> left.ch1",
    "let load_2 = 3.3 V/ms * 5 %": "<Declaration>let<> load_2 = <Number>3.3 V/ms<> * <Number>5 %",
    "protect core { fuse after 20 ms }": "<Declaration>protect<> core { <Word>fuse<> <Word>after<> <Number>20 ms<> }",
    'rule "r" always current(core) <= 1.5 mA': '<Declaration>rule<> <Text>"r"<> <Word>always<> <Function>current<>(core) <= <Number>1.5 mA',
    "  repeat for 48 h { dwell 1 h }": "  <Statement>repeat<> <Statement>for<> <Number>48 h<> { <Statement>dwell<> <Number>1 h<> }",
    "  ramp core to v over 2 s": "  <Statement>ramp<> core <Word>to<> v <Word>over<> <Number>2 s",
}


def main():
    if shutil.which("nvim") is None:
        print("skipped: there is no nvim", file=sys.stderr)
        return 77
    with tempfile.TemporaryDirectory() as folder:
        profile, result = pathlib.Path(folder) / "a.ramp", pathlib.Path(folder) / "result"
        profile.write_text("\n".join(LINES) + "\n", encoding="utf-8")
        environment = dict(os.environ, PROFILE=str(profile), RESULT=str(result), HOME=folder,
                           SYNTAX=str(ROOT / "lang/editors/rampart.vim"))
        subprocess.run(["nvim", "--headless", "-n", "-u", "NONE", "-c", "luafile " + str(HERE / "vim_colours.lua")],
                       env=environment, capture_output=True, timeout=60)
        found = result.read_text(encoding="utf-8").split("\n")
    wrong = ["%s\n  is  %s\n  not %s" % (line, one, LINES[line]) for line, one in zip(LINES, found) if one != LINES[line]]
    return report(wrong, len(LINES))


if __name__ == "__main__":
    sys.exit(main())

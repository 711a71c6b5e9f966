#!/usr/bin/env python3
"""The set-ups that docs/editors.md prints work in the editors of Debian 12: Emacs, Vim, Neovim. usage: set_up_test.py PROGRAM

Each editor is given the text of the page as it is, and the program by its name.
"""
import os
import pathlib
import re
import shutil
import subprocess
import sys
import unittest

from folder import LOAD, PROFILE, PROGRAM, SKIPPED, InFolder

ROOT = pathlib.Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs/editors.md").read_text(encoding="utf-8")
WRONG = PROFILE.replace("to level over", "to 7 V over")
skipped = []

EMACS = r"""
(package-initialize)
(require 'eglot)
(load (expand-file-name "set-up.el"))
(setq eglot-sync-connect 30)
(find-file "board.load.yaml")  ; where all files of a rename are open it does not ask
(find-file "library.ramp")
(find-file "board.ramp")
(run-hooks 'post-command-hook)
(let ((end (+ (float-time) 60)))
  (while (and (< (float-time) end) (not (and (eglot-current-server) (flymake-diagnostics)))) (accept-process-output nil 0.1)))
(dolist (one (flymake-diagnostics))
  (message "finding %d %s" (line-number-at-pos (flymake-diagnostic-beg one)) (flymake-diagnostic-text one)))
(goto-char (point-min))
(search-forward "rail io")
(eglot-rename "radio")
(eglot-format-buffer)
(save-some-buffers t)
(eglot-shutdown (eglot-current-server))
"""
VIM = "set nocompatible\nset runtimepath^=%s\nsyntax on\n"
NEOVIM = r"""
vim.cmd('edit board.ramp')
io.write('type ' .. vim.bo.filetype .. '\n')
vim.wait(30000, function() return #vim.diagnostic.get(0) > 0 end, 20)
for _, one in ipairs(vim.diagnostic.get(0)) do io.write('finding ' .. one.lnum + 1 .. ' ' .. one.message .. '\n') end
vim.cmd('qa!')
"""


def blocks(heading, language):
    """The texts of one kind below a heading of the page."""
    section = PAGE.split("\n## " + heading + "\n", 1)[1].split("\n## ", 1)[0]
    return re.findall(r"```%s\n(.*?)```" % language, section, re.DOTALL)


class SetUp(InFolder):
    def setUp(self):
        super().setUp()
        (self.folder / "bin").mkdir()
        (self.folder / "bin/rampart").symlink_to(PROGRAM)
        self.write("board.ramp", WRONG)

    def run_editor(self, *command):
        environment = dict(os.environ, HOME=str(self.folder), PATH=str(self.folder / "bin") + ":" + os.environ["PATH"],
                           XDG_CONFIG_HOME=str(self.folder / "none"), XDG_DATA_HOME=str(self.folder / "none"))
        done = subprocess.run(command, cwd=self.folder, env=environment, capture_output=True, text=True, timeout=180,
                              stdin=subprocess.DEVNULL)
        return done.stdout + done.stderr

    def needs(self, program):
        if shutil.which(program) is None:
            skipped.append(program)
            self.skipTest("there is no " + program)

    def test_emacs(self):
        self.needs("emacs")
        if "eglot" not in self.run_editor("emacs", "--batch", "--eval", "(progn (package-initialize) (require 'eglot nil t) (princ features))"):
            skipped.append("eglot")
            self.skipTest("there is no eglot")
        self.write("set-up.el", blocks("Emacs", "elisp")[0])
        self.write("work.el", EMACS)
        said = self.run_editor("emacs", "--batch", "-l", "work.el")
        self.assertRegex(said, r"finding 17 .*above its ceiling of 6 V")
        self.assertEqual((self.folder / "board.load.yaml").read_text(), LOAD.replace("  io:", "  radio:"))
        self.assertIn("rail radio on left.ch2", (self.folder / "board.ramp").read_text())

    def test_vim(self):
        self.needs("vim")
        (self.folder / "vim/syntax").mkdir(parents=True)
        shutil.copy(ROOT / "lang/editors/rampart.vim", self.folder / "vim/syntax")
        self.write("vimrc", VIM % (self.folder / "vim") + blocks("Vim", "vim")[0])
        self.run_editor("vim", "-u", "vimrc", "-es", "-N", "board.ramp", "-c", "redir! > out.txt", "-c", "set filetype?",
                        "-c", 'echo synIDattr(synID(1, 1, 1), "name") synIDattr(synID(1, 12, 1), "name")', "-c", "redir END",
                        "-c", "qa!")
        said = (self.folder / "out.txt").read_text()
        self.assertIn("filetype=rampart", said)
        self.assertIn("rampartDeclaration rampartText", said)

    def test_neovim(self):
        self.needs("nvim")
        whole, head, callback = blocks("Neovim", "lua")
        version = tuple(map(int, re.search(r"v(\d+)\.(\d+)", self.run_editor("nvim", "--version")).groups()))
        set_up = whole
        if version < (0, 8):
            begin = whole.index("    vim.lsp.start(")
            set_up = head + whole[:begin] + callback + whole[whole.index("\n", begin) + 1:]
        self.write("set-up.lua", set_up)
        self.write("work.lua", NEOVIM)
        said = self.run_editor("nvim", "--headless", "-n", "-u", "set-up.lua", "-c", "luafile work.lua")
        self.assertIn("type rampart", said)
        self.assertRegex(said, r"finding 17 .*above its ceiling of 6 V")


if __name__ == "__main__":
    done = unittest.main(exit=False).result
    sys.exit(1 if not done.wasSuccessful() else SKIPPED if skipped else 0)

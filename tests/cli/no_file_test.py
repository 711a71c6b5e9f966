#!/usr/bin/env python3
"""Pipes, devices and folders where a file is to be read: refused at once, since they could be waited for without end. usage: no_file_test.py PROGRAM"""
import os
import re

from program import PROFILE, InFolder, main

LOG = "time_s,core_measured_V,core_measured_A\n0,0,0\n1,5,0.5\n"
LINK = "link: One\nsupplies:\n  bench: {%s, serial_number: A1, channels: {ch1: 1}}\n"
# What a path leads to, and what is said of it.
PLACES = (("pipe", "is a pipe, not a file"), ("/dev/zero", "is a device, not a file"), (".", "is a folder"),
          ("link-to-pipe", "is a pipe, not a file"))


class NoFile(InFolder):
    def setUp(self):
        super().setUp()
        os.mkfifo(self.folder / "pipe")
        os.symlink("pipe", self.folder / "link-to-pipe")
        self.assertEqual(self.run_it("build", "one.ramp", "--as", "csv", "-o", "t.csv").returncode, 0)
        self.assertEqual(self.run_it("build", "one.ramp", "--as", "json", "-o", "t.json").returncode, 0)
        self.write("bench.csv", LOG)
        self.write("one.link.yaml", LINK % "tcp: {address: 127.0.0.1, port: 9}")

    def test_what_is_named_on_the_command_line(self):
        run = ("run", "t.json", "--bench", "one.bench.yaml", "--link", "one.link.yaml", "--log", "run.csv")
        for path, why in PLACES:
            for command in (("check", path), ("check", "one.ramp", "--bench", path), ("check", "one.ramp", "--load", path),
                            ("format", path), ("diff", "one.ramp", path), ("sweep", path, "--vary", "level=4V..5V"),
                            ("audit", path, "--bench", "one.bench.yaml"), ("audit", "t.csv", "--bench", path),
                            ("build", "one.ramp", "--as", "template", "--template", path, "-o", "t"),
                            ("evaluate", path, "--log", "bench.csv"), ("evaluate", "one.ramp", "--log", path),
                            ("evaluate", "one.ramp", "--log", "bench.csv", "--log-description", path),
                            ("fit-load", "one.ramp", "--log", path, "-o", "fitted.load.yaml"),
                            ("report", "one.ramp", "--log", path, "-o", "r.html"),
                            ("run", path) + run[2:], run[:3] + (path,) + run[4:], run[:5] + (path,) + run[6:], ("off", "--link", path)):
                with self.subTest(command=command):
                    done = self.run_it(*command)
                    self.assertEqual(done.returncode, 2)
                    self.assertIn(why, done.stderr.decode())

    def test_what_a_file_names(self):
        for path, why in PLACES:
            for text in (PROFILE.replace("one.bench.yaml", path), PROFILE.replace("one.load.yaml", path), 'import "%s"\n' % path + PROFILE,
                         PROFILE.replace("dwell 1 s", 'waveform core from "%s"' % path)):
                with self.subTest(text=text):
                    self.write("named.ramp", text)
                    done = self.run_it("check", "named.ramp")
                    self.assertEqual(done.returncode, 2)
                    self.assertIn(why, done.stderr.decode())

    def test_what_stands_beside_a_file(self):
        for beside, command, code in (("t.csv.setup.json", ("audit", "t.csv", "--bench", "one.bench.yaml"), 1),
                                      ("bench.log.yaml", ("evaluate", "one.ramp", "--log", "bench.csv"), 2)):
            for make, why in ((os.mkfifo, "is a pipe, not a file"), (os.mkdir, "is a folder")):
                with self.subTest(beside=beside, why=why):
                    if (self.folder / beside).exists():
                        (self.folder / beside).unlink()
                    make(self.folder / beside)
                    done = self.run_it(*command)
                    self.assertEqual(done.returncode, code)
                    self.assertIn(why, done.stderr.decode())

    def test_a_log_or_record_that_is_there_is_not_written_into(self):
        run = ("run", "t.json", "--bench", "one.bench.yaml", "--link", "one.link.yaml", "--log")
        # Without protection, which a link file without its messages could not set up.
        self.write("bare.ramp", re.sub(r"protect .*\n", "", PROFILE))
        self.assertEqual(self.run_it("build", "bare.ramp", "--as", "json", "-o", "t.json").returncode, 0)
        os.mkfifo(self.folder / "run.csv.run.json")
        for path in ("pipe", "link-to-pipe", "/dev/null", ".", "run.csv"):
            with self.subTest(path=path):
                done = self.run_it(*run, path)
                self.assertEqual((done.returncode, done.stderr.decode().count("already exists")), (2, 1), done.stderr)

    def test_what_should_be_an_instrument(self):
        self.write("plain", "text")
        for device in ("pipe", "plain", ".", "/dev/null"):
            for way in ("usbtmc: {device: %s}", "serial: {device: %s, baud: 9600}"):
                with self.subTest(device=device, way=way):
                    self.write("one.link.yaml", LINK % way % (device if device.startswith("/") else self.folder / device))
                    done = self.run_it("off", "--link", "one.link.yaml")
                    self.assertEqual(done.returncode, 3)
                    self.assertEqual((self.folder / "plain").read_text(), "text")


if __name__ == "__main__":
    main()

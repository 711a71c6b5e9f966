"""Runs a program on a terminal that is none."""
import fcntl
import os
import pty
import struct
import subprocess
import termios

from sanitized import SECONDS


def read_to_end(process, controller, answers=()):
    """(exit code, what the terminal is sent). Types each answer once the text before it has been shown."""
    sent, seen, answers = b"", 0, list(answers)
    while True:
        try:
            part = os.read(controller, 65536)
        except OSError:  # the other side is closed
            break
        if not part:
            break
        sent += part
        while answers and (found := sent.find(answers[0][0].encode(), seen)) >= 0:
            seen = found + 1
            os.write(controller, answers.pop(0)[1].encode() + b"\n")
    os.close(controller)
    return process.wait(timeout=SECONDS), sent.decode().replace("\r\n", "\n")


def run_on_terminal(command, folder, columns=100, environment=None):
    """(exit code, what a terminal of that width is sent). The locale is UTF-8 unless `environment` says otherwise."""
    controller, terminal = pty.openpty()
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
    settings = {name: value for name, value in os.environ.items() if not name.startswith("LC_") and name != "LANG"}
    settings.update(environment or {"LC_ALL": "C.UTF-8"})
    process = subprocess.Popen(command, cwd=folder, stdin=subprocess.DEVNULL, stdout=terminal, stderr=terminal, env=settings)
    os.close(terminal)
    return read_to_end(process, controller)


def run_with_answers(command, folder, answers):
    """(exit code, what the terminal is sent). `answers`: what is typed once the terminal shows a text, in order."""
    controller, terminal = pty.openpty()
    process = subprocess.Popen(command, cwd=folder, stdin=terminal, stdout=terminal, stderr=terminal, start_new_session=True)
    os.close(terminal)
    return read_to_end(process, controller, answers)

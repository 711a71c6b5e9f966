"""What is different for a program that was built with sanitizers."""
import os
import unittest

SANITIZERS = os.environ.get("RAMPART_SANITIZE", "")  # such as "address,undefined"
unless_sanitized = unittest.skipIf(SANITIZERS, "a sanitizer takes memory and time of its own")
unless_threads_are_sanitized = unittest.skipIf("thread" in SANITIZERS, "the thread sanitizer holds a lock of its own while it gives memory, and a "
                                               "handler of a signal waits for it")
SECONDS = 900 if SANITIZERS else 60  # that a command may take

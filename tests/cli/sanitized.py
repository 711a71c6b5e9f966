"""What is different for a program that was built with sanitizers."""
import os
import unittest

SANITIZERS = os.environ.get("RAMPART_SANITIZE", "")  # such as "address,undefined"
unless_sanitized = unittest.skipIf(SANITIZERS, "a sanitizer takes memory and time of its own")
SECONDS = 900 if SANITIZERS else 60  # that a command may take

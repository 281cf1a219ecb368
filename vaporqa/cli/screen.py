"""Printing: the one place that writes to the screen, quiet when its reader has seen enough."""

from __future__ import annotations

import os
import sys


def say(content: bytes | str) -> None:
    """Write to stdout as UTF-8; a reader that has gone away (`| head`) is no fault and changes no exit code."""
    data = content.encode("utf-8", "replace") if isinstance(content, str) else content
    sys.stdout.flush()
    try:
        binary = getattr(sys.stdout, "buffer", None)
        if binary is None:
            sys.stdout.write(data.decode())
        else:
            binary.write(data)
        sys.stdout.flush()
    except BrokenPipeError:
        close_quietly()


def close_quietly() -> None:
    """Point stdout nowhere, so that the interpreter does not complain of the closed pipe at its exit."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())

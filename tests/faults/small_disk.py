"""Runs a command on a disk that is as good as full: no file can grow past a number of bytes.

usage: python small_disk.py BYTES COMMAND [WORD ...]        (POSIX systems)
"""

from __future__ import annotations

import os
import resource
import signal
import sys


def main() -> None:
    """Set the limit for this process and become the command."""
    most = int(sys.argv[1])
    # Past the limit a write fails with "file too large" instead of ending the process.
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    os.execvp(sys.argv[2], sys.argv[2:])


if __name__ == "__main__":
    main()

"""The calls that not every system has, each with what stands for it elsewhere.

No other module uses them; a test looks for their names.
"""

import ctypes
import os
import signal
import sys
import time
from contextlib import suppress
from pathlib import Path

# Windows needs the first and has not the others. A pipe is opened without waiting for its writer.
READ_PLAINLY = (
    os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)
)
READ_NO_LINK = READ_PLAINLY | getattr(os, "O_NOFOLLOW", 0)

KILL = getattr(signal, "SIGKILL", signal.SIGTERM)
# How a process that KILL ended reports it; Windows gives the signal's number itself.
KILLED = (-KILL, int(KILL))

CAN_RESERVE = hasattr(os, "posix_fallocate")


def reserve(descriptor: int, first: int, count: int) -> None:
    """Set ``count`` bytes of an open file aside on the disk, where CAN_RESERVE says so."""
    os.posix_fallocate(descriptor, first, count)


def make_read_only(descriptor: int) -> None:
    """Nobody may write the open file any more, where the system can say so of an open file."""
    if hasattr(os, "fchmod"):
        os.fchmod(descriptor, 0o444)


def sync_file(descriptor: int) -> None:
    """Force a file's bytes through the operating system to the disk itself."""
    if sys.platform == "darwin":
        import fcntl

        # macOS's fsync stops at the drive's own cache (fsync(2) there).
        fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
    else:
        os.fsync(descriptor)


def sync_folder(folder: Path) -> None:
    """Force a folder's entries to the disk. Windows offers no such call and needs none on NTFS."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        sync_file(descriptor)
    finally:
        os.close(descriptor)


def leave_no_core() -> None:
    """From now on no image of this process's memory is written where it ends badly: it holds a
    private key. Windows writes none unless it was set up to."""
    with suppress(ImportError, ValueError):
        import resource

        resource.setrlimit(resource.RLIMIT_CORE, (0, resource.getrlimit(resource.RLIMIT_CORE)[1]))


def give_memory_back() -> None:
    """Freed memory that the allocator keeps goes to the system, where there is a call for it
    (glibc's malloc_trim): decoded photos leave large holes in the heaps of several threads."""
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
    if trim is not None:
        trim(0)


def monotonic_ns() -> int:
    """Nanoseconds on a clock that nobody sets and that goes on during suspend, where the
    system has one (Linux: CLOCK_BOOTTIME, macOS: CLOCK_MONOTONIC)."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        return time.clock_gettime_ns(time.CLOCK_MONOTONIC)
    return time.monotonic_ns()

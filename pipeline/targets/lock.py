"""A file that one process at a time holds; the system lets go of it when that process ends."""

import sys
from typing import IO

if sys.platform == "win32":
    import msvcrt

    def hold(file: IO[str]) -> None:
        """Hold the open file. Raises OSError at once where another process holds it."""
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def hold(file: IO[str]) -> None:
        """Hold the open file. Raises OSError at once where another process holds it."""
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)

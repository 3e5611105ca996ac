"""A lock on a session, so that it runs in one window only. The one importer of filelock.

The system takes the lock away when the process ends, however it ends. The lock file stays: taking it away could let two
processes lock two files of the same name.
"""

from __future__ import annotations

from pathlib import Path

from filelock import BaseFileLock, FileLock, Timeout

from ..casebook import private_files
from ..casebook.store import LOCKS
from ..errors import ListenError

SessionLock = BaseFileLock
"""A lock that is held until it is released or its process ends."""


def lock(folder: Path, name: str, who: str) -> SessionLock:
    """The lock of that name in a casebook's folder, taken; whoever holds it releases it.

    Parameters
    ----------
    who
        Whose session it is, for the sentence that refuses a second one.

    Raises
    ------
    ListenError
        If the session runs already, or nothing can be locked there.
    """
    try:
        private_files.make_folder(folder / LOCKS)
        taken = FileLock(folder / LOCKS / name, mode=private_files.FILE)
        taken.acquire(timeout=0)
    except Timeout as error:
        raise ListenError(f"the session of {who} is running in another window; finish or stop it there") from error
    except OSError as error:
        raise ListenError(
            f"cannot lock a session in {folder / LOCKS}: {error.strerror}; check the disk and its permissions"
        ) from error
    return taken

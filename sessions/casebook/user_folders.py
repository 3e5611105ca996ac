"""Folders of this user's own, where each system keeps them. The one importer of platformdirs."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from . import private_files

CACHE = "EARWITNESS_CACHE"  # names another folder for what can be made again


def cache() -> Path:
    """For what can be made again at any time."""
    named = os.environ.get(CACHE)
    if named:
        return Path(named)
    import platformdirs

    return platformdirs.user_cache_path("earwitness", appauthor=False)


def is_this_users_alone(folder: Path) -> bool:
    """Whether nobody else can read or write a folder that is there.

    On Windows the user's folders are private by their place.
    """
    if sys.platform == "win32":
        return True
    return folder.stat().st_uid == os.getuid() and private_files.is_private(folder)

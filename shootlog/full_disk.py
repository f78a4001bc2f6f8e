"""Is it that a disk has no room: ours, or the one the database lies on?"""

from __future__ import annotations

import errno
import sqlite3

NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
#: a write that found no room; the index beside the write-ahead log that could not grow
SQLITE_NO_ROOM = {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR_SHMSIZE}
POSTGRESQL_DISK_FULL = "53100"  # PostgreSQL manual, appendix A: class 53, insufficient resources


def is_full(trouble: BaseException | None) -> bool:
    """Whether this trouble, or what it came from, is a full disk."""
    while trouble is not None:
        if isinstance(trouble, OSError) and trouble.errno in NO_ROOM:
            return True
        if getattr(trouble, "sqlite_errorcode", None) in SQLITE_NO_ROOM:
            return True
        if getattr(trouble, "sqlstate", None) == POSTGRESQL_DISK_FULL:
            return True
        trouble = trouble.__cause__
    return False

"""Why the system refused, in words."""

from __future__ import annotations

import errno

_REASONS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk is full, or what you may use of it",
    errno.EFBIG: "the file would be larger than the system allows",
    errno.EIO: "the disk reports an error",
    errno.EACCES: "the folder or the file is read-only, or another program holds the file open",
    errno.EPERM: "the folder or the file is read-only, or another program holds the file open",
    errno.EROFS: "the folder or the file is read-only, or another program holds the file open",
    errno.ENAMETOOLONG: "the name is too long",
    errno.EISDIR: "it is a folder",
    errno.ELOOP: "it is a link that leads in a circle",
    errno.ENXIO: "nobody listens there",
    errno.EBADF: "it is closed",
}


def reason(error: OSError) -> str:
    """Return why something could not be read or written, without a full stop.

    Examples
    --------
    >>> import errno
    >>> reason(OSError(errno.ENOSPC, "No space left on device"))
    'the disk is full'
    """
    return _REASONS.get(error.errno or 0) or (error.strerror or str(error) or "the system refused").rstrip(
        "."
    )

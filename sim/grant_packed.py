"""Packed documents whose bytes do not tell when they were written."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import datetime

SAVED = datetime(2000, 1, 1)  # what a file says of when it was written: always the same


def undated(saved: bytes) -> bytes:
    """The same packed file with all its dates set to one day."""
    stamp = rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*"
    then = rb"\g<1>" + SAVED.isoformat().encode() + b"Z"
    written = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(saved)) as old,
        zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(stamp, then, content)
            entry = zipfile.ZipInfo(name, SAVED.timetuple()[:6])
            new.writestr(entry, content, zipfile.ZIP_DEFLATED)
    return written.getvalue()

"""Safe names for files that are called after a tag, serial or number."""

from __future__ import annotations

import hashlib
import re

_LONGEST = 80
_DEVICE_NAMES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)


def safe_file_name(text: str, suffix: str = "") -> str:
    """Return a file name for `text` that every system accepts; `suffix` such as ".pdf" is added.

    Letters A–Z, digits, dot, dash and underscore stay. A text that had to be changed gets six
    digits of its own hash, so that `A/B` and `A-B` do not overwrite each other. The name never
    begins with a dot or a dash and is never a device name.
    """
    name = re.sub(r"[^A-Za-z0-9._-]+", "-", text)[:_LONGEST].strip(".-")
    if name and name == text and not _DEVICE_NAMES.fullmatch(name):
        return name + suffix
    mark = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:6]
    stem = name.replace(".", "-") or "file"
    return f"{stem}_{mark}{suffix}"

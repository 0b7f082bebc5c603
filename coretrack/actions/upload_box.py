"""Files that came in by the browser and wait for a person to look at them before they are stored.

The bytes lie in the data folder (`uploads/`, for their owner only) under a random name; the name
that the file was sent with is only ever shown. What it is and how it is to be read lies in a draft
of the person who sent it. Both are cleaned away by later uploads.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from os import utime
from pathlib import Path
from typing import Any

from coretrack.actions import drafts
from coretrack.errors import NotFound, Unavailable
from coretrack.paper.incoming import safe_name
from coretrack.records.database import connection
from coretrack.records.drafts import Draft
from coretrack.records.drafts import read as draft_at
from coretrack.records.writer import Writer, writing

WAITING = timedelta(days=1)
"""How long a file waits to be stored."""

ANSWERED = timedelta(days=7)
"""How long what came of a file, and its rejected rows, can be fetched."""

FOLDER = "uploads"
PART, REJECTS = ".part", ".rejects"
_KEPT_FOR = {PART: WAITING, REJECTS: ANSWERED}
_TOKEN = re.compile(r"[0-9a-f]{32}")
_GONE = (
    "This file is no longer here: it was put away, or waited for more than a day. Choose it again; "
    "rows that are stored are not stored twice."
)


@dataclass(frozen=True)
class Upload:
    """A file that came in: its own key, the name to show, and what was told beside it.

    `answer` is what came of it, None while it waits.
    """

    token: str
    name: str
    told: Mapping[str, str]
    answer: Mapping[str, Any] | None


class UploadBox:
    """One person's files in the box of a data folder (None: there is none, nothing is taken in)."""

    def __init__(self, folder: Path | None, *, by: str, now: datetime) -> None:
        self._folder = folder / FOLDER if folder else None
        self._by = by
        self._now = now

    def put_in(self, name: str, content: bytes, told: Mapping[str, str]) -> str:
        """Keep a file and return its token; Unavailable when the disk does not take it."""
        token = secrets.token_hex(16)
        self._clean_files()
        self._write(token, PART, content)
        with self._writing() as writer:
            _drop_old_drafts(writer)
            body = {"name": safe_name(name), "told": dict(told), "answer": None}
            drafts.keep_draft(writer, _key(token), body)
        return token

    def find(self, token: str) -> Upload:
        """Return one of this person's files; NotFound when it is nobody's or somebody else's."""
        with connection():
            draft = self._draft(token)
        return Upload(token, draft.body["name"], draft.body["told"], draft.body["answer"])

    def tell(self, token: str, told: Mapping[str, str]) -> None:
        """Note other words beside a file that waits."""
        with self._writing() as writer:
            draft = self._draft(token)
            if draft.body["answer"] is None:
                drafts.keep_draft(writer, _key(token), {**draft.body, "told": dict(told)})

    def content(self, token: str) -> bytes:
        """Return the bytes of a file that waits."""
        return self._read(token, PART)

    def answer(self, token: str, answer: Mapping[str, Any], rejects: bytes | None) -> None:
        """Note what came of a file and let its bytes go; `rejects` are the rows that stay out.

        Pressed twice at the same moment, the file answers twice: the answer that stored more
        counts, since the other one only found everything done.
        """
        if rejects is not None:
            self._write(token, REJECTS, rejects)
        with self._writing() as writer:
            draft = self._draft(token)
            earlier = draft.body["answer"]
            if earlier is None or earlier["stored"] < answer["stored"]:
                drafts.keep_draft(writer, _key(token), {**draft.body, "answer": dict(answer)})
        self._path(token, PART).unlink(missing_ok=True)

    def rejects(self, token: str) -> bytes:
        """Return the rejects file of a file that was answered."""
        return self._read(token, REJECTS)

    def throw_away(self, token: str) -> None:
        """Let a file go that shall not be stored."""
        with self._writing() as writer:
            self._draft(token)
            drafts.drop_draft(writer, _key(token))
        for ending in _KEPT_FOR:
            self._path(token, ending).unlink(missing_ok=True)

    def _writing(self) -> Any:
        return writing(self._by, self._now, "upload")

    def _draft(self, token: str) -> Draft:
        draft = draft_at(_key(token)) if _TOKEN.fullmatch(token) else None
        if draft is None or draft.person != self._by:
            raise NotFound(_GONE)
        return draft

    def _path(self, token: str, ending: str) -> Path:
        # The name is made here and never typed, so that it cannot lead out of the folder.
        if not _TOKEN.fullmatch(token):
            raise NotFound(_GONE)
        if self._folder is None:
            raise Unavailable("These pages have no data folder, so no file can be taken in.")
        return self._folder / f"{token}{ending}"

    def _write(self, token: str, ending: str, content: bytes) -> None:
        path = self._path(token, ending)
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            path.touch(mode=0o600)
            path.write_bytes(content)
            utime(path, (self._now.timestamp(), self._now.timestamp()))
        except OSError as error:
            path.unlink(missing_ok=True)
            raise Unavailable(
                f"The file cannot be kept in the data folder ({error.strerror}); nothing was "
                "stored. Make room and send it again."
            ) from error

    def _read(self, token: str, ending: str) -> bytes:
        try:
            return self._path(token, ending).read_bytes()
        except OSError as error:
            raise NotFound(_GONE) from error

    def _clean_files(self) -> None:
        """Remove what has waited too long; a file that cannot be removed waits for the next time"""
        if self._folder is None or not self._folder.is_dir():
            return
        for path in self._folder.iterdir():
            longest = _KEPT_FOR.get(path.suffix)
            if longest is None:
                continue
            try:
                if path.stat().st_mtime < (self._now - longest).timestamp():
                    path.unlink()
            except OSError:
                continue


def _key(token: str) -> str:
    return f"upload/{token}"


def _drop_old_drafts(writer: Writer) -> None:
    for draft in drafts.drafts_beginning("upload/"):
        longest = WAITING if draft.body["answer"] is None else ANSWERED
        if draft.at < writer.at - longest:
            drafts.drop_draft(writer, draft.key)

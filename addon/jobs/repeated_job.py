"""The earlier job that a new one repeats, by its record."""

from __future__ import annotations

import contextlib
import errno
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ...core.errors import BadRecord, CoreError
from ...core.recording.job_seen import place_matches, seen_job
from ...core.strict_json import parse_object
from ...core.values import PartDemands, Settings
from .recorded_settings import recorded_settings

MOST_BYTES = 16 * 1024 * 1024
"""Of a record; one of a hundred pieces has a thirtieth of it."""


@dataclass(frozen=True, slots=True, eq=False)
class Repeated:
    """The earlier job that is repeated.

    file : its record
    document : what that holds
    settings : that it had for every part
    own : more, for single parts, by the names that these have now
    with_trial : it made the fit trial of its first joint
    """

    file: Path
    document: Mapping[str, object]
    settings: Settings
    own: Mapping[str, PartDemands]
    with_trial: bool


def read_repeated(file: Path, stems: Sequence[str]) -> Repeated:
    """The job of a record, its settings for parts of these names.

    Raises
    ------
    BadRecord : the file cannot be read, is no record of a job or a damaged one; or it
        asks something for a part of which nobody can say which of `stems` it is
    """
    with _told(file):
        document = parse_object(_text(file), _damaged)
        seen = seen_job(document)
        recorded = recorded_settings(document)
        own = _renamed(recorded.own, seen.stems, stems)
    return Repeated(file, document, recorded.settings, own, seen.with_trial)


@contextlib.contextmanager
def _told(file: Path) -> Iterator[None]:
    """Have a refusal tell the file."""
    try:
        yield
    except CoreError as problem:
        problem.found = f"in {file}: {problem.found}"
        raise
    except OSError as problem:
        raise BadRecord(
            f"{file}: {problem.strerror} (error {problem.errno})",
            "1 file that can be read, the job.json of an earlier job",
            "its path as it is in that job's folder, --from DIR/job.json",
        ) from None


def _text(file: Path) -> str:
    if file.is_dir():
        raise OSError(errno.EISDIR, "it is a folder")
    if file.exists() and not file.is_file():
        raise OSError(errno.EINVAL, "it is a pipe or device")
    with file.open("rb") as opened:
        data = opened.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise BadRecord(
            f"over {MOST_BYTES} bytes", f"at most {MOST_BYTES}", "the job.json that split wrote"
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise _damaged(f"bytes that are not UTF-8, the first at {problem.start}", "UTF-8") from None


def _renamed(
    own: Mapping[str, PartDemands], old: Sequence[str], new: Sequence[str]
) -> dict[str, PartDemands]:
    """What is asked for single parts, by their names of now; nothing of parts that are left out."""
    now = {before: after for after, before in place_matches(old, new).items()}
    unknown = [stem for stem in new if stem not in now.values()]
    renamed = {}
    for name, demands in own.items():
        stem = next((stem for stem in old if _is_of(name, stem)), None)
        if stem is not None and stem in now:
            renamed[now[stem] + name.removeprefix(stem)] = demands
        elif unknown:
            raise BadRecord(
                f"something asked for part {name!r}, and {unknown[0]!r} among the {len(new)} parts "
                "given, which may be it or not",
                "the same number of parts in the same order, or the same names",
                f"the file called {name} again, or all {len(old)} parts: {', '.join(old)}",
            )
    return renamed


def _is_of(name: str, stem: str) -> bool:
    """Is it the name of that file's part, or of a body in it?"""
    return re.fullmatch(re.escape(stem) + "(-[a-z]+)?", name) is not None


def _damaged(found: str, needed: str) -> BadRecord:
    return BadRecord(found, needed, "job.json as a job wrote it, or the options in its place")

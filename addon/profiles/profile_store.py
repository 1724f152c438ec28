"""Where printer profiles are kept: one folder, one JSON file a profile.

The folder is the installed extension's own user folder, for headless and panel alike;
outside of Blender's extensions it is the user's configuration folder. What is in a file
that cannot be read is somebody's, perhaps a newer version's: it is told, and never
replaced or removed.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
import unicodedata
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ...core.errors import BadProfile, CoreError
from ...core.fitting.printer_profile import PrinterProfile, format_profile, parse_profile
from ...core.fitting.profile_name import check_name, name_key
from ..extension import ROOT

FOLDER_VARIABLE = "BOREWRIGHT_PROFILES"
"""Names another folder, where it is set."""

ENDING = ".json"

MOST_BYTES = 65536
"""Of a profile's file; a sound one has under a thousand."""


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A file of the folder that holds no profile, and why."""

    path: Path
    problem: CoreError


@dataclass(frozen=True, slots=True)
class Kept:
    """All that is in the folder, by name."""

    folder: Path
    profiles: tuple[PrinterProfile, ...]
    unreadable: tuple[Unreadable, ...]


def profiles_folder() -> Path:
    """The folder that profiles are kept in; it need not exist yet."""
    other = os.environ.get(FOLDER_VARIABLE)
    if other:
        return Path(other).expanduser().absolute()
    if ROOT.startswith("bl_ext."):
        import bpy

        return Path(bpy.utils.extension_path_user(ROOT, path="profiles"))
    return _configuration_folder() / "borewright" / "profiles"


def _configuration_folder() -> Path:
    """The user's own, where the system has it."""
    home = Path(os.path.expanduser("~"))  # noqa: PTH111 - Path.home raises where there is none
    if sys.platform == "win32":
        return Path(os.environ.get("APPDATA") or home / "AppData" / "Roaming")
    if sys.platform == "darwin":
        return home / "Library" / "Application Support"
    named = os.environ.get("XDG_CONFIG_HOME", "")
    return Path(named) if os.path.isabs(named) else home / ".config"  # noqa: PTH117 - may be ""


def kept_profiles() -> Kept:
    """Every profile, and every file that should be one and is not.

    Raises
    ------
    BadProfile : the folder cannot be read
    """
    folder = profiles_folder()
    profiles, unreadable = [], []
    for path in _files(folder):
        try:
            profiles.append(_load(path))
        except CoreError as problem:
            unreadable.append(Unreadable(path, problem))
    profiles.sort(key=lambda profile: (name_key(profile.name), profile.name))
    return Kept(folder, tuple(profiles), tuple(unreadable))


def profile_path(name: str) -> Path | None:
    """The file of that name's profile, readable or not; None: there is none.

    Raises
    ------
    BadProfile : the name is none for a file, there are two, or the folder cannot be read
    """
    return _find(profiles_folder(), name)


def read_profile(name: str) -> PrinterProfile:
    """The profile of that name.

    Raises
    ------
    CoreError : there is none, there are two, or it is damaged; told with its path
    """
    return _load(_found(name))


def save_profile(profile: PrinterProfile) -> Path:
    """Keep a profile, in place of the one of the same name; the path of its file.

    The file is whole at any time: it is written beside its place and then moved there.

    Raises
    ------
    CoreError : what has its name now is damaged, and stays; or the folder cannot be
        written to
    """
    folder = profiles_folder()
    path = _find(folder, profile.name)
    if path is not None:
        _load(path)
    else:
        path = folder / (unicodedata.normalize("NFC", profile.name) + ENDING)
    with _refusals(path):
        folder.mkdir(parents=True, exist_ok=True)
        _write(Path(os.path.realpath(path)), format_profile(profile))
    return path


def remove_profile(name: str) -> Path:
    """Remove a profile; the path that its file had.

    Raises
    ------
    CoreError : as `read_profile`; a damaged one stays
    """
    path = _found(name)
    _load(path)
    with _refusals(path):
        path.unlink()
    return path


def _write(path: Path, text: str) -> None:
    made = path.with_name(f".{path.name}.{uuid.uuid4().hex[:12]}")
    try:
        with made.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            shutil.copymode(path, made)
        made.replace(path)
    finally:
        made.unlink(missing_ok=True)


def _found(name: str) -> Path:
    folder = profiles_folder()
    path = _find(folder, name)
    if path is None:
        names = [path.name.removesuffix(ENDING) for path in _files(folder)]
        raise BadProfile(
            f"0 printer profiles of the name {name!r} in {folder}, which has {len(names)}",
            "1",
            f"one of {', '.join(names)}" if names else "borewright profile NAME --nozzle 0.4, "
            "which makes one",
        )  # fmt: skip
    return path


def _find(folder: Path, name: str) -> Path | None:
    """The file of a profile; capitals do not matter, whatever the system."""
    check_name(name)
    key = name_key(name)
    same = [path for path in _files(folder) if name_key(path.name.removesuffix(ENDING)) == key]
    if len(same) > 1:
        raise BadProfile(
            f"{len(same)} files for one profile name: {' and '.join(map(str, same))}",
            "1, for some systems take them for one",
            "move all but one away",
        )
    return same[0] if same else None


def _files(folder: Path) -> list[Path]:
    with _refusals(folder):
        if not folder.exists():
            return []
        return sorted(
            path
            for path in folder.iterdir()
            if path.name.endswith(ENDING) and not path.name.startswith(".")
        )


def _load(path: Path) -> PrinterProfile:
    """The profile in a file, any refusal with the file's path."""
    try:
        profile = parse_profile(_text(path))
        _check_place(path, profile)
    except CoreError as problem:
        problem.found = f"in {path}: {problem.found}"
        raise
    return profile


def _text(path: Path) -> str:
    with _refusals(path):
        if not path.is_file():
            raise BadProfile("0 files: it is a folder or device", "1 file", "move it away")
        data = path.read_bytes() if path.stat().st_size <= MOST_BYTES else None
    if data is None:
        raise BadProfile("a large file", f"at most {MOST_BYTES} bytes", "move it away")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadProfile(
            f"bytes that are not UTF-8, the first at {problem.start}",
            "UTF-8",
            "mend the file, or move it away and make the profile anew",
        ) from None


def _check_place(path: Path, profile: PrinterProfile) -> None:
    """A file that was copied or renamed would be listed by one name and found by another."""
    if name_key(path.name.removesuffix(ENDING)) != name_key(profile.name):
        raise BadProfile(
            f"profile {profile.name!r} in a file of 1 other name",
            f"file name {profile.name}{ENDING}",
            "rename the file, or change the name in it",
        )


@contextlib.contextmanager
def _refusals(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as problem:
        raise BadProfile(
            f"{path}: {problem.strerror} (error {problem.errno})",
            "1 folder for printer profiles that can be read and written to",
            f"its permissions, or another folder in {FOLDER_VARIABLE}",
        ) from None

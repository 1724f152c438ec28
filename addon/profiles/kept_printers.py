"""The kept printer profiles, as a panel may ask for them at every draw.

They are read again only when one of their files has changed.
"""

from __future__ import annotations

import os

from ...core.errors import CoreError
from ...core.fitting.printer_profile import PrinterProfile
from ...core.fitting.profile_name import name_key
from . import profile_store
from .profile_store import Kept

_State = tuple[str, tuple[tuple[str, int, int], ...]]

_seen: dict[_State, Kept] = {}
"""What the folder held in the state that it was in last; one entry at the most."""


def kept_now() -> Kept:
    """All that is in the folder now; nothing where it cannot be read."""
    state = _folder_state()
    if state not in _seen:
        _seen.clear()
        _seen[state] = _read()
    return _seen[state]


def kept_printer(name: str) -> PrinterProfile | None:
    """The profile of that name as it is kept now, if it is and can be read."""
    key = name_key(name)
    same = (profile for profile in kept_now().profiles if name_key(profile.name) == key)
    return next(same, None)


def _read() -> Kept:
    try:
        return profile_store.kept_profiles()
    except CoreError:
        return Kept(profile_store.profiles_folder(), (), ())


def _folder_state() -> _State:
    """The folder and its files, with their times and sizes."""
    folder = str(profile_store.profiles_folder())
    try:
        with os.scandir(folder) as entries:
            files = [(entry.name, entry.stat()) for entry in entries]
    except OSError:
        return folder, ()
    return folder, tuple(sorted((name, told.st_mtime_ns, told.st_size) for name, told in files))

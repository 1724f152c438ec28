"""A share of the tests, where all of them are run beside it on another host.

BOREWRIGHT_SHARE=2/3 keeps the second of three shares. Which test is in which share goes by its
name, so that the shares of three runs are all tests, each once.
"""

from __future__ import annotations

import os
import zlib

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    share = os.environ.get("BOREWRIGHT_SHARE")
    if not share:
        return
    number, count = (int(text) for text in share.split("/"))
    assert 1 <= number <= count
    shares = [zlib.crc32(item.nodeid.encode()) % count + 1 for item in items]
    others = [item for item, own in zip(items, shares, strict=True) if own != number]
    config.hook.pytest_deselected(items=others)
    items[:] = [item for item, own in zip(items, shares, strict=True) if own == number]

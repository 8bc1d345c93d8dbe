"""Tests in another order, so that none leans on one before it: TEST_ORDER=random, or the seed that a run printed."""

import os
import random
import secrets

import pytest

ORDER = os.environ.get("TEST_ORDER", "")
SEED = secrets.randbelow(1_000_000) if ORDER == "random" else int(ORDER or 0)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    if ORDER:
        chance = random.Random(SEED)
        place = {file: chance.random() for file in sorted({item.path for item in items})}
        chance.shuffle(items)
        items.sort(key=lambda item: place[item.path])  # those of a file stay together: they share fits


def pytest_terminal_summary(terminalreporter):
    if ORDER:
        terminalreporter.write_line(f"in the order of TEST_ORDER={SEED}")

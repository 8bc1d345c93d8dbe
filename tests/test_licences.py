"""toolkit/LICENCES.md lists all that is installed with bandtrial; nothing without a licence is."""

import importlib.util
import re
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_every_pinned_package_is_listed_with_its_licence():
    """Of the packages that constraints.txt pins and that are installed here; other versions may need other packages."""
    spec = importlib.util.spec_from_file_location("licences", ROOT / ".ci" / "licences.py")
    licences = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(licences)
    constraints = (ROOT / "toolkit" / "constraints.txt").read_text(encoding="utf-8")
    pinned = set(re.findall(r"^([\w.-]+)==", constraints, re.MULTILINE))
    found = {name: told for name, (_, told) in licences.installed("bandtrial").items() if name in pinned}
    listed = set(re.findall(r"[\w.-]+", (ROOT / "toolkit" / "LICENCES.md").read_text(encoding="utf-8")))
    assert len(found) > 20
    assert sorted(found.keys() - listed) == []
    assert sorted(name for name, told in found.items() if not told) == []

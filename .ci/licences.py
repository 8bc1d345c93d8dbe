"""Licences of everything that installing bandtrial installs, from the metadata of what is installed here.

    .venv/bin/python .ci/licences.py [--names]

Walks the requirements from bandtrial down. Without --names: one line a licence with its packages, as it stands in
toolkit/LICENCES.md; with it: one line a package, its version and licence. Fails where a package names no licence.
"""

import re
import sys
from collections import defaultdict
from importlib.metadata import PackageNotFoundError, distribution

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

USUAL = (("Apache-2.0", "Apache"), ("BSD-3-Clause", "BSD 3|3-Clause"), ("BSD", "BSD"), ("MIT", "MIT|Expat"),
         ("PSF-2.0", "Python Software Foundation|PSF"), ("MPL-2.0", "Mozilla|MPL"), ("ISC", "ISC"),
         ("MIT-CMU", "HPND|CMU"))  # fmt: skip


def installed(root: str) -> dict[str, tuple[str, str]]:
    """Name -> (version, licence) of `root`'s requirements, theirs and so on; those not installed are not needed."""
    found: dict[str, tuple[str, str]] = {}
    waiting, seen = [Requirement(root)], set()
    while waiting:
        wanted = waiting.pop()
        name, extras = canonicalize_name(wanted.name), {"", *wanted.extras}
        if (name, frozenset(extras)) in seen:
            continue
        seen.add((name, frozenset(extras)))
        try:
            one = distribution(wanted.name)
        except PackageNotFoundError:
            continue
        found[name] = (one.version, licence(one))
        for text in one.requires or ():
            need = Requirement(text)
            if need.marker is None or any(need.marker.evaluate({"extra": e}) for e in extras):
                waiting.append(Requirement(str(need).split(";")[0]))
    return found


def licence(one) -> str:
    """SPDX expression where the package gives one, else its classifiers, else the first line it wrote."""
    if told := one.metadata.get("License-Expression"):
        return told
    classifiers = [c.rpartition(" :: ")[2] for c in one.metadata.get_all("Classifier") or () if c.startswith("License")]
    told = " and ".join(c for c in classifiers if c != "OSI Approved") or one.metadata.get("License") or ""
    told = told.strip().splitlines()[0] if told.strip() else ""
    return next((short for short, words in USUAL if re.search(words, told)), told)


def main() -> int:
    found = installed("bandtrial")
    del found["bandtrial"]
    if "--names" in sys.argv:
        for name in sorted(found):
            print(f"{name:<28}{found[name][0]:<16}{found[name][1] or 'NOT NAMED'}")
    else:
        groups = defaultdict(list)
        for name, (_, told) in sorted(found.items()):
            groups[told or "NOT NAMED"].append(name)
        for told in sorted(groups, key=lambda g: -len(groups[g])):
            print(f"- **{told}** ({len(groups[told])}): {', '.join(groups[told])}")
    return 1 if any(not told for _, told in found.values()) else 0


if __name__ == "__main__":
    sys.exit(main())

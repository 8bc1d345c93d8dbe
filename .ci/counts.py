"""Print the counts of each pytest run in a folder of JUnit XML files, and their sum on the last line.

Fails where a run is missing, and where a browser test was skipped or none ran: a check that did not run is no check.
"""

import sys
import xml.etree.ElementTree as ET
from pathlib import Path

RUNS = ("tests", "notebooks", "browser")


def counts(file: Path) -> dict[str, int]:
    suite = ET.parse(file).getroot().find("testsuite").attrib
    total, failed = int(suite["tests"]), int(suite["failures"]) + int(suite["errors"])
    skipped = int(suite["skipped"])
    return {"passed": total - failed - skipped, "failed": failed, "skipped": skipped}


def main(folder: Path) -> int:
    total, wrong = {"passed": 0, "failed": 0, "skipped": 0}, []
    for run in (*RUNS, *sorted(file.stem for file in folder.glob("matrix-*.xml"))):
        file = folder / f"{run}.xml"
        if not file.exists():
            wrong.append(f"{run}: did not run")
            continue
        found = counts(file)
        print(f"{run}: " + ", ".join(f"{n} {word}" for word, n in found.items()))
        total = {word: total[word] + found[word] for word in total}
        if found["failed"]:
            wrong.append(f"{run}: {found['failed']} failed")
        if run == "browser" and (found["skipped"] or not found["passed"]):
            wrong.append(f"browser: {found['skipped']} skipped, {found['passed']} passed; all have to run")
    print(*wrong, sep="\n", end="\n" if wrong else "")
    print(f"{total['passed']} passed, {total['failed']} failed, {total['skipped']} skipped")
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))

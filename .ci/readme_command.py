"""Print the first (1) or second (2) shell block of the README, so that CI runs what the README promises."""

import re
import sys
from pathlib import Path

readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
print(re.findall(r"^```sh\n(.*?)^```$", readme, re.M | re.S)[int(sys.argv[1]) - 1])

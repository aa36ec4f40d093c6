"""Steps called one after another in one process, with the files that a run of the rules gave them.

It is called with a list of (script, command line), JSON.

With the word `twice` all are called once more, with everything loaded, and what each took then is the last
line on stderr, JSON: (step, s).
"""

import json
import runpy
import sys
import time
from pathlib import Path

steps, words = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8")), sys.argv[2:]
for _ in range(2 if "twice" in words else 1):
    took = []
    for script, line in steps:
        sys.argv = [script, *line]
        sys.path.insert(0, str(Path(script).parent))
        began = time.perf_counter()
        runpy.run_path(script, run_name="__main__")
        took.append((Path(script).stem, time.perf_counter() - began))
print(json.dumps(took), file=sys.stderr)

"""Steps called one after another in one process, with the files that a run of the rules gave them. Called with a list of (script, command line), JSON."""

import json
import runpy
import sys
from pathlib import Path

for script, line in json.loads(Path(sys.argv[1]).read_text(encoding="utf-8")):
    sys.argv = [script, *line]
    sys.path.insert(0, str(Path(script).parent))
    runpy.run_path(script, run_name="__main__")

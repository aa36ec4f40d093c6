"""The figures and the PDF as a plain program would make them: every sample drawn, coordinates in full, words as outlines, the PDF not packed. Called with a list of (script, command line)."""

import json
import runpy
import sys
from pathlib import Path

sys.path.insert(0, str(Path.cwd() / "workflow"))

import matplotlib
from headland import figures, paper


def svg(figure, equation=False):
    import io
    stream = io.StringIO()
    with matplotlib.rc_context({**figures.STYLE, "path.simplify": False, "svg.fonttype": "path"}):
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None}, **({"bbox_inches": "tight", "pad_inches": 0.02} if equation else {}))
    return stream.getvalue()


figures.thinned = lambda x, y, most=0: (x, y)
figures.svg = svg
paper.packed = lambda made: made
for script, line in json.loads(Path(sys.argv[1]).read_text(encoding="utf-8")):
    sys.argv = [script, *line]
    sys.path.insert(0, str(Path(script).parent))
    runpy.run_path(script, run_name="__main__")

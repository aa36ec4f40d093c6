"""The figures and the PDF as a plain program would make them: every sample drawn, coordinates in full.

Words are outlines, and the page goes to a library for web pages as it is.
It is called with a list of (script, command line).
"""

import json
import runpy
import sys
from pathlib import Path

sys.path.insert(0, str(Path.cwd() / "workflow"))

import matplotlib
import weasyprint

from headland.report import figures, pdf


def svg(figure, equation=False):
    import io

    stream = io.StringIO()
    with matplotlib.rc_context({**figures.STYLE, "path.simplify": False, "svg.fonttype": "path"}):
        figure.savefig(
            stream,
            format="svg",
            metadata={"Date": None, "Creator": None},
            **({"bbox_inches": "tight", "pad_inches": 0.02} if equation else {}),
        )
    return stream.getvalue()


def plain_pdf(page, attached):
    files = [weasyprint.Attachment(string=text, name=name) for name, text in attached.items()]
    return weasyprint.HTML(string=page).write_pdf(pdf_variant="pdf/a-3a", attachments=files)


figures.thinned = lambda x, y, most=0: (x, y)
figures.svg, pdf.pdf = svg, plain_pdf
for script, line in json.loads(Path(sys.argv[1]).read_text(encoding="utf-8")):
    sys.argv = [script, *line]
    sys.path.insert(0, str(Path(script).parent))
    runpy.run_path(script, run_name="__main__")

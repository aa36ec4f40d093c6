"""The report's page for somebody who edits notes: it loads itself again whenever a new one has been made.

It is a copy with a small program. The report itself stays a pure function of its inputs.
"""

from __future__ import annotations

import hashlib
import json

PROGRAM = """<script>
(function () {{
  "use strict";
  var mine = {mark};
  window.headlandFollow = function (mark) {{ if (mark !== mine) {{ location.reload(); }} }};
  setInterval(function () {{
    var asked = document.createElement("script");
    asked.src = "follow.js?" + Date.now();
    asked.onload = asked.onerror = function () {{ asked.remove(); }};
    document.head.appendChild(asked);
  }}, 700);
}}());
</script>
"""
END = "</body>"


def mark_of(page: str) -> str:
    """A short name of a page's content."""
    return hashlib.sha256(page.encode("utf-8")).hexdigest()[:16]


def reloading(page: str, mark: str) -> str:
    """The page with the program, which asks the file `follow.js` beside it for the newest mark.

    A browser that loads the page again keeps the reader's place on it.
    """
    head, end, tail = page.rpartition(END)
    return head + PROGRAM.format(mark=json.dumps(mark)) + end + tail


def mark_file(mark: str) -> str:
    """What `follow.js` says."""
    return f"headlandFollow({json.dumps(mark)});\n"

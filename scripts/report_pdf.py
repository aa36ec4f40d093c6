"""Step 9, last part: the report's page laid out on A4."""

import sys
from collections.abc import Sequence
from pathlib import Path

import package_path  # noqa: F401
from headland import paper, step
from headland.tables import whole


def lay_out(page: Path, pdf: Path, tables: Sequence[Path] = ()) -> Path:
    """Write a page of ours as a PDF, with tables attached, and return its path; ends the program where the page can't be laid out as it should."""
    try:
        made = paper.pdf(page.read_text(encoding="utf-8"), {path.name: path.read_text(encoding="utf-8") for path in tables})
    except paper.LayoutError as problem:
        pdf.unlink(missing_ok=True)
        sys.exit(f"{page.name} can't be laid out as it should: {problem}")
    with whole(pdf) as part:
        part.write_bytes(made)
    return pdf


def main() -> None:
    args = step.arguments(one=("page", "pdf"), many=("tables",))
    lay_out(args.page, args.pdf, args.tables)


if __name__ == "__main__":
    main()

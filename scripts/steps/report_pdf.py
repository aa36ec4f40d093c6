"""Step 9, last part: the report's page as a PDF, with tables and unprinted figures attached."""

from headland.files import step
from headland.report import attached, pdf


def main() -> None:
    files = step.Files(attached.READS, {}, ("pdf",))
    others = [*files["attached"], *attached.unprinted(files["figures"])]
    pdf.lay_out(files["page"], files.paths["pdf"], others)


if __name__ == "__main__":
    step.run(main)

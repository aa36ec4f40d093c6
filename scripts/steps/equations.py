"""Step 9, before the report: its equations as pictures, which depend on no campaign's numbers."""

from headland.files import options, step
from headland.report import figures, figures_of


def main() -> None:
    files = step.Files({"equations": options.ROWS}, {}, ("pictures",))
    drawn = {f"equation_{row['number']}": figures.equation(row["mathtext"]) for row in files["equations"]}
    figures_of.write(files.paths["pictures"], drawn)


if __name__ == "__main__":
    step.run(main)

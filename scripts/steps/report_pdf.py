"""Step 9, last part: the report's page laid out on A4."""

from headland.files import step
from headland.report.pdf import lay_out


def main() -> None:
    args = step.arguments(one=("page", "pdf"), many=("tables",))
    lay_out(args.page, args.pdf, args.tables)


if __name__ == "__main__":
    main()

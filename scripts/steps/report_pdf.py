"""Step 9, last part: the report's page as a PDF, with tables and unprinted figures attached."""

from headland.files import step
from headland.report.pdf import lay_out


def main() -> None:
    args = step.arguments(one=("page", "figures", "pdf"), many=("attached",))
    unprinted = [
        path
        for kind in ("transects_*", "map", "sun_path")
        for path in sorted(args.figures.glob(f"{kind}.svg"))
    ]
    lay_out(args.page, args.pdf, [*args.attached, *unprinted])


if __name__ == "__main__":
    main()

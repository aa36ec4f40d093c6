"""Step 9, first part: put into words what the steps found, and what they could not tell."""

from headland.chain import checks
from headland.files import step, tables


def main() -> None:
    args = step.arguments(one=("sentences", "reasons", "checks", "untold"), many=("findings", "unknown"))
    found = [
        (name, finding)
        for path, name in zip(args.findings, args.settings["steps"], strict=True)
        for finding in tables.read_findings(path)
    ]
    unknown = step.together(args.unknown, "untold")
    words = (tables.read_config_table(path) for path in (args.sentences, args.reasons))
    step.write(args, checks.run(found, unknown, *words), {"checks": "checks", "untold": "untold"})


if __name__ == "__main__":
    step.run(main)

"""Step 9, first part: put into words what the steps found, and what they could not tell."""

from headland.base import findings
from headland.chain import checks
from headland.files import config_tables, step, tables


def main() -> None:
    args = step.arguments(one=("sentences", "reasons", "checks", "untold"), many=("findings", "unknown"))
    found = [
        (name, finding)
        for path, name in zip(args.findings, args.settings["steps"], strict=True)
        for finding in tables.read_findings(path)
    ]
    unknown = step.together(args.unknown, "untold")
    sentences = findings.sentences(args.sentences)
    reasons = config_tables.read_config_table(args.reasons).to_dict("records")
    made = checks.run(found, unknown, sentences, reasons)
    step.write(args, made, {"checks": "checks", "untold": "untold"})


if __name__ == "__main__":
    step.run(main)

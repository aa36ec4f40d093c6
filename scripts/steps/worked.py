"""Step 9: one sample of each set, its segment and its surface followed all the way, for the report."""

from headland.files import config_tables, step, tables, user_tables
from headland.files.surfaces import surface_classes
from headland.report import worked, worked_run


def main() -> None:
    args = step.arguments(
        one=("classes", "limits", "register", "means", "balances", "worked"),
        many=("raw", "certificates", "segmented"),
    )
    common = worked_run.Common(
        surface_classes(args.classes, args.settings["overrides"]),
        config_tables.read_config_table(args.limits),
        user_tables.read_user_table(args.register, "instruments")[0],
        tables.read_table(args.means, "segment_means"),
        tables.read_table(args.balances, "visit_balance"),
    )
    parts = []
    files = zip(args.settings["sets"].items(), args.raw, args.certificates, args.segmented, strict=True)
    for (name, entry), *paths in files:
        kinds = ("samples_raw", "certificates", "samples_segmented")
        frames = [tables.read_table(path, kind) for path, kind in zip(paths, kinds, strict=True)]
        parts += worked_run.of_set(common, name, entry, frames)
    tables.write_table(args.worked, worked.table(parts), "worked")


if __name__ == "__main__":
    main()

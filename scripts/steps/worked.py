"""Step 9: for each set one sample and one segment followed all the way, for the report's appendix."""

from headland.base.flags import excluding_flags, has_any, limits_of
from headland.base.time_text import time_text
from headland.chain import summarise
from headland.files import config_tables, step, tables, user_tables
from headland.files.surfaces import surface_classes
from headland.report import worked


def main() -> None:
    args = step.arguments(
        one=("classes", "limits", "register", "means", "balances", "worked"),
        many=("raw", "certificates", "segmented"),
    )
    settings = args.settings
    surfaces = surface_classes(args.classes, settings["overrides"])
    excluding = excluding_flags(limits_of(config_tables.read_config_table(args.limits)))
    register, _ = user_tables.read_user_table(args.register, "instruments")
    means, balances = (
        tables.read_table(args.means, "segment_means"),
        tables.read_table(args.balances, "group_balance"),
    )
    sky = summarise.reference_sky(means)
    parts = []
    for (name, entry), raw, certificates, segmented in zip(
        settings["sets"].items(), args.raw, args.certificates, args.segmented
    ):
        chosen = worked.chosen_segment(means, balances, name)
        step.say(f"{name}: {chosen or 'no segment counts'}")
        if not chosen:
            continue
        samples = tables.read_table(segmented, "samples_segmented")
        excluded, own = has_any(samples["flags"], excluding), (samples["segment"] == chosen).to_numpy()
        place = worked.chosen_sample(own, excluded)
        stored = tables.read_table(raw, "samples_raw").iloc[place]
        moment = time_text(samples["time_utc"].iloc[[place]])[0]
        parts.append(
            (
                name,
                "sample",
                moment,
                worked.of_sample(
                    stored.to_dict(),
                    entry["channels"],
                    tables.read_table(certificates, "certificates"),
                    register,
                    entry["longwave"],
                ),
            )
        )
        mean = means[means["segment"] == chosen].iloc[0].to_dict()
        group = balances[balances["surface"] == mean["surface"]].to_dict("records")
        parts.append(
            (
                name,
                "segment",
                chosen,
                worked.of_segment(
                    samples[own],
                    excluded[own],
                    mean,
                    surfaces[mean["surface"]],
                    group[0] if group else None,
                    sky,
                ),
            )
        )
    tables.write_table(args.worked, worked.table(parts), "worked")


if __name__ == "__main__":
    main()

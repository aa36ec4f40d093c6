"""Step 9, third part: the report as one self-contained page."""

import platform
from importlib.metadata import version

import jinja2
import markupsafe
import package_path  # noqa: F401
import pandas as pd
from headland import report, screen, step, summarise, tables
from headland.settings import surface_classes

LIBRARIES = ("snakemake", "numpy", "pandas", "scipy", "pvlib", "pyarrow", "matplotlib", "weasyprint")


def main() -> None:
    args = step.arguments(one=("template", "style", "screen-style", "equations", "quantities", "classes", "limits", "figures", "means", "linear", "page"),
                          many=("segmented", "certificates", "tables"))
    settings, sets = args.settings, args.settings["sets"]
    surfaces = surface_classes(args.classes, settings["overrides"])
    excluding = screen.excluding(screen.limits_of(tables.read_config_table(args.limits)))
    samples = {name: tables.read_table(path, "samples_segmented") for name, path in zip(sets, args.segmented)}
    excluded = {name: screen.has_any(frame["flags"], excluding) for name, frame in samples.items()}
    certificates = pd.concat([tables.read_table(path, "certificates") for path in args.certificates], ignore_index=True)
    table = {path.stem: tables.read_table(path, path.stem) for path in args.tables}
    quantities = tables.read_config_table(args.quantities).to_dict("records")
    keys = {row["key"]: row for row in quantities}
    figures = {path.stem: report.embedded(path.read_text(encoding="utf-8")) for path in sorted(args.figures.glob("*.svg"))}
    segments, fields, classes, checks = (table[name] for name in ("segments", "fields", "surfaces", "checks"))
    names = [report.label(surfaces, name) for name in classes["surface"]]
    used = [name for name in surfaces if name in set(segments["surface"])]
    context = {
        "title": settings["title"], "site": settings["site"], "dates": report.dates(samples), "sets_line": f"{len(sets)} set{'s' if len(sets) > 1 else ''}: {', '.join(sets)}",
        "style": markupsafe.Markup(args.style.read_text(encoding="utf-8")), "screen_style": markupsafe.Markup(args.screen_style.read_text(encoding="utf-8")), "figures": figures, "sections": report.SECTIONS, "names": dict(report.SECTIONS),
        "errors": [{**row, "where": report.place(row)} for row in checks[checks["severity"] == "error"].to_dict("records")],
        "estimate_words": report.ESTIMATE, "draws": settings["draws"],
        "answer": report.values_table(classes, [("surface", names)], ("net_radiation", "albedo", "surface_temperature", "ground_heat", "sensible_heat", "latent_heat"), keys),
        "answer_alt": report.answer_words(classes, surfaces), "no_interval": report.no_interval_words(classes, surfaces),
        "where": report.where_and_when(settings["site"], settings["zone"], samples, segments, settings["air"]),
        "certificates": report.certificates_table(certificates, sets),
        "certificate_words": ", the factor running linearly between two certificates" if settings["certificate"] == "interpolate" else ": the newest not later than it",
        "counts": report.sample_counts(samples, excluded, {name: entry["raw"] for name, entry in sets.items()}),
        "component_pages": [(name, name.removeprefix("components_").rsplit("_", 1)[0]) for name in figures if name.startswith("components_")],
        "segments": report.values_table(segments, [("segment", segments["segment"].tolist()), ("field", segments["field"].tolist()),
                                                   ("used", [f"{u:.0f} of {s:.0f}" for u, s in zip(segments["samples_used"], segments["samples"])])], report.MEASURED, keys),
        "fields": report.values_table(fields, [("field", fields["field"].tolist()), ("surface", [report.label(surfaces, s) for s in fields["surface"]])],
                                      (*report.MEASURED, "net_radiation_common_sky"), keys),
        "sky_words": report.sky_words(classes, summarise.reference_sky(tables.read_table(args.means, "segment_means"))),
        "differences": report.differences_table(table["differences"], surfaces), "pairs_words": report.pairs_words(table["differences"]),
        "balance": report.values_table(classes, [("surface", names)], report.BALANCE, keys), "balance_alt": report.balance_words(classes, surfaces),
        "budget": report.budget_table(table["uncertainty_budget"], surfaces), "linear_words": report.linear_words(tables.read_table(args.linear, "linear_check")),
        "checks": report.findings_table(checks), "equations": report.equations(tables.read_config_table(args.equations)), "quantities": quantities,
        "classes": report.classes_table(surfaces, used, settings["ground_heat"]),
        "versions": report.words_table(("", ""), [("Headland", settings["version"]), ("Python", platform.python_version()), *((name, version(name)) for name in LIBRARIES)]),
        "inputs": report.words_table(("file", "bytes", "SHA-256"), settings["inputs"], numeric=(1,)),
    }
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters["breakable"] = report.breakable
    tables.write_text(args.page, environment.from_string(args.template.read_text(encoding="utf-8")).render(context) + "\n")
    step.say(f"{len(figures)} figures, {len(checks)} findings")


if __name__ == "__main__":
    main()

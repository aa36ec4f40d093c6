"""Step 8: the interval of every number; writes the tables that users get."""

from headland.chain import propagate
from headland.files import step, tables, user_tables
from headland.files.config_tables import config_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms

MEANS = {"segments": "segment_means", "fields": "group_means", "surfaces": "group_means"}
BALANCES = {
    "visits_balance": "visit_balance",
    "visits_estimated": "visit_balance",
    "measured_fluxes": "measured_fluxes",
    "fields_balance": "group_balance",
    "surfaces_balance": "group_balance",
}
SAME = (
    "segments",
    "fields",
    "surfaces",
    "measured_visits",
    "measured",
    "differences",
    "intercomparison",
    "clouds",
)
MADE = {
    **dict(zip(SAME, SAME, strict=True)),
    "visits": "visits",
    "budget": "uncertainty_budget",
    "linear": "linear_check",
}


def main() -> None:
    means = [f"{name}_means" for name in MEANS]
    args = step.arguments(
        one=("classes", "terms", "course", *means, *BALANCES, *MADE, "findings"),
        many=("certificates", "weather"),
    )
    made = propagate.run(
        {name: tables.read_table(getattr(args, f"{name}_means"), kind) for name, kind in MEANS.items()},
        {name: tables.read_table(getattr(args, name), kind) for name, kind in BALANCES.items()},
        args.settings,
        certificates=step.together(args.certificates, "certificates"),
        surfaces=surface_classes(args.classes, args.settings["overrides"]),
        terms=uncertainty_terms(args.terms),
        course=config_rows(args.course),
        air=user_tables.read_weather(args.weather)[0],
    )
    step.write(args, made, MADE)


if __name__ == "__main__":
    step.run(main)

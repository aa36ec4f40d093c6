"""The tables and the picture of docs/performance.md."""

from __future__ import annotations

import json
from pathlib import Path

from bench.timing import FIGURES


def page(kept: Path) -> str:
    """The tables of docs/performance.md."""
    lines = ["| figure | ratio | target | ours, s | other, s | more |", "|---|---|---|---|---|---|"]
    rows = json.loads(kept.read_text(encoding="utf-8"))
    for name, row in rows.items():
        more = ", ".join(
            f"{key.replace('_', ' ')} {value:.3g}"
            if isinstance(value, float)
            else f"{key.replace('_', ' ')} {value}"
            for key, value in row.items()
            if key not in ("ratio", "ours_s", "other_s", "date", "machine", "sizes") and value != []
        )
        words, target, _ = FIGURES[name]
        seconds = [f"{row[key]:.3g}" if key in row else "" for key in ("ours_s", "other_s")]
        lines.append(f"| {words} | {row['ratio']:.3g} | {target:g} | {seconds[0]} | {seconds[1]} | {more} |")
    sizes = [
        "| size | samples, millions | wall, s | memory of the largest process, MB | in, MB | out, MB |",
        "|---|---|---|---|---|---|",
    ]
    sizes += [
        f"| {size['what']} | {size['samples'] / 1e6:.2f} | {size['wall_s']:.0f} | {size['memory_mb']:.0f} "
        f"| {size['in_mb']:.0f} | {size['out_mb']:.0f} |"
        for row in rows.values()
        for size in row.get("sizes", [])
    ]
    return "\n".join(
        [
            *lines,
            "",
            *dict.fromkeys(f"{row['date']}, {row['machine']}." for row in rows.values()),
            "",
            *sizes,
            "",
        ]
    )


def picture(kept: Path, out: Path) -> None:
    """The picture of docs/performance.md: wall time, memory and disk against the number of samples."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    from headland.report import figures

    rows = json.loads(kept.read_text(encoding="utf-8"))
    with rc_context(figures.STYLE):
        drawn = Figure(figsize=(7.0, 2.6), layout="constrained")
        for ax, (key, title) in zip(
            drawn.subplots(1, 3),
            (
                ("wall_s", "wall time, s"),
                ("memory_mb", "memory of the largest process, MB"),
                ("out_mb", "results on disk, MB"),
            ),
            strict=True,
        ):
            for (name, label), marker in zip(
                (
                    ("season_over_half", "campaigns of four hours"),
                    ("days_doubled", "days at 1 Hz"),
                    ("rate_doubled", "a day at 1 to 10 Hz"),
                ),
                "os^",
                strict=True,
            ):
                sizes = rows.get(name, {}).get("sizes", [])
                ax.plot(
                    [size["samples"] / 1e6 for size in sizes],
                    [size[key] for size in sizes],
                    marker=marker,
                    markersize=4,
                    label=label,
                )
            ax.set(xlabel="samples, millions", title=title, xlim=(0, None), ylim=(0, None))
        drawn.axes[2].legend(loc="lower right")
        drawn.savefig(out, dpi=160, metadata={"Software": None})

"""A campaign folder as tables and texts, written and read back."""

from dataclasses import dataclass, field
from pathlib import Path as FilePath

import pandas as pd
import yaml


class Quoted(str):
    """A text that YAML must show in quotes, because it looks like a time."""


def quoted(value: object) -> object:
    """Return settings with all texts that hold a colon or begin with a plus marked to be quoted."""
    if isinstance(value, dict):
        return {key: quoted(item) for key, item in value.items()}
    if isinstance(value, list):
        return [quoted(item) for item in value]
    if isinstance(value, str) and (":" in value or value[:1] in "+-."):
        return Quoted(value)
    return value


def show_quoted(dumper: yaml.SafeDumper, value: Quoted) -> yaml.Node:
    """Show a text in double quotes."""
    return dumper.represent_scalar("tag:yaml.org,2002:str", str(value), style='"')


yaml.SafeDumper.add_representer(Quoted, show_quoted)


@dataclass
class Tables:
    """All that a campaign folder holds; files are (text, encoding) by their place in the folder."""

    campaign: dict
    register: pd.DataFrame
    notes: pd.DataFrame
    weather: pd.DataFrame | None
    station: pd.DataFrame | None
    files: dict[str, tuple[str, str]] = field(default_factory=dict)
    touched: bool = False  # by a mistake in a file, which measuring once more would undo

    def write(self, folder: str | FilePath) -> FilePath:
        """Write everything into a folder and return it."""
        folder = FilePath(folder)
        (folder / "logger").mkdir(parents=True, exist_ok=True)
        text = yaml.safe_dump(quoted(self.campaign), sort_keys=False, allow_unicode=True)
        (folder / "campaign.yaml").write_text(text, encoding="utf-8")
        frames = {
            "instruments": self.register,
            "notes": self.notes,
            "weather": self.weather,
            "station": self.station,
        }
        for name, table in frames.items():
            if table is not None:
                table.to_csv(folder / f"{name}.csv", index=False, lineterminator="\n")
        for place, (content, encoding) in self.files.items():
            (folder / place).write_bytes(content.encode(encoding))
        return folder

    @staticmethod
    def read(folder: str | FilePath) -> "Tables":
        """Read a folder that `write` made."""
        folder = FilePath(folder)
        campaign = yaml.safe_load((folder / "campaign.yaml").read_text(encoding="utf-8"))
        frames = {}
        for name in ("instruments", "notes", "weather", "station"):
            path = folder / f"{name}.csv"
            frames[name] = pd.read_csv(path, dtype=str, keep_default_na=False) if path.exists() else None
        files = {}
        for path in sorted((folder / "logger").iterdir()):
            set_name = path.stem.rsplit("_", 1)[0]
            layout = campaign["sets"].get(set_name, {}).get("layout", "")
            encoding = layout.get("encoding", "utf-8") if isinstance(layout, dict) else "utf-8"
            files[f"logger/{path.name}"] = (path.read_bytes().decode(encoding), encoding)
        return Tables(
            campaign, frames["instruments"], frames["notes"], frames["weather"], frames["station"], files
        )

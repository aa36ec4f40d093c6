"""A campaign folder as tables and texts, written and read back."""

from dataclasses import dataclass, field
from pathlib import Path as FilePath

import pandas as pd
import yaml


@dataclass
class Tables:
    """All that a campaign folder holds; files are (text, encoding) by their place in the folder."""

    campaign: dict
    register: pd.DataFrame
    notes: pd.DataFrame
    weather: pd.DataFrame | None
    station: pd.DataFrame | None
    files: dict[str, tuple[str, str]] = field(default_factory=dict)

    def write(self, folder: str | FilePath) -> FilePath:
        """Write everything into a folder and return it."""
        folder = FilePath(folder)
        (folder / "logger").mkdir(parents=True, exist_ok=True)
        text = yaml.safe_dump(self.campaign, sort_keys=False, allow_unicode=True)
        (folder / "campaign.yaml").write_text(text, encoding="utf-8")
        frames = {"instruments": self.register, "notes": self.notes, "weather": self.weather, "station": self.station}
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

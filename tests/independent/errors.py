"""The errors of chapter 8 of docs/method.md: one random number for all that share it.

Plain random numbers of one generator, in the order in which they are asked for; no strata, no control
variate. `Middles` asks for the same errors at the middle of each range: that is the value.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from independent.recorded import rows


class Sizes:
    """config/uncertainty.csv and config/surfaces.csv."""

    def __init__(self, config: Path) -> None:
        self.terms = {row["term"]: row for row in rows(config / "uncertainty.csv")}
        self.classes = {
            (row["surface"], row["property"]): row for row in rows(config / "surfaces.csv") if row["low"]
        }
        self.course = {row["quantity"]: row for row in rows(config / "course.csv")}
        of_classes = rows(config / "surfaces.csv")
        self.liveliness = {
            row["surface"]: float(row["value"]) for row in of_classes if row["property"] == "course"
        }
        self.covered = {row["surface"] for row in of_classes if row["property"] == "leaf_area_index"}

    def ends(self, term: str, grade: str = "") -> tuple[float, float]:
        row = self.terms[term]
        limit = float(row[f"class_{grade}"]) if grade and row[f"class_{grade}"] else 1.0
        return float(row["low"]) * limit, float(row["high"]) * limit

    def sigma(self, term: str) -> float:
        return float(self.terms[term]["sigma"])

    def of_class(self, surface: str, name: str) -> tuple[float, float, float]:
        row = self.classes[surface, name]
        return float(row["value"]), float(row["low"]), float(row["high"])


class Draws:
    """Errors by chance, `count` of each; equal names give the same error."""

    def __init__(self, count: int, seed: int) -> None:
        self.count, self.rng = count, np.random.default_rng(seed)
        self.known: dict[tuple, np.ndarray] = {}

    def normal(self, *name: object) -> np.ndarray:
        if name not in self.known:
            self.known[name] = self.rng.standard_normal(self.count)
        return self.known[name]

    def student(self, freedom: float, *name: object) -> np.ndarray:
        if name not in self.known:
            self.known[name] = self.rng.standard_t(freedom, self.count)
        return self.known[name]

    def between(self, ends: tuple[float, float], *name: object) -> np.ndarray:
        if name not in self.known:
            self.known[name] = self.rng.uniform(ends[0], ends[1], self.count)
        return self.known[name]

    def of_range(self, row: tuple[float, float, float], *name: object) -> np.ndarray:
        """A property of a surface class, anywhere in its range."""
        return self.between(row[1:], *name)

    def smooth(self, correlation: np.ndarray, name: str) -> np.ndarray:
        """Normal errors that go together, times one rectangular amplitude; a row for each segment, of the
        standard deviation of a rectangle from −1 to 1."""
        if (name,) not in self.known:
            values, vectors = np.linalg.eigh(correlation)
            root = vectors * np.sqrt(np.clip(values, 0, None))
            normal = root @ self.rng.standard_normal((len(correlation), self.count))
            self.known[name,] = normal * self.rng.uniform(-1.0, 1.0, self.count)
        return self.known[name,]


class Middles(Draws):
    """Every error at the middle of its range, which is 0 for most; a class at its own value."""

    def __init__(self, *, known_effects: bool = True) -> None:
        self.count, self.known_effects = 1, known_effects

    def normal(self, *name: object) -> np.ndarray:
        return np.zeros(1)

    def student(self, freedom: float, *name: object) -> np.ndarray:
        return np.zeros(1)

    def between(self, ends: tuple[float, float], *name: object) -> np.ndarray:
        return np.array([(ends[0] + ends[1]) / 2])

    def of_range(self, row: tuple[float, float, float], *name: object) -> np.ndarray:
        return np.array([row[0]])

    def smooth(self, correlation: np.ndarray, name: str) -> np.ndarray:
        return np.zeros((len(correlation), 1))

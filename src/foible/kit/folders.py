"""Foible's own kit folder and any overlays in; for each name, the file that counts out."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TypeVar

from pydantic import BaseModel

from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.tomlfile import line_of, read_model, read_table, toml_lines

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["KitFolders", "Read", "kit_stamp", "overlaid_file"]

Model = TypeVar("Model", bound=BaseModel)


@dataclass(frozen=True)
class Read(Generic[Model]):
    """A file that was read, which can point at its lines."""

    path: Path
    data: Model

    def problem(self, where: tuple[str | int, ...], seen: str, remedy: str) -> Problem:
        """Return a problem located at `where` in this file."""
        _, text = read_table(self.path)
        return Problem(str(self.path), line_of(toml_lines(text), where), seen, remedy)


_KINDS = {"setups": "weapon", "items": "item file"}
"""What the names of a group are called in a message."""


class KitFolders:
    """Foible's own kit folder and any number laid over it; of two files with one name the later folder's counts."""

    def __init__(self, overlays: Sequence[Path] = ()) -> None:
        for folder in overlays:
            if not folder.is_dir():
                problem = Problem(str(folder), None, "there is no such folder", "give a folder with kit files")
                raise ProblemsError([problem])
        self.folders = (Path(str(files("foible.kit") / "data")), *overlays)

    def stamp(self) -> tuple[tuple[str, int, int], ...]:
        """Return a value that changes when an overlay file does: path, time [ns] and size of each."""
        paths = [path for folder in self.folders[1:] for path in sorted(folder.rglob("*.toml")) if path.is_file()]
        return tuple((str(path), path.stat().st_mtime_ns, path.stat().st_size) for path in paths)

    def read(self, model: type[Model], group: str, name: str) -> Read[Model]:
        """Return `group/name.toml`, or `name.toml` where `group` is empty. Raises UnknownNameError where there is none."""
        if name not in self.names(group):
            raise UnknownNameError(what=_KINDS.get(group, group.removesuffix("s") or "file"), name=name, known=self.names(group))
        path = next(path for folder in reversed(self.folders) if (path := folder / group / f"{name}.toml").is_file())
        return Read(path, read_model(model, path))

    def names(self, group: str) -> list[str]:
        """Return the names of the files of a group."""
        return sorted({path.stem for folder in self.folders for path in (folder / group).glob("*.toml")})

    def every(self, model: type[Model], group: str) -> list[Read[Model]]:
        """Return all files of a group, folder by folder."""
        return [
            Read(path, read_model(model, path)) for folder in self.folders for path in sorted((folder / group).glob("*.toml"))
        ]


def kit_stamp(overlays: Sequence[Path]) -> tuple[tuple[str, int, int], ...]:
    """Return a value that changes when a file of these folders does, for caches to compare."""
    return KitFolders(overlays).stamp()


def overlaid_file(shipped: Path, group: str, name: str, overlays: Sequence[Path]) -> Path:
    """Return the path of `group/name.toml` in the last overlay that has one, else in the `shipped` folder."""
    own = (folder / group / f"{name}.toml" for folder in reversed(overlays))
    return next((path for path in own if path.is_file()), shipped / group / f"{name}.toml")

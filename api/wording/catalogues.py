"""Where the translations lie, and whether the files that the service reads are as new as those that people write."""

from collections.abc import Iterator
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[1] / "locale"


def catalogues() -> Iterator[tuple[str, Path]]:
    """The language of each catalogue with its file."""
    for path in sorted(FOLDER.glob("*/LC_MESSAGES/django.po")):
        yield path.parts[-3], path


def uncompiled() -> list[Path]:
    return [path for _, path in catalogues() if not _is_compiled(path)]


def _is_compiled(path: Path) -> bool:
    compiled = path.with_suffix(".mo")
    return compiled.exists() and compiled.stat().st_mtime > path.stat().st_mtime

"""The directions in which modules may import each other, as pyproject.toml states them."""

from pathlib import Path

from importlinter.cli import lint_imports


def test_imports_keep_their_direction() -> None:
    config = Path(__file__).parents[1] / "pyproject.toml"
    assert lint_imports(config_filename=str(config)) == 0

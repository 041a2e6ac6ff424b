"""What every test may use: the open data kept beside the checkout, where it is there."""

from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def checkout() -> Path:
    """The folder that holds pyproject.toml."""
    return CHECKOUT


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """The folder of open data and schemas; a test that needs it is skipped where it is absent."""
    folder = CHECKOUT.parent / "shared" / "data"
    if not folder.is_dir():
        pytest.skip("open data is not beside this checkout")
    return folder

"""What every test may use: the open data kept beside the checkout, where it is there."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

# A loaded machine is no defect; and where a run decides about landing, it finds the same examples each time.
settings.register_profile("calm", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("calm")

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

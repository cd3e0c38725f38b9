"""Fixtures of the tests of the archive."""

from __future__ import annotations

import pytest
from sample_gallery import Samples, hang_samples


@pytest.fixture(scope="session")
def samples() -> Samples:
    """All samples, hung to be matched with; read once."""
    return hang_samples()

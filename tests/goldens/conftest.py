"""The helpers beside these tests, importable under the suite's import mode."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

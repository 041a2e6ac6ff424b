"""Lets `python -m pipeline` run the same program as `fretscene`."""

import sys

from pipeline.cli import main

sys.exit(main())

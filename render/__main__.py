"""Run the command line: ``python -m render``."""

import sys

from render.cli import main

sys.exit(main())

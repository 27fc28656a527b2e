"""Run the command line: ``python -m render``."""

import sys

from render.cli.entry import main

sys.exit(main())

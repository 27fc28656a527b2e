"""Run the command line: ``python -m render``."""

import sys

from render.entry import main

sys.exit(main())

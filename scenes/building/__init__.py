"""From a design to its wrap: every layer laid on the blank, in bench order."""

"""``python -m trainer`` is the command ``stemline``."""

import sys

from trainer.cli import main

if __name__ == "__main__":
    sys.exit(main())

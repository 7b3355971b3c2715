"""`python -m trajplan`."""

import sys

from trajplan.cli import main

sys.exit(main())

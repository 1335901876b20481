"""python -m barwright_client."""

import sys

from barwright_client.command import main

sys.exit(main())

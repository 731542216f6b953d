"""The site's settings as tests run them: in debug, whatever the shell says, and so do the processes they start."""

import os

os.environ["ARCHWRIGHT_DEBUG"] = "1"

from studio.settings import *  # noqa: F403

"""The commands."""

import gc

gc.set_threshold(200_000, 20, 100)  # a command is short: looking for circles among what it loads took a twentieth

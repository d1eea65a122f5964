"""The presentation layer: sentences, charts, PDF, terminal and screens."""

import os

# Matrices here are small, and the library's own threads stand in one another's way where a server's or a job's do the
# work: on two cores twenty phones waited twice as long. It is read when numpy is loaded, so it stands before all else.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

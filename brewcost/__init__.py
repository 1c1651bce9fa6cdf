"""brewcost: what a brewery's beer cost, where its volume went and what is owed on it, from its own records."""

import os

# The statistics solve many small systems; threads of the linear algebra would wait for one another over each.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"

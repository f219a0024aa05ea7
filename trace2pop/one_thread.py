"""One thread for linear algebra: imported before numpy, whose libraries read this once.

A card's systems are small. On a busy machine threads that wait for each other cost more than they
give, and sums in another order would end in other last digits.
"""

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

"""Makes `tests` this project's own package: some libraries install one of the same name."""

import os

# many small matrices: on few and busy cores several BLAS threads take three to ten times as long as one
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

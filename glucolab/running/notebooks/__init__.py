"""How does a notebook become a page? Kernels, jobs, pages, and which need not be made again."""

"""Which column is what? The mapping of a foreign table, and its cells as rows of the contract."""

"""What is new? Rows that were brought, set beside those that a wear's table holds."""
